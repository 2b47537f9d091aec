"""Recording a proof pull, and what keeps one from being recorded or from deciding."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from inspections.count.preview import preview_inspection
from inspections.count.signing import PadSeen, Seen, sign_inspection
from inspections.count.submission import Submission
from ratings.ledger.posting import Cause
from ratings.ledger.verify import verify_all
from ratings.mechanics.bench import Branch, ReadingError
from ratings.mechanics.proof_pull import Verdict
from ratings.mechanics.record import read_inputs
from ratings.models import ProofDecision, ProofPull, ProofReading
from ratings.models.proof_pull import Reservation
from ratings.proof.expected import expected_pull
from ratings.proof.recording import BranchReading, ReadingRefused, set_proof_pull_aside
from tests.builders import (
    MONDAY,
    Unit,
    bench_test,
    count,
    list_hammer,
    pads,
    proof_pull,
    pull_readings,
    rated_unit,
)
from tests.factories import (
    HousingFactory,
    LoadIndicatorFactory,
    ManagerFactory,
    PadLotFactory,
    TapeFactory,
)

pytestmark = pytest.mark.django_db
LATER = MONDAY + timedelta(days=5)


@pytest.fixture
def unit() -> Unit:
    return rated_unit()


def refusal(unit: Unit, **more: Any) -> dict[str, list[str]]:
    """Try a pull that must be refused; return its messages by field. Nothing is kept."""
    before = ProofPull.objects.count()
    with pytest.raises(ValidationError) as refused:
        proof_pull(unit.housing, unit.manager, **more)
    assert ProofPull.objects.count() == before
    if hasattr(refused.value, "error_dict"):
        return refused.value.message_dict
    return {"": refused.value.messages}


def test_a_pull_is_on_record_with_its_instruments_as_they_were(unit: Unit) -> None:
    cell = LoadIndicatorFactory(resolution_lbf=50.0)
    pull = proof_pull(unit.housing, unit.manager, 0.97, indicator=cell, witness="Odo Vance").pull
    cell.resolution_lbf, cell.due_on = 5.0, date(2021, 1, 1)
    cell.save()
    kept = ProofPull.objects.get(pk=pull.pk)
    assert (kept.resolution_lbf, kept.accuracy_pct, kept.due_on) == (50.0, 1.0, date(2035, 1, 1))
    assert kept.is_for_rating
    assert kept.witness == "Odo Vance"


def test_its_figures_are_stored(unit: Unit) -> None:
    pull = ProofPull.objects.get(pk=proof_pull(unit.housing, unit.manager, 0.97).pull.pk)
    assert pull.ratio == pytest.approx(0.97)
    of_pads = expected_pull(read_inputs(pull.entry.inputs))
    assert of_pads is not None
    assert pull.expected_lbf == pytest.approx(of_pads[0].force_lbf(5.0))
    assert pull.measured_lbf == pytest.approx(0.97 * pull.expected_lbf)
    assert pull.e_n == pytest.approx(-0.03 / pull.half_width)
    assert pull.verdict is Verdict.AGREES
    assert pull.entry == unit.housing.ledger_entries.latest("sequence")
    assert sum(pct**2 for _, pct in pull.doubts) ** 0.5 * pull.coverage_factor == pytest.approx(
        pull.half_width_pct
    )


def test_its_readings_are_kept_in_order_beside_what_was_expected(unit: Unit) -> None:
    given = pull_readings(unit.housing, 0.9, tare_lbf=9_000.0)
    pull = proof_pull(unit.housing, unit.manager, readings=given, tare_lbf=9_000.0).pull
    rows = list(pull.readings.all())
    assert [row.number for row in rows] == list(range(1, 10))
    assert rows[1].load_lbf == given[1].load_lbf
    assert rows[1].measured_lbf == pytest.approx(given[1].load_lbf - 9_000.0)
    assert rows[1].measured_lbf == pytest.approx(0.9 * (rows[1].expected_lbf or 0.0))
    assert [row.branch for row in rows].count(Branch.UNLOADING) == 4


def test_a_pull_that_agrees_moves_no_ledger(unit: Unit) -> None:
    entries = unit.housing.ledger_entries.count()
    assert proof_pull(unit.housing, unit.manager).entry is None
    assert unit.housing.ledger_entries.count() == entries


def test_sent_twice_it_is_recorded_once(unit: Unit) -> None:
    form = uuid.uuid4()
    first = proof_pull(unit.housing, unit.manager, 0.7, submission_id=form)
    again = proof_pull(unit.housing, unit.manager, 0.7, submission_id=form)
    assert again == first
    assert ProofPull.objects.count() == 1


def test_a_form_of_one_housing_is_not_taken_for_another(unit: Unit) -> None:
    form = uuid.uuid4()
    proof_pull(unit.housing, unit.manager, submission_id=form)
    said = refusal(rated_unit(), submission_id=form)[""][0]
    assert f"This form was sent for housing {unit.housing} already" in said


def test_a_unit_that_vibrates_is_no_proof(unit: Unit) -> None:
    assert "exciter still" in refusal(unit, is_vibrating=True)["is_vibrating"][0]


def test_pads_must_be_held_to_the_pad_map(unit: Unit) -> None:
    said = refusal(unit, are_pads_as_recorded=False)["are_pads_as_recorded"][0]
    assert "record the count or the replacement" in said


def test_an_anchor_must_be_named(unit: Unit) -> None:
    assert "what that is rated for" in refusal(unit, anchor="  ")["anchor"][0]


def test_a_crane_shows_no_less_than_what_hangs_below_the_pads(unit: Unit) -> None:
    crane = LoadIndicatorFactory(kind="crane", accuracy_pct=3.0)
    said = refusal(unit, indicator=crane, tare_lbf=1_200.0, weight_below_lb=9_800.0)["tare_lbf"][0]
    assert "1,200 lbf is less than the 9,800 lb" in said


def test_a_unit_never_counted_has_nothing_to_be_held_to() -> None:
    housing, manager = HousingFactory(), ManagerFactory()
    with pytest.raises(ValidationError, match="no ledger entry yet"):
        proof_pull(housing, manager)


def test_a_unit_unrated_has_nothing_to_be_held_to() -> None:
    housing, manager = HousingFactory(), ManagerFactory()
    count(housing, manager, PadLotFactory())
    with pytest.raises(ValidationError, match="This unit is not rated: it lacks an approved rate"):
        proof_pull(housing, manager)


def test_a_unit_without_a_listing_may_be_pulled() -> None:
    """What its pads give is known; only the standing is not."""
    housing, manager, lot = HousingFactory(), ManagerFactory(), PadLotFactory()
    bench_test(lot, manager)
    count(housing, manager, lot)
    assert proof_pull(housing, manager).pull.verdict is Verdict.AGREES


def test_a_pull_before_the_ledger_began_is_refused(unit: Unit) -> None:
    said = refusal(unit, pulled_at=MONDAY - timedelta(days=1))["pulled_at"][0]
    assert "nobody knows which pads it had" in said


def test_a_stretch_beyond_the_usable_travel_is_refused_at_its_reading(unit: Unit) -> None:
    """It is taped at 6 in, and the hammer's weight took an inch of them."""
    far = [*pull_readings(unit.housing), BranchReading(48_000.0, 5.5)]
    with pytest.raises(ReadingRefused, match=r"5\.5 in, with the 1 in that the weight") as refused:
        proof_pull(unit.housing, unit.manager, readings=far, weight_below_lb=8_000.0)
    assert (refused.value.index, refused.value.field) == (9, "stretch_in")
    assert not ProofPull.objects.exists()
    assert proof_pull(unit.housing, unit.manager, readings=far).pull.pk


