from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.text import slugify

from fleet.context import system_of
from fleet.models import SuppressorHousing
from fleet.roles import signed_in, who_words
from inspections.history.facts import read_history


def history_report(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Print the history of a unit."""
    # Imported on need: the site must not wait for the PDF library at start.
    from inspections.history.report import history_pdf
    from ratings.record.attaching import with_proof

    housing = get_object_or_404(SuppressorHousing.objects.select_related("yard"), pk=housing_id)
    user = signed_in(request)
    history = read_history(
        housing,
        printed_at=timezone.now(),
        printed_by=who_words(user),
        system=system_of(request),
    )
    name = f"history-{slugify(housing.mark) or housing.pk}.pdf"
    return HttpResponse(
        with_proof(history_pdf(history), history.head),
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"'},
    )
