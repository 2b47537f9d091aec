"""All that is on record, row by row, so that a test can say that nothing of it changed."""

from __future__ import annotations

from typing import Any

from django.apps import apps

RECORDS = ("fleet", "ratings", "inspections")


def everything() -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table of the project."""
    return {
        model._meta.label: list(model._default_manager.order_by("pk").values_list())
        for app in RECORDS
        for model in apps.get_app_config(app).get_models()
    }


def changed(before: dict[str, list[tuple[Any, ...]]]) -> set[str]:
    """The tables that differ from what they held before."""
    now = everything()
    return {label for label, rows in before.items() if rows != now[label]}