def test_a_load_no_more_than_what_hung_there_is_refused_at_its_reading(unit: Unit) -> None:
    with pytest.raises(ReadingError) as refused:
        proof_pull(unit.housing, unit.manager, tare_lbf=9_000.0)
    assert (refused.value.index, refused.value.field) == (0, "load_lbf")


def test_too_few_readings_are_refused(unit: Unit) -> None:
    refuse_readings(unit, pull_readings(unit.housing)[:2], "2 readings to compare")


def test_readings_at_one_stretch_are_refused(unit: Unit) -> None:
    at_one = [BranchReading(8_000.0 + each, 1.0) for each in range(4)]
    refuse_readings(unit, at_one, "at one stretch")


@pytest.mark.parametrize(
    ("ratio", "said"),
    [(1 / 2000, "loads in tons typed as lbf"), (1 / 224.8, "loads in kN typed as lbf")],
)
def test_loads_in_another_unit_of_measure_are_refused(unit: Unit, ratio: float, said: str) -> None:
    refuse_readings(unit, pull_readings(unit.housing, ratio), f"it looks like {said}")


def refuse_readings(unit: Unit, readings: list[BranchReading], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        proof_pull(unit.housing, unit.manager, readings=readings)
    assert not ProofPull.objects.exists()
    assert not ProofReading.objects.exists()


@pytest.mark.parametrize(
    "dates",
    [
        {"due_on": None},
        {"calibrated_on": None},
        {"due_on": date(2026, 3, 2)},
        {"calibrated_on": date(2026, 3, 4)},
    ],
)
def test_an_indicator_out_of_calibration_is_kept_and_decides_nothing(
    unit: Unit, dates: dict[str, Any]
) -> None:
    recorded = proof_pull(unit.housing, unit.manager, 0.7, indicator=LoadIndicatorFactory(**dates))
    assert recorded.entry is None
    assert not recorded.pull.is_for_rating
    assert recorded.pull.reservations == [Reservation.OUT_OF_CALIBRATION]
    assert ProofPull.objects.softness_by_housing([unit.housing.pk]) == {}


def test_pads_changed_on_record_since_the_page_was_opened_are_looked_at_again(unit: Unit) -> None:
    shown = unit.housing.ledger_entries.latest("sequence").sequence
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=MONDAY)
    said = refusal(unit, based_on=shown)[""][0]
    assert "look at the pad map again" in said


