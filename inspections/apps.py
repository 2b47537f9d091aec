from __future__ import annotations

from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "inspections"
    verbose_name = "Inspections"
