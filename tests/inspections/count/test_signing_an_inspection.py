from __future__ import annotations

import math
import uuid
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, transaction

from fleet.models import HourReading
from fleet.models.housing import LARGEST_TRAVEL_IN, LEAST_TRAVEL_IN
from fleet.quantities import Quantity
from inspections.count.findings import Answer, FoundFault, Observations, PhotoTaken
from inspections.count.replacement import PadFitted, sign_replacement
from inspections.count.signing import PadSeen, Seen, sign_inspection
from inspections.count.submission import ChangedMeanwhile, Submission
from inspections.models import Inspection, PadCount, Severity
from ratings.ledger import posting
from ratings.models import CurrentRating, LedgerEntry
from tests.all_tables import changed, everything
from tests.builders import MONDAY, Unit, bench_test, count, pads, rated_unit, receive
from tests.factories import HousingFactory, ManagerFactory, PadLotFactory

pytestmark = pytest.mark.django_db
TUESDAY = MONDAY + timedelta(days=1)
FRIDAY = MONDAY + timedelta(days=4)


def head(unit: Unit) -> LedgerEntry:
    return CurrentRating.objects.get(housing=unit.housing).head


def conditions(unit: Unit) -> dict[str, str]:
    return {str(position): position.condition for position in unit.housing.positions.all()}


def seen(unit: Unit, **more: Any) -> Seen:
    what: dict[str, Any] = {
        "seen_at": TUESDAY,
        "pads": pads(unit.housing, unit.lot),
        "travel_in": 6.0,
    }
    return Seen(**what | more)


def sign(unit: Unit, what: Seen, submission: Submission | None = None) -> Any:
    return sign_inspection(
        housing=unit.housing,
        submission=submission or Submission(uuid.uuid4()),
        seen=what,
        by=unit.manager,
    )


def test_a_signing_moves_positions_travel_hours_ledger_and_head_together() -> None:
    unit = rated_unit()
    signed = sign(
        unit,
        seen(
            unit,
            pads=pads(unit.housing, unit.lot, {"A1": "cracked", "B2": "missing"}),
            travel_in=5.5,
            hours=120.0,
        ),
    )
    unit.housing.refresh_from_db()
    assert conditions(unit)["A1"] == "cracked"
    assert unit.housing.positions.get(side="B", number=2).lot is None
    assert (unit.housing.travel_in, unit.housing.travel_seen_at) == (5.5, TUESDAY)
    assert HourReading.objects.get().hours == 120.0
    assert signed.inspection.hour_reading.hammer == unit.hammer
    assert signed.entry == head(unit)
    # 6 sound pads × 1,000 lbf/in × 5.5 in.
    assert head(unit).pull_lbf == pytest.approx(33_000)


def test_what_was_seen_is_kept_position_by_position() -> None:
    unit = rated_unit()
    signed = sign(unit, seen(unit, pads=pads(unit.housing, unit.lot, {"A1": "swollen"})))
    kept = {str(pad): pad.lot for pad in signed.inspection.pads.all()}
    assert len(kept) == 8
    assert kept["A1 swollen"] == unit.lot


def test_a_second_copy_of_a_signing_changes_nothing_and_returns_the_first() -> None:
    unit = rated_unit()
    submission = Submission(uuid.uuid4(), based_on=head(unit).sequence)
    cracked = seen(unit, pads=pads(unit.housing, unit.lot, {"A1": "cracked"}))
    first = sign(unit, cracked, submission)
    before = everything()
    second = sign(unit, replace(cracked, travel_in=1.0), submission)
    assert second.inspection == first.inspection
    assert changed(before) == set()


def unknown_position(given: list[PadSeen]) -> list[PadSeen]:
    return [*given, PadSeen("A", 99, "sound", None)]


def unknown_side(given: list[PadSeen]) -> list[PadSeen]:
    return [PadSeen("C", 1, "sound", None), *given[1:]]


def position_twice(given: list[PadSeen]) -> list[PadSeen]:
    return [*given, given[0]]


def position_left_out(given: list[PadSeen]) -> list[PadSeen]:
    return given[:-1]


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (unknown_position, "A99 is not on housing"),
        (unknown_side, "C1 is not on housing"),
        (position_twice, "A1 is given twice"),
        (position_left_out, "B4 was not counted"),
    ],
)
def test_positions_that_cannot_be_leave_nothing_behind(spoil: Any, words: str) -> None:
    unit = rated_unit()
    before = everything()
    with pytest.raises(ValidationError, match=words):
        sign(unit, seen(unit, pads=spoil(pads(unit.housing, unit.lot)), hours=10.0))
    assert changed(before) == set()