def test_a_listing_recorded_since_the_page_was_opened_is_no_matter(unit: Unit) -> None:
    shown = unit.housing.ledger_entries.latest("sequence").sequence
    list_hammer(unit.hammer, unit.manager, 30_000)
    pull = proof_pull(unit.housing, unit.manager, based_on=shown).pull
    assert pull.entry.sequence == shown + 1


def test_a_pull_recorded_after_a_pad_was_changed_is_held_to_the_pads_of_then(unit: Unit) -> None:
    """Else changing one pad before recording would lose what the pull found."""
    then = unit.housing.ledger_entries.latest("sequence")
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "missing"}, at=LATER)
    pull = proof_pull(unit.housing, unit.manager, 0.7).pull
    assert pull.entry == then
    assert pull.reservations == [Reservation.PADS_CHANGED]
    assert ProofPull.objects.softness_by_housing([unit.housing.pk]) == {unit.housing.pk: pull}


def test_a_pull_is_held_to_rates_found_since(unit: Unit) -> None:
    bench_test(unit.lot, unit.manager, rate_lbf_in=1000.0, at=LATER)
    pull = proof_pull(unit.housing, unit.manager).pull
    assert pull.entry == unit.housing.ledger_entries.latest("sequence")


def test_cold_rubber_lifts_no_softness_and_may_find_one(unit: Unit) -> None:
    soft = proof_pull(unit.housing, unit.manager, 0.7, rubber_temperature_f=35.0).pull
    assert soft.reservations == [Reservation.COLD]
    proof_pull(unit.housing, unit.manager, pulled_at=LATER, rubber_temperature_f=35.0)
    assert ProofPull.objects.softness_by_housing([unit.housing.pk]) == {unit.housing.pk: soft}


def test_sound_pads_without_a_rate_lift_no_softness(unit: Unit) -> None:
    """They pull, and nobody knows how much."""
    soft = proof_pull(unit.housing, unit.manager, 0.7).pull
    stranger = PadLotFactory()
    seen = [
        replace(pad, lot_id=stranger.pk) if pad.number == 1 else pad
        for pad in pads(unit.housing, unit.lot)
    ]
    sign_inspection(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(seen_at=LATER, pads=seen, travel_in=6.0, kind="pad count"),
        by=unit.manager,
    )
    pull = proof_pull(unit.housing, unit.manager, pulled_at=LATER + timedelta(days=1)).pull
    assert pull.reservations == [Reservation.UNRATED_PADS]
    assert pull.verdict is Verdict.AGREES
    assert ProofPull.objects.softness_by_housing([unit.housing.pk]) == {unit.housing.pk: soft}


