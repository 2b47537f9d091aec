"""Which units suit a job, best first; and all that is calculated of one of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from copy import copy
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum
from functools import cached_property

from django.core.paginator import Paginator

from fleet.models import SuppressorHousing
from ratings.jobs.candidates import (
    NOT_NAMED,
    Candidate,
    Watch,
    candidates,
    units_on_hammers,
    watch_of,
    with_records,
    with_stiffness,
)
from ratings.jobs.mendable import Mending, mended_by_pads, mending_of
from ratings.jobs.recording import jobs_of
from ratings.jobs.remedies import Remedies, remedies_for
from ratings.jobs.rules import rules_in_force
from ratings.mechanics.extraction.check import check_piles, judge_fleet, ranking
from ratings.mechanics.extraction.demand import CurvePoint, LoadPath, demand_curve, load_path
from ratings.mechanics.extraction.ground import Ground, ground
from ratings.mechanics.extraction.job import Job, PileOfJob
from ratings.mechanics.extraction.outcomes import CheckKey, UnitVerdict, Verdict
from ratings.mechanics.extraction.record import read_answer, recorded_verdict
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.supply import line_pull_of, stretch_while_vibrating_in
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.linepull import LinePull
from ratings.mechanics.record import read_inputs
from ratings.models import ExtractionJob, JobAnswer

ROWS_ON_A_PAGE = 25


class Only(StrEnum):
    """Which units of the ranking are shown."""

    ALL = ""
    GOING = "going"
    PROMISED = "promised"


# The format of answers from which on they say what every pad fitted may pull.
STIFFNESS_SINCE = 3


@dataclass(frozen=True)
class Question:
    """What is asked: the groups of piles of a job, its days, how far the yards are.

    leave_out_job: whose commitments don't count. watch: what watches the pull.
    """

    piles: tuple[PileOfJob, ...]
    first_day: date
    last_day: date
    distances: Mapping[int, float] = field(default_factory=dict)
    leave_out_job: int | None = None
    watch: Watch = NOT_NAMED

    @property
    def job(self) -> Job:
        """A pile of the first group, in its ground under the job's crane."""
        return self.piles[0].job


@dataclass(frozen=True)
class Row:
    """A unit in the ranking."""

    rank: int
    candidate: Candidate
    verdict: UnitVerdict


@dataclass(frozen=True)
class Answer:
    """A page of the ranking.

    counts: of verdicts by forces. may_go, mendable, beyond_plans: how many units may be sent as
        they stand, how many once what can be planned is done, and how many hold by their forces
        and have something to be done that no plan mends. shown: how many the filter leaves.
    off_hammer: housings that hang from no hammer, and so aren't asked.
    """

    rows: tuple[Row, ...]
    counts: tuple[tuple[Verdict, int], ...]
    units: int
    page: int
    pages: int
    off_hammer: int
    piles: tuple[PileOfJob, ...]
    grounds: tuple[Ground, ...]
    policy: ExtractionPolicy
    only: Only = Only.ALL
    shown: int = 0
    may_go: int = 0
    mendable: int = 0
    beyond_plans: int = 0

    @property
    def job(self) -> Job:
        """A pile of the first group."""
        return self.piles[0].job

    @property
    def held_most(self) -> tuple[PileOfJob, Ground]:
        """The group of piles the ground holds with most, and what holds one pile of it."""
        pairs = zip(self.piles, self.grounds, strict=True)
        return max(pairs, key=lambda each: each[1].resistance_lbf)

    def pile_of(self, verdict: UnitVerdict) -> tuple[PileOfJob, Ground]:
        """Return the group of piles whose checks a verdict shows, and what holds one of them."""
        return next(
            (pile, hold)
            for pile, hold in zip(self.piles, self.grounds, strict=True)
            if pile.number == verdict.pile
        )


@dataclass(frozen=True)
class UnitAnswer:
    """One unit's answer, with all that was calculated for it.

    job: a pile of the group that comes out worst, which ground, path, curve and stretch are of.
    piles: every group of the job. whole: the verdict of all of them, where another group than the
        worst is looked at; then job and verdict are of that one.
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
    stretch_in: float | None
    pull: LinePull | None
    piles: tuple[PileOfJob, ...] = ()
    whole: UnitVerdict | None = None
    remedies: Remedies = field(default_factory=Remedies)

    @property
    def unit(self) -> Unit:
        """The unit's facts, as the check took them."""
        return self.candidate.unit

    @cached_property
    def curve(self) -> tuple[CurvePoint, ...]:
        """The demand at the pads as the pile comes out: calculated where it is drawn."""
        return demand_curve(self.unit, self.job, self.policy)

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
    watch = watch_of(row.indicator, row.last_day)
    return Question(jobs_of(row), row.first_day, row.last_day, row.distances_mi, row.pk, watch)


