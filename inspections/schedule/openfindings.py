"""Findings nobody has closed yet."""

from __future__ import annotations

from django.db.models import QuerySet

from inspections.models import Finding


def open_findings() -> QuerySet[Finding]:
    """Return them, those to be acted on first come first."""
    return (
        Finding.objects.filter(closing__isnull=True, inspection__corrected_by__isnull=True)
        .select_related("housing", "inspection__recorded_by")
        .prefetch_related("photos__held")
        .order_by("act_by", "pk")
    )
