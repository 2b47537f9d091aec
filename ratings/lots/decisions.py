"""Which of a lot's tests count where they disagree: what they say, and a person's word on it."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet import clock
from fleet.fields import FactForm
from fleet.housings import lock_all_housings
from fleet.models import PadLot
from fleet.people.yards import in_yard_of
from fleet.roles import manager_required, signed_in
from ratings.bench.recording import draft_rating, usable_tests
from ratings.lot_pools import decision_on, pool_of, why_not_for_rating
from ratings.mechanics.lot_agreement import Counts
from ratings.mechanics.lot_rate import LotPool
from ratings.models import BenchTest, DecidedTest, LotDecision, LotRating
from ratings.models.policy import rating_policy


@dataclass(frozen=True)
class TestsHeld:
    """A lot's tests held against one another, as they stand today.

    tests: by the name they have in the pool. word: the decision that holds, None where none does.
    """

    __test__ = False  # Tests of pads, not tests for pytest to collect.

    tests: dict[str, BenchTest]
    pool: LotPool
    word: LotDecision | None

    @property
    def can_be_decided(self) -> bool:
        """Whether there is anything to decide: a newest occasion, and others before it."""
        return self.pool.agreement.difference is not None

    @property
    def is_open(self) -> bool:
        """Whether they disagree, and nobody has decided."""
        return self.pool.agreement.is_open

    @property
    def newest(self) -> list[BenchTest]:
        return [self.tests[name] for name in self.pool.newest]

    @property
    def counting(self) -> list[BenchTest]:
        return [self.tests[test.name] for test in self.pool.tests]

    @property
    def left_out(self) -> list[tuple[BenchTest, str]]:
        """Each test that does not count, and why."""
        return [(self.tests[each.name], each.why) for each in self.pool.left_out]


def tests_held(lot: PadLot) -> TestsHeld | None:
    """Hold a lot's tests against one another; None where none of them may rate."""
    policy, decision = rating_policy(), decision_on(lot)
    tests = {str(test.pk): test for test in usable_tests(lot)}
    if all(why_not_for_rating(test, policy) for test in tests.values()):
        return None
    found = pool_of(tests.values(), policy, clock.now(), decision)
    holds = decision is not None and decision.tests == frozenset(found.considered)
    word = LotDecision.objects.filter(lot=lot).select_related("recorded_by").first()
    return TestsHeld(tests, found, word if holds else None)


@in_yard_of("lot")
@transaction.atomic
def decide_tests(
    *, submission_id: uuid.UUID, lot: PadLot, counts: str, reason: str, by: User
) -> LotRating | None:
    """Say which of a lot's tests count, and draft the rating they then come to.

    It holds until another test of the lot is recorded, or one grows too old. The draft rates no
    unit until a second person approves it. A second copy of a submission changes nothing and
    returns None. Raises ValidationError for another word than Counts has, for no reason, and
    where the lot has no tests of two occasions to decide between.
    """
    lock_all_housings()
    if LotDecision.objects.filter(submission_id=submission_id).exists():
        return None
    if counts not in list(Counts):
        raise ValidationError({"counts": f"“{counts}” is no choice: say which tests count."})
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say why these tests count."})
    held = tests_held(lot)
    if held is None or not held.can_be_decided:
        raise ValidationError(
            "The lot has no tests of two occasions that may rate: there is nothing to decide."
        )
    decision = LotDecision.objects.create(
        submission_id=submission_id, lot=lot, counts=counts, reason=reason, recorded_by=by
    )
    DecidedTest.objects.bulk_create(
        DecidedTest(decision=decision, test=held.tests[name]) for name in held.pool.considered
    )
    return draft_rating(lot, by)


class DecisionForm(FactForm):
    """Which of a lot's tests count, and why."""

    class Meta:
        model = LotDecision
        fields = ["counts", "reason"]


@manager_required
def decide(request: HttpRequest, lot_id: int) -> HttpResponse:
    """Show how a lot's tests agree, and take a person's word on which of them count."""
    lot = get_object_or_404(PadLot, pk=lot_id)
    form = DecisionForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            draft = decide_tests(lot=lot, by=signed_in(request), **form.cleaned_data)
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            if draft is None:
                return redirect("lot", lot.pk)
            messages.success(
                request,
                f"Decided; rating {draft.pk} is drafted. It rates no unit until a second person "
                "approves it.",
            )
            return redirect("lot-rating", draft.pk)
    context: dict[str, Any] = {"section": "lots", "lot": lot, "form": form}
    return render(request, "lots/decide.html", context | {"held": tests_held(lot)})
