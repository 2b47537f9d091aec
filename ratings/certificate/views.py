from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404

from fleet.context import system_of
from ratings.certificate.facts import KIND
from ratings.models import LotRating
from ratings.record.giving import send_paper


def certificate(request: HttpRequest, rating_id: int) -> HttpResponse:
    """Print the certificate of a lot rating."""
    # Imported on need: the site must not wait for the PDF library at start.
    from ratings.certificate.paper import certificate_pdf

    rating = get_object_or_404(
        LotRating.objects.with_state().select_related(
            "lot",
            "recorded_by",
            "approval__recorded_by",
            "withdrawal__recorded_by",
            "rejection__recorded_by",
        ),
        pk=rating_id,
    )
    return send_paper(
        request,
        KIND,
        rating.pk,
        f"rating-{rating.pk}.pdf",
        lambda stamp: certificate_pdf(rating, system_of(request), stamp),
    )