def test_a_pull_is_corrected_by_another(unit: Unit) -> None:
    wrong = proof_pull(unit.housing, unit.manager, 0.7).pull
    right = proof_pull(unit.housing, unit.manager, 0.99, corrects=wrong).pull
    assert list(ProofPull.objects.standing()) == [right]
    assert ProofPull.objects.softness_by_housing([unit.housing.pk]) == {}


def test_a_pull_is_corrected_once_and_by_one_of_its_own_unit(unit: Unit) -> None:
    wrong = proof_pull(unit.housing, unit.manager, 0.7).pull
    assert "correct it from there" in refusal(rated_unit(), corrects=wrong)[""][0]
    proof_pull(unit.housing, unit.manager, corrects=wrong)
    assert "corrected already" in refusal(unit, corrects=wrong)[""][0]


def test_pulls_count_in_the_order_they_were_made_however_late_recorded(unit: Unit) -> None:
    proof_pull(unit.housing, unit.manager, 1.0, pulled_at=LATER)
    proof_pull(unit.housing, unit.manager, 0.7)
    assert ProofPull.objects.softness_by_housing([unit.housing.pk]) == {}


def test_the_database_lets_no_pull_be_changed(unit: Unit) -> None:
    pull = proof_pull(unit.housing, unit.manager, 0.7).pull
    for change in (
        lambda: ProofPull.objects.update(ratio=1.0),
        lambda: ProofReading.objects.filter(pull=pull).delete(),
    ):
        with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
            change()


def test_all_of_a_fleet_are_asked_for_in_one_query(
    unit: Unit, django_assert_num_queries: Any
) -> None:
    others = [rated_unit() for _ in range(2)]
    for each in (unit, *others):
        proof_pull(each.housing, each.manager, 0.8)
    keys = [each.housing.pk for each in (unit, *others)]
    with django_assert_num_queries(1):
        held = ProofPull.objects.softness_by_housing(keys)
    assert set(held) == set(keys)


def set_aside(pull: ProofPull, by: Any = None, reason: str = "A sling chafed", **more: Any) -> Any:
    return set_proof_pull_aside(
        submission_id=more.get("submission_id") or uuid.uuid4(),
        pull=pull,
        reason=reason,
        by=by or ManagerFactory(),
    )


def test_a_second_person_sets_a_softness_aside(unit: Unit) -> None:
    pull = proof_pull(unit.housing, unit.manager, 0.7).pull
    set_aside(pull)
    assert ProofPull.objects.softness_by_housing([unit.housing.pk]) == {}
    assert ProofDecision.objects.get().reason == "A sling chafed"


def test_setting_a_later_softness_aside_leaves_an_earlier_one(unit: Unit) -> None:
    first = proof_pull(unit.housing, unit.manager, 0.75).pull
    second = proof_pull(unit.housing, unit.manager, 0.65, pulled_at=LATER).pull
    set_aside(second)
    assert ProofPull.objects.softness_by_housing([unit.housing.pk]) == {unit.housing.pk: first}


def test_a_pull_set_aside_lifts_nothing_either(unit: Unit) -> None:
    first = proof_pull(unit.housing, unit.manager, 0.6).pull
    second = proof_pull(unit.housing, unit.manager, 0.75, pulled_at=LATER).pull
    assert ProofPull.objects.softness_by_housing([unit.housing.pk]) == {unit.housing.pk: second}
    set_aside(second)
    assert ProofPull.objects.softness_by_housing([unit.housing.pk]) == {unit.housing.pk: first}


def test_set_aside_twice_it_is_once(unit: Unit) -> None:
    pull, form = proof_pull(unit.housing, unit.manager, 0.7).pull, uuid.uuid4()
    by = ManagerFactory()
    first = set_aside(pull, by, submission_id=form)
    assert set_aside(pull, by, submission_id=form) == first
    with pytest.raises(ValidationError, match="set aside already"):
        set_aside(pull)


def test_whoever_recorded_the_pull_does_not_set_it_aside(unit: Unit) -> None:
    pull = proof_pull(unit.housing, unit.manager, 0.7).pull
    with pytest.raises(ValidationError, match="a second person must"):
        set_aside(pull, unit.manager)
    with pytest.raises(IntegrityError), transaction.atomic():
        ProofDecision.objects.create(
            submission_id=uuid.uuid4(),
            pull=pull,
            pull_recorded_by=unit.manager,
            recorded_by=unit.manager,
            reason="mine",
        )


