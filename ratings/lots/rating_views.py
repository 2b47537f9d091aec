from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.safestring import SafeString
from django.views.decorators.http import require_POST

from fleet.context import system_of
from fleet.models import LongWork
from fleet.roles import manager_required, managers_but, signed_in, who_words
from fleet.tables import table_of
from ratings.ledger.facts import lot_rate
from ratings.ledger.posting import Cause
from ratings.lot_pools import stored_rate_if_marked
from ratings.lots.comparison import compare, curves, units_that_hold
from ratings.lots.doubts import (
    TestBehind,
    doubts_mark,
    doubts_of,
    implausible_of,
    pool_doubts,
    tests_behind,
)
from ratings.lots.forms import ApprovalForm, RejectionForm, WithdrawalForm
from ratings.lots.recording import approve_rating, reject_rating, withdraw_rating
from ratings.lots.tables import CausedEntryTable, EffectTable
from ratings.mechanics.unit_rating import Policy
from ratings.mechanics.what_if import example_unit, prices
from ratings.models import LedgerEntry, LotRating, RatingPolicy, RatingState
from ratings.models.policy import policy_in_force
from ratings.pictures import curve_graphs, load_graphs
from ratings.proposals.acts import SecondPersonNeeded
from ratings.proposals.views import may_propose
from ratings.rerating.long_work import record_or_begin
from ratings.surveillance.words import softenings


def lot_rating(request: HttpRequest, rating_id: int) -> HttpResponse:
    """Show one rating of a lot: its figures, the tests behind it, and where it counts."""
    return _page(request, _found(rating_id))


@manager_required
@require_POST
def approve(request: HttpRequest, rating_id: int) -> HttpResponse:
    """Approve a draft; every unit that holds the lot is rated by it at once."""
    rating = _found(rating_id)
    form = ApprovalForm(request.POST, auto_id=APPROVAL_ID)
    if form.is_valid():
        try:
            entries = record_or_begin(
                approve_rating,
                {"rating": rating, "system": system_of(request), **form.cleaned_data},
                by=signed_in(request),
                title=f"Approval of rating {rating.pk} of lot {rating.lot}",
                about=rating,
                page=reverse("lot-rating", args=[rating.pk]),
                form=form,
                system=system_of(request),
            )
        except ValidationError as trouble:
            form.add_error(None, trouble)
            # The word that they are read is given anew.
            given_anew = ("has_read_doubts", "accepts_implausible")
            form.data = {name: form.data[name] for name in form.data if name not in given_anew}
        else:
            if isinstance(entries, LongWork):
                return redirect("rerating", entries.pk)
            messages.success(
                request,
                f"Rating {rating.pk} is approved; {len(entries)} ledger "
                f"{'entry' if len(entries) == 1 else 'entries'} posted.",
            )
            return redirect("lot-rating", rating.pk)
    return _page(request, rating, approval=form)


@manager_required
@require_POST
def reject(request: HttpRequest, rating_id: int) -> HttpResponse:
    """Reject a draft with a reason; it can be approved no more."""
    rating = _found(rating_id)
    form = RejectionForm(request.POST)
    if form.is_valid():
        try:
            reject_rating(rating=rating, by=signed_in(request), **form.cleaned_data)
        except ValidationError as trouble:
            form.add_error(None, trouble)
        else:
            messages.warning(request, f"Rating {rating.pk} is rejected: it can rate no unit.")
            return redirect("lot-rating", rating.pk)
    return _page(request, rating, rejection=form)