def test_hours_below_the_last_reading_leave_nothing_behind() -> None:
    unit = rated_unit()
    sign(unit, seen(unit, hours=500.0))
    before = everything()
    with pytest.raises(ValidationError, match=r"499 h is below the 500 h read on 3 Mar 2026"):
        sign(unit, seen(unit, seen_at=FRIDAY, hours=499.0, travel_in=5.0))
    assert changed(before) == set()
    assert Inspection.objects.count() == 2


def test_late_hours_above_a_later_reading_leave_nothing_behind() -> None:
    unit = rated_unit()
    sign(unit, seen(unit, seen_at=FRIDAY, hours=500.0))
    before = everything()
    with pytest.raises(ValidationError, match="501 h is above the 500 h read on 6 Mar 2026, later"):
        sign(unit, seen(unit, hours=501.0))
    assert changed(before) == set()


def test_hours_of_a_housing_on_no_hammer_are_refused() -> None:
    manager, housing, lot = ManagerFactory(), HousingFactory(), PadLotFactory()
    with pytest.raises(ValidationError, match="on no hammer"):
        sign_inspection(
            housing=housing,
            submission=Submission(uuid.uuid4()),
            seen=Seen(seen_at=MONDAY, pads=pads(housing, lot), hours=5.0),
            by=manager,
        )
    assert not Inspection.objects.exists()


def test_an_error_while_the_entry_is_calculated_rolls_all_back(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    unit = rated_unit()
    before = everything()

    def fail(*_: Any) -> None:
        # The count is written by now, and must not stay.
        assert PadCount.objects.count() == 16
        raise RuntimeError("the calculation broke")

    monkeypatch.setattr("ratings.ledger.ahead.results_of_format", fail)
    with pytest.raises(RuntimeError, match="the calculation broke"):
        sign(
            unit,
            seen(unit, pads=pads(unit.housing, unit.lot, {"A1": "cracked"}), hours=9.0),
        )
    assert changed(before) == set()


def test_an_error_while_the_head_moves_rolls_all_back(monkeypatch: pytest.MonkeyPatch) -> None:
    unit = rated_unit()
    before = everything()

    def fail(*_: Any) -> None:
        assert LedgerEntry.objects.filter(housing=unit.housing).latest("sequence").sound_pads == 7
        raise RuntimeError("the head stuck")

    monkeypatch.setattr(posting, "_move_heads", fail)
    with pytest.raises(RuntimeError, match="the head stuck"):
        sign(unit, seen(unit, pads=pads(unit.housing, unit.lot, {"A1": "cracked"})))
    assert changed(before) == set()


def test_an_inspection_older_than_a_newer_one_is_on_record_at_its_own_time() -> None:
    unit = rated_unit()
    before = conditions(unit)
    late = count(
        unit.housing,
        unit.manager,
        unit.lot,
        travel_in=3.0,
        at=MONDAY - timedelta(days=7),
    )
    unit.housing.refresh_from_db()
    assert conditions(unit) == before
    assert unit.housing.travel_in == 6.0
    assert late.entry is None
    assert late.inspection in unit.housing.inspections.all()
    assert late.inspection.seen_at == MONDAY - timedelta(days=7)


def test_a_late_count_settles_all_positions_but_those_replaced_after_it() -> None:
    unit = rated_unit(in_stock=1)
    sign_replacement(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=FRIDAY,
        pads=[PadFitted("A", 1, unit.lot.pk)],
        by=unit.manager,
    )
    # Seen on Tuesday, synced after Friday's repair of A1.
    signed = sign(
        unit, seen(unit, pads=pads(unit.housing, unit.lot, {"A1": "cracked", "A2": "cracked"}))
    )
    assert conditions(unit)["A1"] == "sound"
    assert conditions(unit)["A2"] == "cracked"
    assert signed.entry.occurred_at == TUESDAY
    assert signed.entry.sound_pads == 7


def test_a_travel_left_blank_keeps_the_travel_known() -> None:
    unit = rated_unit()
    sign(
        unit,
        seen(unit, pads=pads(unit.housing, unit.lot, {"A1": "cracked"}), travel_in=None),
    )
    unit.housing.refresh_from_db()
    assert (unit.housing.travel_in, unit.housing.travel_seen_at) == (6.0, MONDAY)
    assert head(unit).usable_travel_in == 6.0


def test_a_travel_taped_alone_keeps_the_pads_known() -> None:
    unit = rated_unit(unsound={"A1": "cracked"})
    sign(unit, seen(unit, pads=[], travel_in=5.0))
    assert conditions(unit)["A1"] == "cracked"
    assert head(unit).pull_lbf == pytest.approx(7 * 1000 * 5)


def test_a_signing_based_on_an_older_entry_is_refused_and_says_who_was_first() -> None:
    unit = rated_unit()
    opened_at = head(unit).sequence
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=TUESDAY)
    before = everything()
    with pytest.raises(ChangedMeanwhile, match=f"{unit.manager.get_full_name()} signed this unit"):
        sign(unit, seen(unit, seen_at=FRIDAY), Submission(uuid.uuid4(), based_on=opened_at))
    assert changed(before) == set()


