from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from fleet.roles import manager_required, signed_in
from fleet.tables import table_of
from ratings.bench.reduction import reduce_test
from ratings.ledger.posting import Cause
from ratings.lots.forms import ApprovalForm, WithdrawalForm
from ratings.lots.recording import approve_rating, withdraw_rating
from ratings.lots.tables import CausedEntryTable
from ratings.models import BenchTest, LedgerEntry, LotRating, RatingPolicy
from ratings.models.policy import policy_in_force


def lot_rating(request: HttpRequest, rating_id: int) -> HttpResponse:
    """Show one rating of a lot: its figures, the tests behind it, and where it counts."""
    return _page(request, _found(rating_id), ApprovalForm(), WithdrawalForm())


@manager_required
@require_POST
def approve(request: HttpRequest, rating_id: int) -> HttpResponse:
    """Approve a draft; every unit that holds the lot is rated by it at once."""
    rating = _found(rating_id)
    form = ApprovalForm(request.POST)
    if form.is_valid():
        try:
            entries = approve_rating(
                submission_id=form.cleaned_data["submission_id"],
                rating=rating,
                by=signed_in(request),
            )
        except ValidationError as trouble:
            form.add_error(None, trouble)
        else:
            messages.success(
                request,
                f"Rating {rating.pk} is approved; {len(entries)} ledger "
                f"{'entry' if len(entries) == 1 else 'entries'} posted.",
            )
            return redirect("lot-rating", rating.pk)
    return _page(request, rating, form, WithdrawalForm())


@manager_required
@require_POST
def withdraw(request: HttpRequest, rating_id: int) -> HttpResponse:
    """Withdraw an approved rating; every unit that holds the lot is rated without it at once."""
    rating = _found(rating_id)
    form = WithdrawalForm(request.POST)
    if form.is_valid():
        try:
            entries = withdraw_rating(
                submission_id=form.cleaned_data["submission_id"],
                rating=rating,
                reason=form.cleaned_data["reason"],
                by=signed_in(request),
            )
        except ValidationError as trouble:
            form.add_error(None, trouble)
        else:
            messages.warning(
                request,
                f"Rating {rating.pk} is withdrawn; {len(entries)} ledger "
                f"{'entry' if len(entries) == 1 else 'entries'} posted.",
            )
            return redirect("lot-rating", rating.pk)
    return _page(request, rating, ApprovalForm(), form)


def _found(rating_id: int) -> LotRating:
    return get_object_or_404(
        LotRating.objects.select_related(
            "lot", "recorded_by", "approval__recorded_by", "withdrawal__recorded_by"
        ),
        pk=rating_id,
    )


def _page(
    request: HttpRequest, rating: LotRating, approval: ApprovalForm, withdrawal: WithdrawalForm
) -> HttpResponse:
    causes = (Cause.LOT_RATED, Cause.RATE_WITHDRAWN)
    entries = LedgerEntry.objects.filter(cause__in=causes, cause_record=rating.pk)
    return render(
        request,
        "lots/lot_rating.html",
        {
            "section": "lots",
            "rating": rating,
            "tests": _tests_and_warnings(rating),
            "approval": approval,
            "withdrawal": withdrawal,
            "may_approve": rating.recorded_by_id != signed_in(request).pk,
            "table": table_of(request, CausedEntryTable, entries.select_related("housing")),
        },
    )


def _tests_and_warnings(rating: LotRating) -> list[tuple[BenchTest, tuple[str, ...]]]:
    """Whoever approves must see what each test's own page warns of."""
    tests = rating.tests.select_related("stand", "recorded_by", "lot").prefetch_related("readings")
    limit_pct = policy_in_force(RatingPolicy.objects.first()).linearity_limit_pct
    return [
        (test, reduce_test(test, test.measured, limit_pct).warnings)
        for test in tests.order_by("tested_at")
    ]
