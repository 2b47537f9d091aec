"""Which units suit a job, best first; and all that is calculated of one of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from copy import copy
from dataclasses import dataclass, field, replace
from datetime import date

from django.core.paginator import Paginator

from fleet.models import SuppressorHousing
from ratings.jobs.candidates import Candidate, candidates
from ratings.jobs.recording import jobs_of
from ratings.jobs.remedies import Remedies, remedies_for
from ratings.jobs.rules import rules_in_force
from ratings.mechanics.extraction.check import check, check_fleet, ranking
from ratings.mechanics.extraction.demand import CurvePoint, LoadPath, demand_curve, load_path
from ratings.mechanics.extraction.ground import Ground, ground
from ratings.mechanics.extraction.job import Job, PileOfJob
from ratings.mechanics.extraction.outcomes import CheckKey, UnitVerdict, Verdict
from ratings.mechanics.extraction.record import read_answer
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.supply import line_pull_of, stretch_while_vibrating_in
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.linepull import LinePull
from ratings.models import ExtractionJob, JobAnswer

ROWS_ON_A_PAGE = 25


@dataclass(frozen=True)
class Question:
    """What is asked: piles, their days, how far the yards are, whose commitments don't count."""

    piles: tuple[PileOfJob, ...]
    first_day: date
    last_day: date
    distances: Mapping[int, float] = field(default_factory=dict)
    leave_out_job: int | None = None

    @property
    def job(self) -> Job:
        """The first group of piles."""
        return self.piles[0].job


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
    job: Job
    ground: Ground
    policy: ExtractionPolicy


@dataclass(frozen=True)
class UnitAnswer:
    """One unit's answer, with all that was calculated for it.

    stretch_in: that the unit may be pulled to on this job, None where not known. pull: its line
        pull there, None where there is none.
    remedies: what would make it suitable; of an answer on record nothing, for what lay in stock
        then is not in its document.
    """

    candidate: Candidate
    job: Job
    policy: ExtractionPolicy
    verdict: UnitVerdict
    ground: Ground
    path: LoadPath
    curve: tuple[CurvePoint, ...]
    stretch_in: float | None
    pull: LinePull | None
    remedies: Remedies = field(default_factory=Remedies)

    @property
    def unit(self) -> Unit:
        """The unit's facts, as the check took them."""
        return self.candidate.unit

    def demand(self, key: CheckKey) -> float | None:
        """Return what a check asks, in its own unit of measure; None where not known or checked."""
        found = self.verdict.check(key)
        return found.demand if found else None

    def supply(self, key: CheckKey) -> float | None:
        """Return what there is against it; None where not known or checked."""
        found = self.verdict.check(key)
        return found.supply if found else None


def question_of(row: ExtractionJob) -> Question:
    """Return what a job on record asks. Its own commitments don't count against its units."""
    return Question(jobs_of(row), row.first_day, row.last_day, row.distances_mi, row.pk)


def answer_for(asked: Question, page: int = 1) -> Answer:
    """Rank every unit for a job, and return one page of them.

    Raises LayerFault where the layers give no resistance.
    """
    found = candidates(
        asked.first_day, asked.last_day, asked.distances, leave_out_job=asked.leave_out_job
    )
    policy = rules_in_force()
    verdicts = check_fleet([each.unit for each in found], asked.job, policy)
    ranked = ranking(verdicts)
    shown = Paginator(ranked, ROWS_ON_A_PAGE).get_page(max(page, 1))
    rows = tuple(
        Row(rank, found[place], verdicts[place])
        for rank, place in enumerate(shown, start=shown.start_index())
    )
    counts = Counter(each.verdict for each in verdicts)
    return Answer(
        rows=rows,
        counts=tuple((each, counts[each]) for each in Verdict),
        units=len(found),
        page=shown.number,
        pages=shown.paginator.num_pages,
        off_hammer=SuppressorHousing.objects.count() - len(found),
        job=asked.job,
        ground=ground(asked.job, policy),
        policy=policy,
    )


def answer_for_unit(asked: Question, housing_id: int) -> UnitAnswer | None:
    """Return one unit's answer as its records stand; None where it is on no hammer.

    Raises LayerFault where the layers give no resistance.
    """
    found = candidates(
        asked.first_day,
        asked.last_day,
        asked.distances,
        leave_out_job=asked.leave_out_job,
        only_housing=housing_id,
    )
    if not found:
        return None
    answer = calculate(found[0], asked.job, rules_in_force())
    return replace(
        answer,
        remedies=remedies_for(
            answer.candidate, answer.job, answer.policy, answer.verdict, answer.stretch_in
        ),
    )


def recorded_answer(recorded: JobAnswer) -> UnitAnswer:
    """Return a recorded answer, calculated again from its document and nothing else.

    Housing and hammer bear the marks they had then. Raises KeyError, TypeError or ValueError
    where the document can't be read as an answer.
    """
    contents = recorded.contents
    unit, job, policy = read_answer(contents)
    housing, hammer = copy(recorded.housing), copy(recorded.hammer)
    housing.mark, hammer.mark = contents["housing"], contents["hammer"]
    return calculate(Candidate(housing, hammer, recorded.entry, unit), job, policy)


def calculate(candidate: Candidate, job: Job, policy: ExtractionPolicy) -> UnitAnswer:
    """Return a unit's answer, but for what would make it suitable.

    Raises LayerFault where the layers give no resistance.
    """
    unit = candidate.unit
    resistance, stretch_in = ground(job, policy), stretch_while_vibrating_in(unit, job)
    return UnitAnswer(
        candidate=candidate,
        job=job,
        policy=policy,
        verdict=check(unit, job, policy, resistance),
        ground=resistance,
        path=load_path(unit, job, policy),
        curve=demand_curve(unit, job, policy),
        stretch_in=stretch_in,
        pull=line_pull_of(unit, stretch_in) if stretch_in else None,
    )
