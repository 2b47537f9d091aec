from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from ratings.jobs.commitments import release_unit
from ratings.jobs.recording import jobs_of, save_job
from ratings.mechanics.extraction.job import PileEnd, PullMethod
from ratings.mechanics.soil import Layer, LayerKind
from ratings.models import ExtractionJob, SoilLayer, YardDistance
from tests.all_tables import changed, everything
from tests.factories import DispatcherFactory, YardFactory
from tests.job_builders import GROUND, PILE, PLAIN, commit, extraction_job, figured_unit, job_of

pytestmark = pytest.mark.django_db

PEAT = Layer(LayerKind.OTHER, 0.0, 60.0, 90.0, friction_psf=150.0, vibration_factor=0.5)


def save(job: ExtractionJob | None, **more: Any) -> ExtractionJob:
    plain: dict[str, Any] = {
        "submission_id": uuid.uuid4(),
        "fields": {},
        "piles": [PILE],
        "layers": GROUND,
        "distances": {},
        "by": DispatcherFactory(),
    }
    return save_job(job=job, **plain | more)


def test_a_job_is_kept_as_the_mechanics_take_it() -> None:
    yard = YardFactory()
    saved = extraction_job(distances={yard.pk: 35.0}, is_plugged=True, plug_area_in2=190.0)
    found = job_of(ExtractionJob.objects.get(pk=saved.pk))
    assert found.layers == GROUND
    assert found.pile.weight_lb_ft == PILE["weight_lb_ft"]
    assert found.pile.plug_area_in2 == 190.0
    assert found.crane.capacity_lbf == PLAIN["capacity_lbf"]
    assert found.method is PullMethod.VIBRATING
    assert saved.distances_mi == {yard.pk: 35.0}


def test_a_pile_that_is_not_plugged_carries_no_plug() -> None:
    assert job_of(extraction_job(is_plugged=False, plug_area_in2=190.0)).pile.plug_area_in2 == 0.0


def test_a_second_copy_of_a_new_job_changes_nothing() -> None:
    sent, today = uuid.uuid4(), timezone.localdate()
    fields = PLAIN | {"first_day": today, "last_day": today}
    first = save(None, submission_id=sent, fields=fields)
    before = everything()
    assert save(None, submission_id=sent, fields=fields | {"site": "Other"}) == first
    assert changed(before) <= {"auth.User", "auth.User_groups"}


def test_a_change_takes_the_place_of_ground_and_distances() -> None:
    near, far = YardFactory(), YardFactory()
    job = extraction_job(distances={near.pk: 5.0, far.pk: 90.0})
    by = DispatcherFactory()
    saved = save(job, fields={"note": "Ice."}, layers=(PEAT,), distances={far.pk: 80.0}, by=by)
    assert job_of(saved).layers == (PEAT,)
    assert saved.distances_mi == {far.pk: 80.0}
    assert (SoilLayer.objects.count(), YardDistance.objects.count()) == (1, 1)
    assert (saved.note, saved.changed_by) == ("Ice.", by)
    assert saved.created_by != by


def test_nothing_is_half_saved() -> None:
    job = extraction_job()
    before = everything()
    with pytest.raises(IntegrityError), transaction.atomic():
        save(job, fields={"site": "Elsewhere"}, layers=(PEAT,), distances={0: -1.0})
    assert changed(before) <= {"auth.User", "auth.User_groups"}


def test_days_reversed_are_refused_by_the_database_too() -> None:
    today = timezone.localdate()
    fields = PLAIN | {"first_day": today, "last_day": today - timedelta(days=1)}
    with pytest.raises(IntegrityError, match="job_ends_after_it_begins"), transaction.atomic():
        save(None, fields=fields)


def test_the_answer_a_unit_was_committed_on_stays_as_it_was() -> None:
    job = extraction_job()
    answer = commit(figured_unit(), job).answer
    document = answer.document
    save(job, piles=[PILE | {"embedment_ft": 12.0}], layers=(PEAT,))
    answer.refresh_from_db()
    assert answer.document == document


