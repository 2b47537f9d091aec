from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.models import User
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.context import system_of
from fleet.models import PadLot, StockMove
from fleet.roles import manager_required, signed_in
from fleet.stock import NotEnoughInStock, count_shelf, move_stock
from fleet.whereabouts import whereabouts
from ratings.forms.lots import LotForm, StockForm, WantedGainForm
from ratings.freshness import staleness
from ratings.ledger.facts import current_lot_ratings, waiting_drafts
from ratings.models import RatingPolicy
from ratings.outlook import one_pad_outlook
from ratings.policy import policy_in_force


def lots(request: HttpRequest) -> HttpResponse:
    """Show every lot: stock, where its pads are, and its rating."""
    rows = list(
        PadLot.objects.annotate(
            fitted=Count("positions"),
            sound=Count("positions", filter=Q(positions__condition="sound")),
        )
    )
    ratings = current_lot_ratings(lot.pk for lot in rows)
    # The last of a lot is written last, and so stays.
    drafts = {draft.lot_id: draft for draft in waiting_drafts()}
    return render(
        request,
        "ratings/lots.html",
        {
            "section": "lots",
            "rows": [(lot, ratings.get(lot.pk), drafts.get(lot.pk)) for lot in rows],
            "limit_pct": policy_in_force(RatingPolicy.objects.first()).linearity_limit_pct,
            "today": timezone.localdate(),
        },
    )


def lot(request: HttpRequest, lot_id: int) -> HttpResponse:
    """Show one lot: its tests, its stock moves, and every housing that holds it."""
    found = get_object_or_404(PadLot, pk=lot_id)
    wanted = WantedGainForm(
        request.GET if "gain" in request.GET else None, system=system_of(request)
    )
    rating = current_lot_ratings([found.pk]).get(found.pk)
    policy = policy_in_force(RatingPolicy.objects.first())
    return render(
        request,
        "ratings/lot.html",
        {
            "section": "lots",
            "lot": found,
            "rating": rating,
            "limit_pct": policy.linearity_limit_pct,
            "spread_pct": policy.pad_spread_pct,
            "stale": staleness(rating, policy, timezone.now()) if rating else "",
            "outlook": one_pad_outlook(found, _wanted_gain(wanted)),
            "wanted": wanted,
            "ratings": found.ratings.select_related("approval", "withdrawal"),
            "tests": found.bench_tests.select_related("stand", "recorded_by", "corrected_by"),
            "moves": found.moves.select_related("recorded_by", "yard"),
            "whereabouts": whereabouts(found),
            "today": timezone.localdate(),
        },
    )


def _wanted_gain(form: WantedGainForm) -> float | None:
    return form.cleaned_data["gain"] if form.is_bound and form.is_valid() else None


@manager_required
def new_lot(request: HttpRequest) -> HttpResponse:
    """Enter a lot. It is unrated until a bench test of it is on record."""
    form = LotForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        entered = form.save()
        messages.success(
            request, f"Lot {entered} is on record. It counts for nothing until it is bench-tested."
        )
        return redirect("lot", entered.pk)
    return render(request, "ratings/lot_form.html", {"section": "lots", "form": form})


@manager_required
def stock(request: HttpRequest, lot_id: int) -> HttpResponse:
    """Record pads that came to the shelf or left it."""
    found = get_object_or_404(PadLot, pk=lot_id)
    data = request.POST if request.method == "POST" else None
    form = StockForm(data, lot=found, system=system_of(request))
    if request.method == "POST" and form.is_valid():
        try:
            _record(found, form.cleaned_data, signed_in(request))
        except NotEnoughInStock as trouble:
            form.add_error("pads", trouble)
        else:
            found.refresh_from_db()
            messages.success(request, f"Lot {found} now has {found.in_stock} in stock.")
            return redirect("lot", found.pk)
    return render(
        request, "ratings/stock_form.html", {"section": "lots", "lot": found, "form": form}
    )


def _record(lot: PadLot, cleaned: dict[str, Any], by: User) -> None:
    kind, pads = cleaned["kind"], cleaned["pads"]
    names = ("occurred_at", "note", "submission_id", "yard")
    common: dict[str, Any] = {"lot_id": lot.pk, "by": by} | {name: cleaned[name] for name in names}
    if kind == StockMove.Kind.COUNTED:
        count_shelf(pads=pads, **common)
    else:
        change = pads if kind == StockMove.Kind.RECEIVED else -pads
        move_stock(kind=kind, change=change, **common)