def test_a_form_opened_before_the_first_entry_is_refused_after_it() -> None:
    unit = rated_unit()
    with pytest.raises(ChangedMeanwhile):
        sign(unit, seen(unit), Submission(uuid.uuid4(), based_on=0))


def test_a_re_rating_of_the_lot_counts_as_a_change_too() -> None:
    unit = rated_unit()
    opened_at = head(unit).sequence
    bench_test(unit.lot, unit.manager, rate_lbf_in=900, at=TUESDAY)
    with pytest.raises(ChangedMeanwhile):
        sign(unit, seen(unit), Submission(uuid.uuid4(), based_on=opened_at))


def test_a_record_made_out_of_sight_of_the_unit_is_taken_by_its_own_time() -> None:
    unit = rated_unit()
    count(unit.housing, unit.manager, unit.lot, travel_in=5.0, at=TUESDAY)
    signed = sign(unit, seen(unit, seen_at=FRIDAY), Submission(uuid.uuid4()))
    assert signed.entry.usable_travel_in == 6.0


def test_a_condition_nobody_knows_is_refused_by_the_database() -> None:
    unit = rated_unit()
    counted = PadCount(inspection=Inspection.objects.get(), side="A", number=9, condition="melted")
    with (
        pytest.raises(DatabaseError, match="pad_count_position_and_condition_known"),
        transaction.atomic(),
    ):
        counted.save()
    assert unit.housing.inspections.get().pads.count() == 8


def refusal(unit: Unit, **what: Any) -> dict[str, list[str]]:
    """What a signing is refused for, by field; nothing of it may be kept."""
    before = everything()
    with pytest.raises(ValidationError) as refused:
        sign(unit, seen(unit, **what))
    assert changed(before) == set()
    return refused.value.message_dict


@pytest.mark.parametrize("reason", ["", "   ", "\n\t", "\u200b"])
def test_a_travel_beyond_design_without_a_reason_is_refused(reason: str) -> None:
    assert refusal(rated_unit(), travel_in=13.0, travel_reason=reason) == {
        "travel_reason": [
            "13 in is beyond the housing’s design travel of 8 in: tape it again, or keep it and "
            "say why it is right."
        ]
    }


def test_a_travel_beyond_design_is_kept_with_its_reason() -> None:
    unit = rated_unit()
    signed = sign(unit, seen(unit, travel_in=13.0, travel_reason=" Stop plate gone "))
    assert (signed.inspection.travel_in, signed.inspection.travel_reason) == (
        13.0,
        "Stop plate gone",
    )


@pytest.mark.parametrize("travel_in", [None, 6.0, 8.0])
def test_a_reason_is_kept_with_no_other_travel(travel_in: float | None) -> None:
    unit = rated_unit()
    signed = sign(unit, seen(unit, travel_in=travel_in, travel_reason="Stop plate gone"))
    assert signed.inspection.travel_reason == ""


def test_a_design_travel_taped_in_millimetres_is_not_beyond_itself() -> None:
    unit = rated_unit()
    unit.housing.design_travel_in = 1.2
    unit.housing.save()
    taped_in = Quantity.LENGTH.stored(30.48, "si")
    assert taped_in > 1.2
    assert sign(unit, seen(unit, travel_in=taped_in)).inspection.travel_in == taped_in


def test_a_reason_longer_than_the_record_holds_is_refused() -> None:
    said = refusal(rated_unit(), travel_in=13.0, travel_reason="x" * 201)
    assert said == {"travel_reason": ["This has 201 characters: 200 at the most."]}


@pytest.mark.parametrize("travel_in", [0.0, -6.0, 0.05, 36.5, 1e300, math.inf, -math.inf, math.nan])
def test_a_travel_that_cannot_be_is_refused_whatever_its_reason(travel_in: float) -> None:
    said = refusal(rated_unit(), travel_in=travel_in, travel_reason="Stop plate gone")
    assert list(said) == ["travel_in"]
    assert said["travel_in"][0].endswith("won’t do: give 0.1 in or more, up to 36 in.")