def answer_for(asked: Question, page: int = 1, only: Only = Only.ALL) -> Answer:
    """Rank every unit for a job, and return one page of those asked for.

    A unit keeps its place in the ranking of all.

    Raises LayerFault where the layers give no resistance.
    """
    found = units_on_hammers(
        asked.first_day,
        asked.last_day,
        asked.distances,
        leave_out_job=asked.leave_out_job,
        watch=asked.watch,
    )
    policy = rules_in_force()
    judged = judge_fleet([each.unit for each in found], asked.piles, policy)
    ranked = ranking(judged)
    mending = [mending_of(each) for each in judged]
    mendable = {place for place, each in enumerate(mending) if each is Mending.PLANS}
    by_pads = [place for place, each in enumerate(mending) if each is Mending.PADS]
    for place, candidate in zip(by_pads, with_records([found[at] for at in by_pads]), strict=True):
        if mended_by_pads(candidate, judged[place].whole, asked.piles, policy):
            mendable.add(place)
    goes = [each.may_go for each in judged]
    may_go = sum(goes)
    asked_for = [
        (rank, place)
        for rank, place in enumerate(ranked, start=1)
        if only is Only.ALL
        or (only is Only.GOING and goes[place])
        or (only is Only.PROMISED and (goes[place] or place in mendable))
    ]
    shown = Paginator(asked_for, ROWS_ON_A_PAGE).get_page(max(page, 1))
    records = with_records([found[place] for _, place in shown])
    rows = tuple(
        Row(rank, candidate, judged[place].whole)
        for (rank, place), candidate in zip(shown, records, strict=True)
    )
    counts = Counter(each.verdict for each in judged)
    return Answer(
        rows=rows,
        counts=tuple((each, counts[each]) for each in Verdict),
        units=len(found),
        page=shown.number,
        pages=shown.paginator.num_pages,
        off_hammer=SuppressorHousing.objects.in_use().count() - len(found),
        piles=asked.piles,
        grounds=tuple(ground(each.job, policy) for each in asked.piles),
        policy=policy,
        only=only,
        shown=len(asked_for),
        may_go=may_go,
        mendable=len(mendable),
        beyond_plans=sum(each.may_be_promised for each in judged) - may_go - len(mendable),
    )


def answer_for_unit(asked: Question, housing_id: int, pile: int | None = None) -> UnitAnswer | None:
    """Return one unit's answer as its records stand; None where it is on no hammer.

    pile: number of the group of piles to look at; the one that comes out worst unless given, and
    where the job has none of that number.

    Raises LayerFault where the layers give no resistance.
    """
    found = candidates(
        asked.first_day,
        asked.last_day,
        asked.distances,
        leave_out_job=asked.leave_out_job,
        only_housing=housing_id,
        watch=asked.watch,
    )
    if not found:
        return None
    answer = calculate(found[0], asked.piles, rules_in_force())
    if pile is not None:
        answer = of_pile(answer, pile)
    return replace(
        answer,
        remedies=remedies_for(
            answer.candidate, answer.piles, answer.policy, answer.verdict, answer.stretch_in
        ),
    )


def of_pile(answer: UnitAnswer, number: int) -> UnitAnswer:
    """Return the answer with another group of piles looked at; the same where there is none."""
    whole = answer.verdict
    looked_at = next((each for each in whole.piles if each.pile == number), None)
    if looked_at is None or looked_at.pile == whole.pile:
        return answer
    verdict = replace(looked_at, conditions=whole.conditions, piles=whole.piles)
    return replace(calculate(answer.candidate, answer.piles, answer.policy, verdict), whole=whole)


def recorded_answer(recorded: JobAnswer) -> UnitAnswer:
    """Return a recorded answer, calculated again from its document and nothing else.

    Housing and hammer bear the marks they had then. Raises KeyError, TypeError or ValueError
    where the document can't be read as an answer.
    """
    contents = recorded.contents
    unit, piles, policy = read_answer(contents)
    if contents["format"] < STIFFNESS_SINCE:
        # Said nothing of pads that don't count; the entry it rests on does.
        unit = with_stiffness(unit, read_inputs(recorded.entry.inputs))
    housing, hammer = copy(recorded.housing), copy(recorded.hammer)
    housing.mark, hammer.mark = contents["housing"], contents["hammer"]
    candidate = Candidate(housing, hammer, recorded.entry, unit)
    return calculate(candidate, piles, policy, recorded_verdict(contents))


def calculate(
    candidate: Candidate,
    piles: tuple[PileOfJob, ...],
    policy: ExtractionPolicy,
    verdict: UnitVerdict | None = None,
) -> UnitAnswer:
    """Return a unit's answer, but for what would make it suitable.

    verdict: where it was judged already. Raises LayerFault where the layers give no resistance.
    """
    unit = candidate.unit
    verdict = verdict or check_piles(unit, piles, policy)
    job = next(each.job for each in piles if each.number == verdict.pile)
    resistance, stretch_in = ground(job, policy), stretch_while_vibrating_in(unit, job)
    return UnitAnswer(
        candidate=candidate,
        job=job,
        policy=policy,
        verdict=verdict,
        ground=resistance,
        path=load_path(unit, job, policy),
        stretch_in=stretch_in,
        pull=line_pull_of(unit, stretch_in) if stretch_in else None,
        piles=piles,
    )