def test_a_pull_that_found_no_softness_is_not_set_aside(unit: Unit) -> None:
    with pytest.raises(ValidationError, match="nothing to set aside"):
        set_aside(proof_pull(unit.housing, unit.manager).pull)


def test_a_pull_corrected_is_not_set_aside(unit: Unit) -> None:
    wrong = proof_pull(unit.housing, unit.manager, 0.7).pull
    proof_pull(unit.housing, unit.manager, corrects=wrong)
    with pytest.raises(ValidationError, match="corrected since"):
        set_aside(wrong)


@pytest.mark.parametrize("reason", ["", "   "])
def test_it_is_set_aside_for_a_reason(unit: Unit, reason: str) -> None:
    pull = proof_pull(unit.housing, unit.manager, 0.7).pull
    with pytest.raises(ValidationError, match="say what was found"):
        set_aside(pull, reason=reason)


def test_a_tape_as_it_was_is_kept(unit: Unit) -> None:
    tape = TapeFactory(resolution_in=0.25)
    pull = proof_pull(unit.housing, unit.manager, tape=tape).pull
    tape.resolution_in = 0.01
    tape.save()
    assert ProofPull.objects.get(pk=pull.pk).tape_resolution_in == 0.25


def test_a_softer_unit_is_rated_by_the_lower_at_once(unit: Unit) -> None:
    before = unit.housing.ledger_entries.latest("sequence")
    recorded = proof_pull(unit.housing, unit.manager, 0.7)
    entry = recorded.entry
    assert entry is not None
    assert (entry.cause, entry.cause_record) == (Cause.PROOF_PULL, recorded.pull.pk)
    assert entry.occurred_at == recorded.pull.pulled_at
    assert entry.pull_lbf == pytest.approx(0.7 * (before.pull_lbf or 0.0))
    assert (entry.working_capacity_lbf or 0.0) < 0.7 * (before.pull_lbf or 0.0)
    assert (entry.working_capacity_lbf or 0.0) < (before.working_capacity_lbf or 0.0)
    told = {"record": recorded.pull.pk, "is_softer": True}
    assert entry.contents["provenance"]["proof_pull"] == told
    assert "softer than its pads say" in entry.cause_words
    assert verify_all().entries == unit.housing.ledger_entries.count()


def test_a_stiffer_unit_is_rated_no_higher(unit: Unit) -> None:
    recorded = proof_pull(unit.housing, unit.manager, 1.4)
    assert recorded.pull.is_stiffer
    assert recorded.entry is None


def test_the_pull_is_held_to_the_pads_and_not_to_an_earlier_softness(unit: Unit) -> None:
    """Else a unit as soft as before would agree with itself and lift the flag."""
    proof_pull(unit.housing, unit.manager, 0.7)
    again = proof_pull(unit.housing, unit.manager, 0.7, pulled_at=LATER).pull
    assert again.ratio == pytest.approx(0.7)
    assert again.is_softer


def test_replacing_a_pad_does_not_lift_it(unit: Unit) -> None:
    soft = proof_pull(unit.housing, unit.manager, 0.7).pull
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "missing"}, at=LATER)
    count(unit.housing, unit.manager, unit.lot, at=LATER + timedelta(days=1))
    entry = unit.housing.ledger_entries.latest("sequence")
    assert entry.inputs["proof"]["ratio"] == pytest.approx(0.7)
    assert entry.contents["provenance"]["proof_pull"]["record"] == soft.pk


def test_a_pull_that_agrees_restores_the_figures(unit: Unit) -> None:
    before = unit.housing.ledger_entries.latest("sequence")
    proof_pull(unit.housing, unit.manager, 0.7)
    lifted = proof_pull(unit.housing, unit.manager, 1.0, pulled_at=LATER).entry
    assert lifted is not None
    assert lifted.pull_lbf == before.pull_lbf
    assert lifted.inputs["proof"] is None


def test_setting_it_aside_restores_the_figures(unit: Unit) -> None:
    before = unit.housing.ledger_entries.latest("sequence")
    pull = proof_pull(unit.housing, unit.manager, 0.7).pull
    entry = set_aside(pull)
    assert entry.cause == Cause.PROOF_PULL_SET_ASIDE
    assert entry.pull_lbf == before.pull_lbf
    assert "A sling chafed" in entry.cause_words


