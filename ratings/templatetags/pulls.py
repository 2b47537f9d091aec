"""Tags that show the pulls of a job or a commitment on pages that know nothing of pulls."""

from __future__ import annotations

from typing import Any

from django import template

from fleet.tables import table_of
from ratings.models import Commitment, ExtractionJob, PullRecord
from ratings.pulls.tables import JobPullTable

register = template.Library()


@register.inclusion_tag("fleet/headed_table.html", takes_context=True)
def pulls_of_job(context: dict[str, Any], job: ExtractionJob) -> dict[str, Any]:
    """Show the pulls of a job under a heading."""
    return _table(context, commitment__job=job)


@register.inclusion_tag("fleet/headed_table.html", takes_context=True)
def pulls_of_commitment(context: dict[str, Any], commitment: Commitment) -> dict[str, Any]:
    """Show the pulls of a commitment under a heading."""
    return _table(context, commitment=commitment)


def _table(context: dict[str, Any], **narrowed: Any) -> dict[str, Any]:
    request = context["request"]
    rows = PullRecord.objects.with_all().filter(**narrowed)
    return {"table": table_of(request, JobPullTable, rows), "request": request}
