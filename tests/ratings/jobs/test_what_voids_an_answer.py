"""Whatever an answer rests on voids it when it changes: each in turn, and the reason said."""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable, Iterator
from dataclasses import asdict, fields, replace
from datetime import date, timedelta
from typing import Any

import pytest
from django.utils import timezone

from fleet import clock
from fleet.models import Clamp, ClampFitting, Hammer, PadPosition, SuppressorHousing, Transfer
from fleet.outages import take_out_of_service
from ratings.jobs.commitments import CannotCommit, confirm_commitment
from ratings.jobs.rules import change_rules, rules_in_force
from ratings.jobs.validity import PRINTED_RULES, WATCHED, CommitmentNow, ReasonKey, commitments_now
from ratings.mechanics.extraction.check import check_piles
from ratings.mechanics.extraction.record import read_answer, verdict_record
from ratings.mechanics.extraction.rules import BelowListing, Criterion, ExtractionPolicy
from ratings.mechanics.extraction.unit import Unit as UnitOfCheck
from ratings.mechanics.unit_rating import StaleRates
from ratings.models import Commitment, ExtractionJob, JobAnswer, LoadIndicator, RatingPolicy
from ratings.models.policy import rating_policy
from ratings.mounting import mount_housing
from ratings.policy import change_policy
from tests.builders import MONDAY, Unit, count, list_hammer, proof_pull
from tests.conftest import append_only_lifted
from tests.factories import (
    DispatcherFactory,
    HammerFactory,
    LoadIndicatorFactory,
    ManagerFactory,
    PadLotFactory,
    YardFactory,
)
from tests.job_builders import commit, extraction_job, figured_unit

pytestmark = pytest.mark.django_db

# Nothing on record: what today is to the job, and by which method the entry it names is read.
NOT_WATCHED = {"mark", "is_ahead", "rating_format"}
Change = Callable[[Unit, ExtractionJob], object]


def rerate(**changes: Any) -> Change:
    def change(unit: Unit, job: ExtractionJob) -> None:
        change_policy(
            submission_id=uuid.uuid4(),
            policy=replace(rating_policy(), **changes),
            reason="Found wrong",
            by=unit.manager,
        )

    return change


def of_hammer(**figures: float) -> Change:
    return lambda unit, job: Hammer.objects.filter(pk=unit.hammer.pk).update(**figures)


def of_clamp(**changes: Any) -> Change:
    return lambda unit, job: Clamp.objects.update(**changes)


def of_housing(**changes: Any) -> Change:
    return lambda unit, job: SuppressorHousing.objects.filter(pk=unit.housing.pk).update(**changes)


def counted(**more: Any) -> Change:
    def change(unit: Unit, job: ExtractionJob) -> None:
        count(unit.housing, unit.manager, unit.lot, at=timezone.now(), **more)

    return change


def an_unknown_pad(unit: Unit, job: ExtractionJob) -> None:
    """One position gets a pad of a lot that nobody rated."""
    PadPosition.objects.filter(housing=unit.housing, side="A", number=1).update(lot=PadLotFactory())
    list_hammer(unit.hammer, unit.manager, 40_001.0)


def elsewhere(unit: Unit, job: ExtractionJob) -> None:
    Transfer.objects.create(
        submission_id=uuid.uuid4(),
        housing=unit.housing,
        origin=unit.housing.yard,
        goal=YardFactory(),
        leaves_on=job.first_day,
        arrives_on=job.last_day,
        recorded_by=unit.manager,
    )


def overdue(unit: Unit, job: ExtractionJob) -> None:
    with append_only_lifted():
        unit.housing.inspections.update(seen_at=timezone.now() - timedelta(days=40))


