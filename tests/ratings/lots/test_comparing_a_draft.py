"""A draft beside the rating in force, and what it would do to every unit that holds its lot."""

from __future__ import annotations

import re
import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from ratings.bench.recording import record_bench_test
from ratings.ledger.facts import lot_rate
from ratings.lots.comparison import (
    compare,
    curves,
    effects_of,
    stretches_that_matter,
    units_that_hold,
)
from ratings.lots.doubts import pool_doubts
from ratings.lots.recording import approve_rating
from ratings.mechanics.bench import Branch
from ratings.mechanics.unit_rating import Policy
from ratings.models import CurrentRating, LotRating
from tests.all_tables import changed, everything
from tests.builders import (
    MONDAY,
    Unit,
    approve,
    count,
    drafted_test,
    rated_unit,
    readings_of,
    set_up,
)
from tests.factories import GaugeFactory, ManagerFactory, PadLotFactory
from tests.ratings.certificate import printed
from tests.site.html_form import words

pytestmark = pytest.mark.django_db
TUESDAY = MONDAY + timedelta(days=1)


@pytest.fixture
def unit() -> Unit:
    return rated_unit()


def draft_of(unit: Unit, **more: Any) -> LotRating:
    drafted = drafted_test(unit.lot, unit.manager, at=TUESDAY, **more).draft
    assert drafted is not None
    return drafted


def rows_of(draft: LotRating) -> dict[str, tuple[str, str]]:
    in_force = LotRating.objects.in_force_by_lot([draft.lot_id]).get(draft.lot_id)
    rows = compare(draft, in_force, Policy(), "us")
    return {row.label: (row.in_force, row.drafted) for row in rows}


def test_what_is_shown_is_what_the_approval_then_posts(unit: Unit) -> None:
    other = rated_unit(unsound={"A1": "cracked"})
    count(other.housing, other.manager, unit.lot, at=TUESDAY, travel_in=5.0)
    draft = draft_of(unit, rate_lbf_in=700.0)
    before = everything()
    effects = effects_of(draft, list(units_that_hold(draft)), Policy())
    assert changed(before) == set()
    assert set(effects) == {unit.housing.pk, other.housing.pk}
    heads = CurrentRating.objects.select_related("head")
    for housing, effect in effects.items():
        head = heads.get(housing=housing).head
        assert effect.now.working_capacity_lbf == head.working_capacity_lbf
        assert effect.then.working_capacity_lbf != head.working_capacity_lbf
    approve(draft)
    for housing, effect in effects.items():
        head = heads.get(housing=housing).head
        assert effect.then.pull_lbf == head.pull_lbf
        assert effect.then.working_capacity_lbf == head.working_capacity_lbf
        assert effect.then.standing.value == head.standing


def test_a_lot_never_rated_shows_what_its_pads_would_begin_to_add(unit: Unit) -> None:
    lot = PadLotFactory()
    count(unit.housing, unit.manager, lot, at=TUESDAY)
    draft = drafted_test(lot, unit.manager).draft
    assert draft is not None
    (effect,) = effects_of(draft, list(units_that_hold(draft)), Policy()).values()
    assert effect.now.pull_lbf is None
    assert effect.then.pull_lbf == pytest.approx(8 * 1000 * 6, rel=0.2)
    assert rows_of(draft)["Tested to"] == ("–", "8 in")


