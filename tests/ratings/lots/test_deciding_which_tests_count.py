"""Which of a lot's tests count: held to one another, decided by a person, asked again later."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from fleet import clock
from fleet.models import PadLot
from ratings.ledger.facts import lot_rate
from ratings.lots.decisions import decide_tests
from ratings.mechanics.bench import Branch
from ratings.mechanics.unit_rating import Policy, rate_unit
from ratings.mechanics.what_if import example_unit
from ratings.models import LotDecision, LotRating
from ratings.policy import change_policy
from tests.all_tables import changed, everything
from tests.builders import MONDAY, drafted_test, marked, readings_of, set_up
from tests.factories import GaugeFactory, ManagerFactory, PadLotFactory
from tests.factories import TestStandFactory as StandFactory
from tests.site.html_form import fields_of, words

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def on_the_day() -> Any:
    with clock.set_to(MONDAY + timedelta(days=120)):
        yield


@pytest.fixture
def lot() -> PadLot:
    """Three tests on one stand that agree, and a newest that is a fifth stiffer."""
    lot, by = PadLotFactory(), ManagerFactory()
    stand, gauge = StandFactory(bore_in=6.0), GaugeFactory()
    for place, rate_lbf_in in enumerate((1000.0, 1010.0, 990.0, 1200.0)):
        drafted_test(
            lot,
            by,
            rate_lbf_in=rate_lbf_in,
            at=MONDAY + timedelta(days=30 * place),
            pads_in_test=4,
            stand=stand,
            gauge=gauge,
        )
    return lot


def decided(lot: PadLot, counts: str, reason: str = "the stand was off") -> LotRating | None:
    return decide_tests(
        submission_id=uuid.uuid4(), lot=lot, counts=counts, reason=reason, by=ManagerFactory()
    )


def figures(rating: LotRating) -> dict[str, Any]:
    assert rating.figures is not None
    return dict(rating.figures)


def last(lot: PadLot) -> LotRating:
    return lot.ratings.latest("pk")


def test_of_tests_that_disagree_the_lower_rate_until_a_person_decides(lot: PadLot) -> None:
    rating = last(lot)
    assert rating.rate_lbf_in == pytest.approx(1000.0, rel=1e-3)
    assert rating.tests.count() == 3
    assert figures(rating)["is_open"]
    # A retest never renews what it contradicts.
    assert rating.tested_at == MONDAY + timedelta(days=60)


@pytest.mark.parametrize(("counts", "tests"), [("newest", 1), ("rest", 3), ("all", 4)])
def test_a_decision_drafts_the_rating_of_the_tests_that_count(
    lot: PadLot, counts: str, tests: int
) -> None:
    rating = decided(lot, counts)
    assert rating is not None
    assert rating.tests.count() == tests
    assert not figures(rating)["is_open"]
    assert lot.decisions.get().tests.count() == 4


def test_a_later_test_asks_again(lot: PadLot) -> None:
    decided(lot, "newest")
    drafted_test(
        lot,
        ManagerFactory(),
        rate_lbf_in=1205.0,
        at=MONDAY + timedelta(days=110),
        pads_in_test=4,
        stand=StandFactory(bore_in=6.0),
    )
    assert figures(last(lot))["is_open"]


def test_a_second_copy_of_a_decision_changes_nothing(lot: PadLot) -> None:
    given: dict[str, Any] = {
        "submission_id": uuid.uuid4(),
        "lot": lot,
        "counts": "all",
        "reason": "same pads",
    }
    assert decide_tests(**given, by=ManagerFactory()) is not None
    by = ManagerFactory()
    before = everything()
    assert decide_tests(**given, by=by) is None
    assert changed(before) == set()


@pytest.mark.parametrize(
    ("counts", "reason", "message"),
    [("all", "  ", "This is blank"), ("best", "x", "“best” is no choice")],
)
def test_a_decision_that_cannot_be_is_refused(
    lot: PadLot, counts: str, reason: str, message: str
) -> None:
    by = ManagerFactory()
    before = everything()
    with pytest.raises(ValidationError, match=message):
        decide_tests(submission_id=uuid.uuid4(), lot=lot, counts=counts, reason=reason, by=by)
    assert changed(before) == set()


def test_with_tests_of_one_occasion_there_is_nothing_to_decide() -> None:
    lot = PadLotFactory()
    with pytest.raises(ValidationError, match="nothing to decide"):
        decided(lot, "all")
    drafted_test(lot, ManagerFactory())
    with pytest.raises(ValidationError, match="nothing to decide"):
        decided(lot, "all")


def test_the_database_refuses_a_decision_without_its_reason(lot: PadLot) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        LotDecision.objects.create(
            lot=lot,
            counts="all",
            reason="",
            submission_id=uuid.uuid4(),
            recorded_by=ManagerFactory(),
        )


def test_the_lot_says_that_its_tests_disagree_and_a_manager_decides_on_the_page(
    lot: PadLot, manager_client: Client
) -> None:
    text = words(manager_client.get(reverse("lot", args=[lot.pk])))
    assert "Its tests disagree" in text
    assert "does not count" in text
    url = reverse("decide-tests", args=[lot.pk])
    page = manager_client.get(url)
    assert "1,200 lbf/in" in words(page)
    form = fields_of(page) | {"counts": "newest", "reason": "the old stand leaked"}
    text = words(manager_client.post(url, form, follow=True))
    assert "It rates no unit until a second person approves it" in text
    assert last(lot).rate_lbf_in == pytest.approx(1200.0, rel=1e-6)
    assert "the old stand leaked" in words(manager_client.get(reverse("lot", args=[lot.pk])))


def test_a_decision_without_a_reason_is_answered_at_its_field(
    lot: PadLot, manager_client: Client
) -> None:
    url = reverse("decide-tests", args=[lot.pk])
    form = fields_of(manager_client.get(url)) | {"counts": "all", "reason": ""}
    assert "Nothing was saved" in words(manager_client.post(url, form))
    assert not LotDecision.objects.exists()


def test_the_draft_s_page_names_the_tests_that_do_not_count(
    lot: PadLot, manager_client: Client
) -> None:
    text = words(manager_client.get(reverse("lot-rating", args=[last(lot).pk])))
    assert "Tests that do not count" in text
    assert "older ones count until a person decides" in text


def test_old_tests_fall_out_of_the_window() -> None:
    lot, by = PadLotFactory(), ManagerFactory()
    drafted_test(lot, by, rate_lbf_in=1000.0, at=MONDAY - timedelta(days=700))
    rating = drafted_test(lot, by, rate_lbf_in=1005.0, at=MONDAY).draft
    assert rating is not None
    assert rating.tests.count() == 1
    assert rating.rate_lbf_in == pytest.approx(1005.0)


def test_a_test_the_policy_refuses_is_kept_and_rates_nothing(manager_client: Client) -> None:
    by, lot = ManagerFactory(), PadLotFactory()
    policy = Policy(refused_shortcuts=("no unloading read",))
    change_policy(submission_id=uuid.uuid4(), policy=policy, reason="more care", by=by)
    given = set_up()
    loading = readings_of(given, 1000.0, branch=Branch.LOADING)
    recorded = drafted_test(lot, by, readings=loading)
    assert recorded.draft is None
    text = words(manager_client.get(reverse("bench-test", args=[recorded.test.pk])))
    assert "By the yard’s policy a test rates nothing with no unloading read" in text


def test_a_rating_drafted_before_its_figures_were_kept_is_worked_out_from_its_tests(
    lot: PadLot,
) -> None:
    rating = last(lot)
    policy = Policy()
    now = lot_rate(rating, policy)
    rating.figures = None
    again = lot_rate(rating, policy)
    assert again == now


def test_a_rating_kept_with_weights_a_rounding_above_the_whole_can_be_looked_at_and_rates(
    lot: PadLot,
) -> None:
    rating = last(lot)
    rating.figures = {**(rating.figures or {}), "loading_only_share": 1.0000000000000002}
    policy = Policy()
    found = lot_rate(rating, policy)
    assert found.loading_only_share == 1.0
    assert rate_unit(example_unit(found, policy)).working_capacity_lbf


def test_an_old_rating_of_quick_tests_pays_their_price() -> None:
    given = set_up()
    loading = readings_of(given, 1000.0, branch=Branch.LOADING)
    rating = drafted_test(
        PadLotFactory(),
        ManagerFactory(),
        readings=loading,
        conditioning_cycles=0,
        rubber_temperature_f=None,
        pads=(),
    ).draft
    assert rating is not None
    rating.figures = None
    found = lot_rate(rating, Policy())
    assert found.loading_only_share == found.not_conditioned_share == 1.0
    assert found.temperature_unknown_share == 1.0
    assert found.pads_tested == pytest.approx(1.0)


def test_the_same_pad_tested_again_is_no_second_pad() -> None:
    lot, by = PadLotFactory(), ManagerFactory()
    for mark in ("A 1", "a 1", "A 1"):
        rating = drafted_test(lot, by, pads=marked(mark)).draft
    assert rating is not None
    assert figures(rating)["pads_tested"] == pytest.approx(1.0)
