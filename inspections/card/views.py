from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.text import slugify

from fleet.context import system_of
from fleet.models import SuppressorHousing
from inspections.card.facts import KIND, NoCard, read_card
from ratings.record.giving import send_paper
from ratings.rerating.telling import BEING_RATED, that_rate


def stretch_card(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Print the stretch card of a unit; one that must not hang on it is refused, with why.

    So is one of a unit that is rated again at this moment, for a card outlasts that.
    """
    # Imported on need: the site must not wait for the PDF library at start.
    from inspections.card.paper import TooLong, page_of, stretch_card_pdf

    housing = get_object_or_404(SuppressorHousing.objects.select_related("yard"), pk=housing_id)
    system = system_of(request)
    # Asked before the card is read: where it ends between, the card tells of what came of it.
    is_rated_again = bool(that_rate(housing))
    try:
        card = read_card(housing)
        page_of(card, system)
    except (NoCard, TooLong) as refusal:
        reasons = refusal.reasons if isinstance(refusal, NoCard) else [str(refusal)]
        context = {"section": "board", "housing": housing, "reasons": reasons}
        return render(request, "card/no_card.html", context, status=409)
    if is_rated_again:
        context = {"section": "board", "housing": housing, "again": BEING_RATED.format("card")}
        return render(request, "card/no_card.html", context, status=409)
    return send_paper(
        request,
        KIND,
        housing.pk,
        f"stretch-card-{slugify(housing.mark) or housing.pk}.pdf",
        lambda stamp: stretch_card_pdf(card, system, stamp),
    )
