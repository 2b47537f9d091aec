"""Findings nobody has closed yet; correcting the count of an inspection closes none of its own."""

from __future__ import annotations

from django.db.models import Case, IntegerField, QuerySet, Value, When

from inspections.models import Finding, Severity

_GRAVEST_FIRST = Case(
    *(
        When(severity=severity, then=Value(place))
        for place, severity in enumerate((Severity.STOP, Severity.MEND, Severity.NOTE))
    ),
    output_field=IntegerField(),
)


def open_findings() -> QuerySet[Finding]:
    """Return them, the gravest first, of each kind those to be acted on first."""
    return (
        Finding.objects.filter(closing__isnull=True)
        .select_related("housing", "inspection__recorded_by")
        .prefetch_related("photos__held")
        .order_by(_GRAVEST_FIRST, "act_by", "pk")
    )