def test_the_table_holds_draft_and_rating_in_force_side_by_side(unit: Unit) -> None:
    uncalibrated = drafted_test(unit.lot, unit.manager, gauge=GaugeFactory(due_on=None)).test
    draft = draft_of(unit, rate_lbf_in=980.0, to_in=7.0, rubber_temperature_f=80.0)
    rows = rows_of(draft)
    first, second = draft.tests.order_by("pk")
    assert rows["Tests counted"] == (f"test {first.pk}", f"test {first.pk}, test {second.pk}")
    assert rows["Tests left out"][0] == "none"
    assert f"test {uncalibrated.pk}: " in rows["Tests left out"][1]
    assert rows["Newest test"] == ("2 Mar 2026", "3 Mar 2026")
    assert rows["Rubber tested at"] == ("68 °F", "68 °F to 80 °F")
    assert rows["Spread from pad to pad"][0] == "assumed spread, 5 % by policy"
    # The unit's travel, and where both tests end.
    assert {label for label in rows if label.startswith("Force")} >= {
        "Force of one pad at 6 in",
        "Force of one pad at 8 in",
    }
    assert rows["Force of one pad at 6 in"][0].startswith("6,000 lbf, standard uncertainty")


def test_a_stretch_beyond_a_test_is_said_not_to_be_tested(unit: Unit) -> None:
    other = PadLotFactory()
    first = drafted_test(other, unit.manager, to_in=4.0).draft
    assert first is not None
    approve(first)
    second = drafted_test(other, unit.manager, to_in=6.0, at=TUESDAY).draft
    assert second is not None
    assert rows_of(second)["Force of one pad at 6 in"][0] == "not tested so far"


def test_of_many_stretches_six_stand_from_the_shortest_to_the_longest(unit: Unit) -> None:
    rate = lot_rate(unit.lot.ratings.get(), Policy())
    found = stretches_that_matter([None, rate], [0.5 * step for step in range(40)])
    assert len(found) == 6
    assert (found[0], found[-1]) == (0.5, 8.0)
    assert stretches_that_matter([rate], [6.0, 6.0, 9.0]) == [6.0, 8.0]


def test_the_drawn_curves_end_where_each_was_tested(unit: Unit) -> None:
    in_force = unit.lot.ratings.get()
    draft = draft_of(unit, rate_lbf_in=980.0)
    figures = curves(draft, in_force, Policy(), "us")
    assert figures.drafted[0] == figures.in_force[0] == (0.0, 0.0)
    assert figures.in_force[-1] == pytest.approx((8.0, 8000.0), rel=1e-6)
    assert figures.drafted[-1][0] == draft.tested_stretch_in
    assert len(figures.doubt_lbf) == len(figures.drafted)
    assert curves(draft, None, Policy(), "us").in_force == ()


def test_whoever_approves_sees_the_graphs_the_table_and_every_unit(
    manager_client: Client, unit: Unit
) -> None:
    draft = draft_of(unit, rate_lbf_in=500.0)
    response = manager_client.get(reverse("lot-rating", args=[draft.pk]))
    text = words(response)
    page = response.content.decode()
    assert "This draft and what is in force" in text
    for test in draft.tests.all():
        assert f"Bench test {test.pk}: load against stretch" in page
    assert f"Load curve of lot {unit.lot.mark}" in page
    assert "this draft" in page
    assert "in force" in page
    assert f"{unit.housing.mark}" in text
    assert "then" in text
    assert "nothing of it is posted until the approval" in text


def test_what_is_in_force_already_has_nothing_to_be_compared_with(
    manager_client: Client, unit: Unit
) -> None:
    rating = unit.lot.ratings.get()
    text = words(manager_client.get(reverse("lot-rating", args=[rating.pk])))
    assert "This draft and what is in force" not in text
    assert (
        "load against stretch"
        in manager_client.get(reverse("lot-rating", args=[rating.pk])).content.decode()
    )


def test_a_lot_no_unit_holds_says_so(manager_client: Client) -> None:
    draft = drafted_test(PadLotFactory(), ManagerFactory()).draft
    assert draft is not None
    text = words(manager_client.get(reverse("lot-rating", args=[draft.pk])))
    assert "No unit holds a pad of this lot: nothing changes until one does" in text
    assert "No rating of this lot is in force" in text


def test_the_page_takes_no_more_queries_for_more_units(
    manager_client: Client, unit: Unit, django_assert_max_num_queries: Any
) -> None:
    for _ in range(4):
        other = rated_unit()
        count(other.housing, other.manager, unit.lot, at=TUESDAY)
    draft = draft_of(unit)
    with django_assert_max_num_queries(60):
        manager_client.get(reverse("lot-rating", args=[draft.pk]))


