from __future__ import annotations

from django.apps import AppConfig


class RatingsConfig(AppConfig):
    name = "ratings"
    verbose_name = "Ratings"