# By the field of the check that rests on it, what changes on record.
SOURCES: dict[str, Change] = {
    "groups": counted(unsound={"A1": "cracked"}),
    "stiff_groups": counted(unsound={"A1": "missing"}),
    "unknown_stiffness": an_unknown_pad,
    "usable_travel_in": counted(travel_in=5.5),
    "standing": lambda unit, job: list_hammer(unit.hammer, unit.manager, 60_000.0),
    "proof": lambda unit, job: proof_pull(unit.housing, unit.manager, 0.8),
    "travel_uncertainty_in": rerate(tape_resolution_in=0.25),
    "confidence": rerate(confidence=0.99),
    "drops_stale": rerate(stale_rates=StaleRates.DROP),
    "eccentric_moment_lb_in": of_hammer(eccentric_moment_lb_in=4300.0),
    "frequency_vpm": of_hammer(frequency_vpm=1500.0),
    "exciter_weight_lb": of_hammer(exciter_weight_lb=8500.0),
    "clamp_weight_lb": of_clamp(weight_lb=2100.0),
    "clamp_force_lbf": of_clamp(clamp_force_lbf=40_000.0),
    "clamp_kinds": of_clamp(holds_h=False),
    "housing_weight_lb": of_housing(weight_lb=4100.0),
    "committed": elsewhere,
    "distance_mi": lambda unit, job: of_housing(yard=YardFactory())(unit, job),
    "watched_by": lambda unit, job: ExtractionJob.objects.update(
        indicator=LoadIndicatorFactory(due_on=job.last_day)
    ),
    "calibration_lapsing": lambda unit, job: LoadIndicator.objects.update(due_on=job.first_day),
    "days_since_count": overdue,
    "out_of_service": lambda unit, job: take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=unit.hammer,
        since=timezone.now(),
        reason="Cracked lug",
        by=unit.manager,
    ),
    "days_held": lambda unit, job: ExtractionJob.objects.update(
        last_day=job.last_day + timedelta(days=1)
    ),
}
# A rate goes stale by the clock alone.
BY_THE_CLOCK = {"stale_lots", "lapsing_lots"}


def committed(unit: Unit) -> tuple[Commitment, ExtractionJob]:
    job = extraction_job(
        distances={unit.housing.yard_id: 20.0},
        indicator=LoadIndicatorFactory(due_on=date(2099, 1, 1)),
        note="Power line to the north",
    )
    return commit(unit, job), job


def now_of(made: Commitment) -> CommitmentNow:
    (only,) = commitments_now(Commitment.objects.filter(pk=made.pk))
    return only


def test_each_field_of_a_unit_is_watched_and_has_its_test() -> None:
    watched = [name for names in WATCHED.values() for name in names]
    assert len(watched) == len(set(watched))
    assert set(watched) == {each.name for each in fields(UnitOfCheck)} - NOT_WATCHED
    assert set(SOURCES) | BY_THE_CLOCK == set(watched)


@pytest.mark.parametrize("name", SOURCES)
def test_a_change_of_what_it_rests_on_voids_an_answer(name: str) -> None:
    unit = figured_unit()
    made, job = committed(unit)
    assert now_of(made).word == "valid"
    SOURCES[name](unit, job)
    now = now_of(made)
    said = {key: [each.words for each in now.reasons if each.key is key] for key in now.keys}
    (reason,) = [key for key, names in WATCHED.items() if name in names]
    found = ReasonKey.STANDING if reason is ReasonKey.RATING and now.fell else reason
    assert now.is_void
    assert said.get(found), said
    assert all(said[found])


def test_a_rate_gone_stale_by_the_clock_voids_it_before_any_entry_says_so() -> None:
    unit = figured_unit()
    made, _job = committed(unit)
    days = rating_policy().rate_valid_days
    with clock.set_to(MONDAY + timedelta(days=days + 1)):
        now = now_of(made)
    assert f"The rate of lot {unit.lot}, on which" in now.words
    assert "is stale now" in now.words


def test_a_rate_that_will_be_stale_before_the_last_day_voids_it_too() -> None:
    unit = figured_unit()
    made, _job = committed(unit)
    ends = timezone.now() - MONDAY + timedelta(days=2)
    RatingPolicy.objects.create(
        submission_id=uuid.uuid4(),
        recorded_by=unit.manager,
        reason="Shorter",
        **asdict(replace(rating_policy(), rate_valid_days=ends.days)),
    )
    assert "will be stale before the last day" in now_of(made).words


def test_a_clamp_of_the_same_figures_is_another_clamp_all_the_same() -> None:
    unit = figured_unit()
    made, _job = committed(unit)
    ClampFitting.objects.update(removed_at=timezone.now())
    clamp = Clamp.objects.get()
    clamp.pk, clamp.mark = None, "C-99"
    clamp.save()
    ClampFitting.objects.create(
        clamp=clamp, hammer=unit.hammer, fitted_at=timezone.now(), recorded_by=unit.manager
    )
    assert f"its clamp, which is {clamp.mark} now" in now_of(made).words


def test_a_housing_hung_from_another_hammer_voids_it() -> None:
    unit = figured_unit()
    made, _job = committed(unit)
    mount_housing(housing=unit.housing, hammer=HammerFactory(), at=timezone.now(), by=unit.manager)
    assert ReasonKey.HAMMER in now_of(made).keys