@manager_required
@may_propose
@require_POST
def withdraw(request: HttpRequest, rating_id: int) -> HttpResponse:
    """Withdraw an approved rating; every unit that holds the lot is rated without it at once."""
    rating = _found(rating_id)
    form = WithdrawalForm(request.POST)
    if form.is_valid():
        try:
            entries = record_or_begin(
                withdraw_rating,
                {"rating": rating, **form.cleaned_data},
                by=signed_in(request),
                title=f"Withdrawal of rating {rating.pk} of lot {rating.lot}",
                about=rating,
                page=reverse("lot-rating", args=[rating.pk]),
                form=form,
                system=system_of(request),
            )
        except SecondPersonNeeded:
            raise
        except ValidationError as trouble:
            form.add_error(None, trouble)
        else:
            if isinstance(entries, LongWork):
                return redirect("rerating", entries.pk)
            messages.warning(
                request,
                f"Rating {rating.pk} is withdrawn; {len(entries)} ledger "
                f"{'entry' if len(entries) == 1 else 'entries'} posted.",
            )
            return redirect("lot-rating", rating.pk)
    return _page(request, rating, withdrawal=form)


# Of the newest tests; more would weigh on the page, and each has its own.
GRAPHS_DRAWN = 12
# Of an approval's fields: the form of a rejection stands on the same page.
APPROVAL_ID = "approve-%s"


def _found(rating_id: int) -> LotRating:
    return get_object_or_404(
        LotRating.objects.with_state().select_related(
            "lot",
            "recorded_by",
            "approval__recorded_by",
            "withdrawal__recorded_by",
            "rejection__recorded_by",
        ),
        pk=rating_id,
    )


def _page(
    request: HttpRequest,
    rating: LotRating,
    *,
    approval: ApprovalForm | None = None,
    rejection: RejectionForm | None = None,
    withdrawal: WithdrawalForm | None = None,
) -> HttpResponse:
    causes = (Cause.LOT_RATED, Cause.RATE_WITHDRAWN)
    entries = LedgerEntry.objects.filter(cause__in=causes, cause_record=rating.pk)
    tests = tests_behind(rating, system_of(request))
    doubts = doubts_of(rating, tests)
    policy = policy_in_force(RatingPolicy.objects.first())
    waits = rating.state == RatingState.DRAFT
    return render(
        request,
        "lots/lot_rating.html",
        {
            "section": "lots",
            "rating": rating,
            "limit_pct": policy.linearity_limit_pct,
            "waits": waits,
            "tests": [
                (each, _graphs(each, policy) if place < GRAPHS_DRAWN else None)
                for place, each in enumerate(reversed(tests))
            ],
            "doubts": doubts,
            "doubts_mark": doubts_mark(doubts),
            "implausible": implausible_of(tests),
            "pool_doubts": pool_doubts(rating),
            "softenings": softenings([rating.lot_id]),
            **(_comparison(request, rating, policy) if waits else {}),
            "approval": approval or ApprovalForm(auto_id=APPROVAL_ID),
            "rejection": rejection or RejectionForm(),
            "withdrawal": withdrawal or WithdrawalForm(),
            "drafted_it": rating.recorded_by_id == signed_in(request).pk,
            "approvers": [who_words(each) for each in managers_but(rating.recorded_by)],
            "table": table_of(request, CausedEntryTable, entries.select_related("housing")),
        },
    )


def _graphs(each: TestBehind, policy: Policy) -> dict[str, SafeString]:
    return load_graphs(each.graph_figures(policy), each.graph_title)


def _comparison(request: HttpRequest, draft: LotRating, policy: Policy) -> dict[str, Any]:
    """Return what a draft looks like beside the rating in force, and what it would do."""
    system = system_of(request)
    in_force = LotRating.objects.in_force_by_lot([draft.lot_id]).get(draft.lot_id)
    title = f"Load curve of lot {draft.lot.mark}"
    rate = lot_rate(draft, policy)
    marked = stored_rate_if_marked(draft, rate)
    return {
        "in_force": in_force,
        "prices": prices(example_unit(rate, policy), [marked] if marked else []),
        "rows": compare(draft, in_force, policy, system),
        "curves": curve_graphs(curves(draft, in_force, policy, system), title),
        "effects": table_of(request, EffectTable, units_that_hold(draft), draft=draft),
    }