def test_a_correction_says_which_entry_it_corrects(unit: Unit) -> None:
    wrong = proof_pull(unit.housing, unit.manager, 0.7)
    right = proof_pull(unit.housing, unit.manager, 0.99, corrects=wrong.pull)
    assert right.entry is not None
    assert right.entry.corrects == wrong.entry
    assert right.entry.inputs["proof"] is None
    assert verify_all().housings == 1


def test_a_late_record_of_a_pull_posts_at_its_own_time(unit: Unit) -> None:
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "missing"}, at=LATER)
    entry = proof_pull(unit.housing, unit.manager, 0.7).entry
    assert entry is not None
    assert entry.occurred_at == MONDAY + timedelta(days=1)
    # What seven pads would give at 0.7, held to the eight it had then.
    assert entry.inputs["proof"]["ratio"] == pytest.approx(0.7 * 7 / 8)
    assert entry.sound_pads == 7


def test_a_good_pull_that_agrees_and_is_lower_counts(unit: Unit) -> None:
    """It measured this unit, where the pads' tests speak of pads like its own."""
    before = unit.housing.ledger_entries.latest("sequence")
    entry = proof_pull(unit.housing, unit.manager, 0.95, rubber_temperature_f=68.0).entry
    assert entry is not None
    assert entry.pull_lbf == pytest.approx(0.95 * (before.pull_lbf or 0.0))
    assert (entry.working_capacity_lbf or 0.0) <= (before.working_capacity_lbf or 0.0)
    assert not entry.contents["provenance"]["proof_pull"]["is_softer"]
    assert verify_all().housings == 1


@pytest.mark.parametrize(
    "more",
    [
        {"rubber_temperature_f": None},
        {"indicator": {"accuracy_pct": 12.0}},
        {"indicator": {"due_on": None}},
        {"rubber_temperature_f": 35.0},
    ],
)
def test_a_poor_pull_that_agrees_lowers_nothing(unit: Unit, more: dict[str, Any]) -> None:
    """No temperature read, a crude indicator, one out of calibration, cold rubber."""
    given = {"rubber_temperature_f": 68.0} | more
    if "indicator" in given:
        given["indicator"] = LoadIndicatorFactory(**given["indicator"])
    assert proof_pull(unit.housing, unit.manager, 0.97, **given).entry is None


def test_a_good_pull_that_agrees_and_is_higher_raises_nothing(unit: Unit) -> None:
    assert proof_pull(unit.housing, unit.manager, 1.04, rubber_temperature_f=68.0).entry is None


def test_a_pull_that_agreed_tells_only_of_the_pads_it_was_made_with(unit: Unit) -> None:
    proof_pull(unit.housing, unit.manager, 0.95, rubber_temperature_f=68.0)
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "missing"}, at=LATER)
    entry = unit.housing.ledger_entries.latest("sequence")
    assert entry.inputs["proof"] is None
    count(unit.housing, unit.manager, unit.lot, at=LATER + timedelta(days=1))
    assert unit.housing.ledger_entries.latest("sequence").inputs["proof"] is not None


def test_a_pull_that_agreed_tells_only_of_the_rates_it_was_held_to(unit: Unit) -> None:
    """Else what it found and what a new test finds of the same rubber would both count."""
    proof_pull(unit.housing, unit.manager, 0.95, rubber_temperature_f=68.0)
    bench_test(unit.lot, unit.manager, rate_lbf_in=980.0, at=LATER)
    assert unit.housing.ledger_entries.latest("sequence").inputs["proof"] is None


def test_a_preview_holds_other_pads_to_a_softness_alone(unit: Unit) -> None:
    proof_pull(unit.housing, unit.manager, 0.95, rubber_temperature_f=68.0)

    def ratio(seen: list[PadSeen]) -> float | None:
        of = Seen(seen_at=LATER, pads=seen)
        return preview_inspection(housing=unit.housing, seen=of, by=unit.manager).rating.proof_ratio

    seven = pads(unit.housing, unit.lot, {"A1": "missing"})
    assert ratio([]) == pytest.approx(0.95)
    assert ratio(seven) is None
    proof_pull(unit.housing, unit.manager, 0.7, pulled_at=LATER)
    assert ratio(seven) == pytest.approx(0.7)