@pytest.mark.parametrize("travel_in", [LEAST_TRAVEL_IN, LARGEST_TRAVEL_IN])
def test_the_bounds_of_a_travel_can_be_taped(travel_in: float) -> None:
    unit = rated_unit()
    signed = sign(unit, seen(unit, travel_in=travel_in, travel_reason="Stop plate gone"))
    assert signed.inspection.travel_in == travel_in


def with_first(unit: Unit, **changes: Any) -> list[PadSeen]:
    first, *others = pads(unit.housing, unit.lot)
    return [replace(first, **changes), *others]


def test_a_missing_pad_of_a_lot_is_refused() -> None:
    unit = rated_unit()
    assert refusal(unit, pads=with_first(unit, condition="missing")) == {
        "pads": ["The pad at A1 is missing, so it is of no lot: leave its lot blank."]
    }


@pytest.mark.parametrize("condition", ["melted", "", "Sound"])
def test_a_condition_nobody_knows_is_refused(condition: str) -> None:
    unit = rated_unit()
    [words] = refusal(unit, pads=with_first(unit, condition=condition))["pads"]
    assert words.startswith(f"“{condition}” at A1 is no condition: choose sound, cracked,")


def test_a_lot_not_on_record_is_refused() -> None:
    unit = rated_unit()
    assert refusal(unit, pads=with_first(unit, lot_id=999_999)) == {
        "pads": ["The lot given at A1 is not on record: choose it again."]
    }


@pytest.mark.parametrize("more", [{}, {"weather": "rain"}, {"note": " "}, {"clock_words": "late"}])
def test_an_inspection_of_nothing_is_refused(more: dict[str, str]) -> None:
    unit = rated_unit()
    before = everything()
    with pytest.raises(ValidationError, match="Nothing was entered: count the pads"):
        sign(unit, seen(unit, pads=[], travel_in=None, **more))
    assert changed(before) == set()


@pytest.mark.parametrize(
    "more",
    [
        {"note": "Looked at, all in order."},
        {"hours": 12.5},
        {
            "observations": Observations(
                answers=[Answer("guards-on", "Guards", "Guards on and fast", "done")]
            )
        },
        {"observations": Observations(findings=[FoundFault(1, "note", "Paint gone")])},
        {"observations": Observations(photos=[PhotoTaken(uuid.uuid4())])},
    ],
    ids=["a note", "hours", "an answer", "a finding", "a photo"],
)
def test_an_inspection_that_counts_and_tapes_nothing_may_be_of_something_else(
    more: dict[str, Any],
) -> None:
    unit = rated_unit()
    signed = sign(unit, seen(unit, pads=[], travel_in=None, **more))
    assert signed.entry is None
    assert unit.housing.inspections.count() == 2


def test_every_position_left_out_of_a_count_is_named() -> None:
    unit = rated_unit()
    said = refusal(unit, pads=pads(unit.housing, unit.lot)[:6])
    assert said["pads"] == [
        "Position B3 was not counted: say what is in it.",
        "Position B4 was not counted: say what is in it.",
    ]


def test_a_signing_says_all_that_is_wrong_with_it_at_once() -> None:
    unit = rated_unit()
    said = refusal(unit, pads=with_first(unit, condition="missing"), travel_in=13.0)
    assert sorted(said) == ["pads", "travel_reason"]


def test_stock_is_not_moved_by_a_count() -> None:
    unit = rated_unit()
    receive(unit.lot, unit.manager, 5)
    sign(unit, seen(unit, pads=pads(unit.housing, unit.lot, {"A1": "missing"})))
    unit.lot.refresh_from_db()
    assert unit.lot.in_stock == 5


@pytest.mark.parametrize(
    ("lacks", "field"),
    [
        ({"who_acts": " "}, "who_acts"),
        ({"act_by": None}, "act_by"),
        ({"text": " "}, "text"),
        ({"severity": "bad"}, "severity"),
    ],
)
def test_a_finding_that_lacks_what_it_needs_is_refused_at_its_field(
    lacks: dict[str, Any], field: str
) -> None:
    unit = rated_unit()
    whole = FoundFault(1, Severity.REPAIR, "Bent guard", who_acts="Kay", act_by=date(2026, 4, 1))
    seen = Seen(seen_at=MONDAY, pads=[], observations=Observations(findings=[whole]))
    wrong = replace(seen, observations=Observations(findings=[replace(whole, **lacks)]))
    with pytest.raises(ValidationError) as refusal:
        sign_inspection(
            housing=unit.housing,
            submission=Submission(uuid.uuid4()),
            seen=wrong,
            by=unit.manager,
        )
    assert set(refusal.value.message_dict) == {f"findings.0.{field}"}
