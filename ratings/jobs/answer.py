"""Which units suit a job, best first; and all there is to say of one of them."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from fleet.models import SuppressorHousing
from ratings.jobs.candidates import Candidate, candidates
from ratings.jobs.recording import distances_of, job_of
from ratings.jobs.rules import rules_in_force
from ratings.mechanics.extraction.check import check, check_fleet, ranking
from ratings.mechanics.extraction.demand import CurvePoint, LoadPath, demand_curve, load_path
from ratings.mechanics.extraction.ground import Ground, ground
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.policy import ExtractionPolicy
from ratings.mechanics.extraction.supply import stretch_while_vibrating_in
from ratings.mechanics.extraction.verdict import UnitVerdict, Verdict
from ratings.models import ExtractionJob

ROWS_ON_A_PAGE = 25


@dataclass(frozen=True)
class Question:
    """What is asked: a job, its days, how far the yards are, and whose commitments don't count."""

    job: Job
    first_day: date
    last_day: date
    distances: Mapping[int, float] = field(default_factory=dict)
    leave_out_job: int | None = None


@dataclass(frozen=True)
class Row:
    """A unit in the ranking."""

    rank: int
    candidate: Candidate
    verdict: UnitVerdict


@dataclass(frozen=True)
class Answer:
    """A page of the ranking. off_hammer: housings that hang from no hammer, and so aren't asked."""

    rows: tuple[Row, ...]
    counts: tuple[tuple[Verdict, int], ...]
    units: int
    page: int
    pages: int
    off_hammer: int
    ground: Ground
    policy: ExtractionPolicy


@dataclass(frozen=True)
class UnitAnswer:
    """One unit's answer, with all that it rests on."""

    candidate: Candidate
    verdict: UnitVerdict
    job: Job
    policy: ExtractionPolicy
    ground: Ground
    path: LoadPath
    curve: tuple[CurvePoint, ...]
    stretch_in: float | None


def question_of(row: ExtractionJob) -> Question:
    """Return what a job on record asks. Its own commitments don't count against its units."""
    return Question(job_of(row), row.first_day, row.last_day, distances_of(row), row.pk)


def answer_for(asked: Question, page: int = 1) -> Answer:
    """Rank every unit for a job, and tell one page of them.

    Raises LayerFault where the layers give no resistance.
    """
    found = candidates(
        asked.first_day, asked.last_day, asked.distances, leave_out_job=asked.leave_out_job
    )
    policy = rules_in_force()
    verdicts = check_fleet([each.unit for each in found], asked.job, policy)
    ranked = ranking(verdicts)
    pages = max(1, math.ceil(len(ranked) / ROWS_ON_A_PAGE))
    shown = min(max(page, 1), pages)
    first = (shown - 1) * ROWS_ON_A_PAGE
    rows = tuple(
        Row(rank, found[place], verdicts[place])
        for rank, place in enumerate(ranked[first : first + ROWS_ON_A_PAGE], start=first + 1)
    )
    counts = Counter(each.verdict for each in verdicts)
    return Answer(
        rows=rows,
        counts=tuple((each, counts[each]) for each in Verdict),
        units=len(found),
        page=shown,
        pages=pages,
        off_hammer=SuppressorHousing.objects.count() - len(found),
        ground=ground(asked.job, policy),
        policy=policy,
    )


def answer_for_unit(asked: Question, housing_id: int) -> UnitAnswer | None:
    """Return all there is to say of one unit; None where it is on no hammer."""
    found = candidates(
        asked.first_day,
        asked.last_day,
        asked.distances,
        leave_out_job=asked.leave_out_job,
        only_housing=housing_id,
    )
    if not found:
        return None
    unit, policy = found[0].unit, rules_in_force()
    return UnitAnswer(
        candidate=found[0],
        verdict=check(unit, asked.job, policy),
        job=asked.job,
        policy=policy,
        ground=ground(asked.job, policy),
        path=load_path(unit, asked.job, policy),
        curve=demand_curve(unit, asked.job, policy),
        stretch_in=stretch_while_vibrating_in(unit, asked.job),
    )