def test_of_many_tests_the_newest_are_drawn_and_the_others_lead_to_their_pages(
    manager_client: Client, monkeypatch: pytest.MonkeyPatch, unit: Unit
) -> None:
    monkeypatch.setattr("ratings.lots.rating_views.GRAPHS_DRAWN", 1)
    draft = draft_of(unit)
    page = manager_client.get(reverse("lot-rating", args=[draft.pk])).content.decode()
    older, newer = draft.tests.order_by("tested_at")
    assert f"Bench test {newer.pk}: load against stretch" in page
    assert f"Bench test {older.pk}: load against stretch" not in page
    assert page.count("Its graph is on its own page") == 1
    assert reverse("bench-test", args=[older.pk]) in page


def test_tests_that_disagree_are_a_doubt_and_the_one_left_out_stands_with_its_reason(
    manager_client: Client, unit: Unit
) -> None:
    drafted = drafted_test(
        unit.lot, unit.manager, at=MONDAY + timedelta(days=120), rate_lbf_in=500.0
    )
    draft = drafted.draft
    assert draft is not None
    assert draft.figures is not None
    (counted,) = draft.tests.all()
    left_out = unit.lot.bench_tests.exclude(pk=counted.pk).get()
    (doubt,) = pool_doubts(draft)
    assert doubt.startswith("Its tests disagree: ")
    assert doubt in words(manager_client.get(reverse("lot-rating", args=[draft.pk])))
    rows = rows_of(draft)
    assert rows["Tests counted"][1] == f"test {counted.pk}"
    why = draft.figures["left_out"][str(left_out.pk)]
    assert rows["Tests left out"][1] == f"test {left_out.pk}: {why}"
    with pytest.raises(ValidationError) as refusal:
        approve_rating(submission_id=uuid.uuid4(), rating=draft, by=ManagerFactory())
    assert "has_read_doubts" in refusal.value.message_dict
    approve(draft)
    assert doubt in LotRating.objects.get(pk=draft.pk).approval.doubts


def test_marks_on_pads_tested_twice_stand_with_their_price_for_approver_and_on_the_certificate(
    manager_client: Client,
) -> None:
    lot, by = PadLotFactory(), ManagerFactory()
    words_of_price = r"[Pp]ads without marks: marking the pads would add about [\d,]+ lbf"
    first = drafted_test(lot, by, rate_lbf_in=1000.0, pads=()).draft
    second = drafted_test(lot, by, rate_lbf_in=1010.0, pads=()).draft
    assert first is not None
    assert second is not None
    # Of one test nothing is told by marks; of two, that they are of two pads.
    for draft, is_told in ((first, False), (second, True)):
        page = words(manager_client.get(reverse("lot-rating", args=[draft.pk])))
        paper = printed.text(draft)
        assert [bool(re.search(words_of_price, each)) for each in (page, paper)] == [is_told] * 2


def test_what_the_tests_left_out_stands_with_its_price_in_pounds(
    manager_client: Client,
) -> None:
    lot, by = PadLotFactory(), ManagerFactory()
    given = set_up(rubber_temperature_f=None, conditioning_cycles=0)
    draft = record_bench_test(
        submission_id=uuid.uuid4(),
        lot=lot,
        set_up=given,
        readings=readings_of(given, 1000.0, branch=Branch.LOADING),
        by=by,
    ).draft
    assert draft is not None
    text = words(manager_client.get(reverse("lot-rating", args=[draft.pk])))
    assert "What its tests left out costs a housing of twenty such pads" in text
    for remedy in ("reading the unloading too", "stretching the pads first", "temperature"):
        assert re.search(rf"{remedy}[^.]* would add about [\d,]+ lbf", text), remedy
    assert rows_of(draft)["Off for what its tests left out"] == ("–", "12.7 %")