def test_days_change_once_the_units_are_released() -> None:
    job = extraction_job()
    made = commit(figured_unit(), job)
    later = {
        "first_day": job.first_day + timedelta(days=7),
        "last_day": job.last_day + timedelta(days=7),
    }
    with pytest.raises(ValidationError) as refused:
        save(job, fields=later)
    assert "release it first" in refused.value.message_dict["first_day"][0]
    release_unit(commitment=made, reason="Put off a week.", by=DispatcherFactory())
    assert save(job, fields=later).first_day == later["first_day"]


def test_other_numbers_of_a_job_that_holds_units_may_change() -> None:
    job = extraction_job()
    commit(figured_unit(), job)
    saved = save(job, piles=[PILE | {"embedment_ft": 30.0}])
    assert saved.pile_groups.get().embedment_ft == 30.0


def test_a_job_keeps_its_groups_of_piles_in_their_order() -> None:
    job = extraction_job(
        piles=[
            {"label": "north row", "count": 12},
            {"section": "HP14×73", "count": 4, "embedment_ft": 30.0},
        ]
    )
    first, second = jobs_of(ExtractionJob.objects.get(pk=job.pk))
    assert (first.number, first.label, first.count) == (1, "north row", 12)
    assert (second.number, second.label, second.count) == (2, "HP14×73", 4)
    assert (first.job.pile.embedment_ft, second.job.pile.embedment_ft) == (40.0, 30.0)
    assert first.job.layers == second.job.layers == GROUND


def test_a_group_taken_out_is_gone_from_the_job() -> None:
    job = extraction_job(piles=[{"label": "north"}, {"label": "south"}])
    saved = save(job, piles=[PILE | {"label": "south"}])
    assert [group.label for group in saved.pile_groups.all()] == ["south"]


def test_a_job_without_a_pile_is_refused() -> None:
    before = everything()
    with pytest.raises(ValidationError, match="There is no pile"):
        save(None, piles=[])
    assert changed(before) <= {"auth.User", "auth.User_groups"}


OPEN_PIPE: dict[str, Any] = {
    "kind": "pipe",
    "perimeter_in": 75.4,
    "area_in2": 36.9,
    "plug_area_in2": 415.5,
}


@pytest.mark.parametrize(
    ("end", "plug_in2", "inside_in"),
    [
        ("closed", 0.0, 0.0),
        ("open, cored", 0.0, 72.26),
        ("open, plugged", 415.5, 0.0),
        ("open, not known", 415.5, 72.26),
    ],
)
def test_the_end_of_a_pipe_says_what_of_the_soil_within_counts(
    end: str, plug_in2: float, inside_in: float
) -> None:
    pile = job_of(extraction_job(**OPEN_PIPE, end=end)).pile
    assert pile.end == end
    assert pile.plug_area_in2 == plug_in2
    assert pile.inside_perimeter_in == pytest.approx(inside_in, abs=0.01)


@pytest.mark.parametrize("missing", [{}, {"plug_area_in2": None}, {"area_in2": None}])
def test_a_pipe_nobody_was_asked_about_counts_as_open_and_not_known(
    missing: dict[str, Any],
) -> None:
    pile = job_of(extraction_job(**OPEN_PIPE | missing, end="")).pile
    assert pile.end is PileEnd.OPEN_UNKNOWN
    assert pile.plug_area_in2 == pytest.approx(415.5, rel=0.002)
    assert pile.inside_perimeter_in == pytest.approx(72.26, rel=0.001)


@pytest.mark.parametrize(
    ("pile", "constraint"),
    [
        ({"kind": "H", "end": "closed"}, "pile_group_end_of_a_pipe"),
        ({"kind": "pipe", "end": "closed", "is_plugged": True}, "pile_group_end_of_a_pipe"),
        ({"kind": "pipe", "end": "bent"}, "pile_group_end_of_a_pipe"),
        ({"count": 0}, "pile_group_in_range"),
        ({"embedment_ft": 51.0}, "pile_group_in_range"),
        ({"inside_perimeter_in": 56.4}, "pile_group_inside_within"),
    ],
)
def test_a_pile_that_cannot_be_is_refused_by_the_database_too(
    pile: dict[str, Any], constraint: str
) -> None:
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        extraction_job(piles=[pile])