def test_what_the_sheet_says_beside_its_figures_voids_it_too() -> None:
    unit = figured_unit()
    made, job = committed(unit)
    ExtractionJob.objects.filter(pk=job.pk).update(note="Power line to the south")
    assert "says of the job beside its figures changed since (note)" in now_of(made).words


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The path of each figure and word in JSON values."""
    if isinstance(value, dict | list):
        named = value.items() if isinstance(value, dict) else enumerate(value)
        for key, each in named:
            yield from leaves(each, (*path, key))
    else:
        yield path


def other(value: Any) -> Any:
    """Another value, near enough that it is read as the first was."""
    if isinstance(value, bool) or value is None:
        return not value if isinstance(value, bool) else 1
    return value * 1.01 if isinstance(value, float) else value + 1 if isinstance(value, int) else ""


def test_no_figure_of_a_job_changes_without_voiding_it() -> None:
    """The answer's document is changed in place of the job, one figure after another."""
    made, _job = committed(figured_unit())
    document = made.answer.document
    paths = list(leaves(json.loads(document)["piles"], ("piles",)))
    assert len(paths) > 40
    held = []
    for path in paths:
        contents = json.loads(document)
        where = contents
        for key in path[:-1]:
            where = where[key]
        where[path[-1]] = other(where[path[-1]])
        with append_only_lifted():
            JobAnswer.objects.update(document=json.dumps(contents))
        if not now_of(made).keys & {ReasonKey.JOB, ReasonKey.FAULT}:
            held.append(path)
    assert held == []


OTHER_RULES: dict[str, Any] = {
    "below_listing": BelowListing.CARE.value,
    "criterion": Criterion.ADDED.value,
    "inspection_days": 40,
    "longest_hold_days": 90,
    "crane_share": 0.7,
    "steel_share": 0.55,
    "jaw_friction": 0.29,
}


@pytest.mark.parametrize("name", [each.name for each in fields(ExtractionPolicy)])
def test_by_rules_changed_the_check_is_made_again_and_compared(name: str) -> None:
    made, _job = committed(figured_unit())
    rules = rules_in_force()
    if name == "soils":
        value: Any = tuple(replace(each, factor=each.factor * 0.99) for each in rules.soils)
    else:
        value = OTHER_RULES[name] if name in OTHER_RULES else getattr(rules, name) * 1.01
    changed = replace(rules, **{name: value})
    change_rules(
        submission_id=uuid.uuid4(), policy=changed, reason="Found wrong", by=ManagerFactory()
    )
    unit, piles, before = read_answer(made.answer.contents)
    both = [verdict_record(check_piles(unit, piles, each)) for each in (before, changed)]
    now = now_of(made)
    assert now.is_void is (both[0] != both[1] or name in PRINTED_RULES)
    assert not now.is_void or f"({name.replace('_', ' ')})" in now.words


def test_jaw_friction_and_the_soils_are_among_what_changes_an_answer() -> None:
    made, _job = committed(figured_unit())
    unit, piles, rules = read_answer(made.answer.contents)
    for changed in (
        replace(rules, jaw_friction=0.29),
        replace(rules, soils=tuple(replace(each, factor=0.9) for each in rules.soils)),
    ):
        assert verdict_record(check_piles(unit, piles, changed)) != verdict_record(
            check_piles(unit, piles, rules)
        )


def test_slippery_jaws_found_late_say_so_on_the_sheet() -> None:
    made, _job = committed(figured_unit())
    change_rules(
        submission_id=uuid.uuid4(),
        policy=replace(rules_in_force(), jaw_friction=0.02),
        reason="Slipped twice",
        by=ManagerFactory(),
    )
    now = now_of(made)
    assert now.is_void
    assert "would be not suitable for this job (clamp grip)" in now.words
    with pytest.raises(CannotCommit, match="not suitable"):
        confirm_commitment(
            submission_id=uuid.uuid4(),
            commitment=made,
            by=DispatcherFactory(),
            is_care_known=True,
            watched_by="Odd Brandt",
        )


def test_a_soil_taken_out_of_the_table_voids_what_rests_on_it_and_breaks_no_page() -> None:
    made, _job = committed(figured_unit())
    rules = rules_in_force()
    change_rules(
        submission_id=uuid.uuid4(),
        policy=replace(rules, soils=rules.soils[:1]),
        reason="Fewer soils",
        by=ManagerFactory(),
    )
    assert "it can’t be judged by the rules now in force" in now_of(made).words
