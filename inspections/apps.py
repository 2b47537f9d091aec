from __future__ import annotations

from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "inspections"
    verbose_name = "Inspections"

    def ready(self) -> None:
        # A part of verifying that only this app knows how to look at.
        from fleet.long_work.acts import register
        from inspections.count import derived  # noqa: F401

        register("history", "inspections.history.runs")
        register("export", "inspections.exchange.long_export")
        register("register", "inspections.exchange.long_register", holds_up=True)
        register("sheet", "inspections.sheets.long_work", holds_up=True)
