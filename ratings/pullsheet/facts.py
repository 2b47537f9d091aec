"""What a pull sheet says, from the answer a unit was committed on and nothing else."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from typing import Any

from fleet.dates import days_words, moment_words
from fleet.quantities import Quantity
from fleet.signers import signer_words
from ratings.jobs.answer import UnitAnswer, calculate, recorded_answer
from ratings.jobs.validity import CommitmentNow, State
from ratings.mechanics.extraction.job import PileOfJob
from ratings.mechanics.extraction.outcomes import CheckKey
from ratings.mechanics.extraction.stops import BESIDE_THE_PADS, slack_lbf
from ratings.mechanics.extraction.supply import stop_stretch_in, stretch_at_pull_in
from ratings.models import Commitment, JobAnswer


def on_the_tape_in(stretch_in: float, system: str) -> float:
    """Cut a stretch down to the last sixteenth of an inch, or millimetre, that a tape shows."""
    division_in = 0.0625 if system == "us" else Quantity.LENGTH.stored(1.0, "si")
    return math.floor(stretch_in / division_in + 1e-9) * division_in


def tape_words(stretch_in: float, system: str) -> str:
    """Return a stretch as a tape shows it, such as "5 5/8 in"; in SI in millimetres."""
    if system == "si":
        return Quantity.LENGTH.words(stretch_in, system)
    whole, sixteenths = divmod(round(stretch_in * 16), 16)
    if not sixteenths:
        return f"{whole} in"
    part = Fraction(sixteenths, 16)
    fraction = f"{part.numerator}/{part.denominator} in"
    return f"{whole} {fraction}" if whole else fraction


def cut_words(stretch_in: float, system: str) -> str:
    """Return a stretch cut down to what a tape shows."""
    return tape_words(on_the_tape_in(stretch_in, system), system)


BEARS_PULL = (CheckKey.LINE_PULL, *BESIDE_THE_PADS)


@dataclass(frozen=True)
class Stops:
    """Where a pull stops.

    at_pads_lbf: the pull at the pads that each may come to, the yard's margin kept; of the pads
        their working capacity at the stretch of this pull, which has its own.
    by: whose limit comes first. hook_lbf: the hook load then, block and all.
    stretch_by: whose limit but the pads' own the stiffest pads reach first, and stretch_in at what
        stretch: infinite where nowhere in the usable travel, None where that isn't known.
    margin_used_up: limits that leave less than the yard's margin at the pull expected, so that
        nothing more than that pull is allowed.
    """

    at_pads_lbf: dict[CheckKey, float]
    by: CheckKey
    hook_lbf: float
    stretch_by: CheckKey
    stretch_in: float | None
    margin_used_up: tuple[CheckKey, ...] = ()


def stops_of(answer: UnitAnswer) -> Stops:
    """Return where the pull of a unit stops that may go.

    Raises ValueError where a limit isn't known, which no committed unit's is.
    """
    path = answer.path
    if path.at_pads_lbf is None or path.at_crane_lbf is None:
        raise ValueError("a weight of the load path is not known: no hook load can be given")
    slack = {key: _slack_lbf(answer, key) for key in BEARS_PULL}
    by = min(slack, key=lambda key: slack[key])
    stretch_by = min(BESIDE_THE_PADS, key=lambda key: slack[key])
    at_pads = {key: path.at_pads_lbf + each for key, each in slack.items()}
    return Stops(
        at_pads_lbf=at_pads,
        by=by,
        hook_lbf=path.at_crane_lbf + slack[by],
        stretch_by=stretch_by,
        stretch_in=stop_stretch_in(answer.unit, max(0.0, at_pads[stretch_by])),
        margin_used_up=tuple(key for key in BESIDE_THE_PADS if slack[key] <= 0.0),
    )


def _slack_lbf(answer: UnitAnswer, key: CheckKey) -> float:
    """Return what the pull may grow by until a check is at its limit. Raises ValueError."""
    check = answer.verdict.check(key)
    slack = slack_lbf(check, answer.job.crane, answer.policy) if check else None
    if slack is None:
        raise ValueError(f"the check of {key} is not known: no hook load can be given")
    return slack


@dataclass(frozen=True)
class OnRecord:
    """What names a commitment, and the ledger entry its answer rests on.

    results: of the entry's rating. positions: its pads, as the entry has them.
    particulars: of the job, as particulars_of wrote them; {} of a commitment of before.
    """

    number: int
    housing: str
    hammer: str
    site: str
    days: str
    committed: str
    answer_hash: str
    entry_sequence: int
    entry_hash: str
    results: dict[str, Any]
    positions: tuple[dict[str, Any], ...]
    particulars: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class GroupSheet:
    """A group of piles of the job, and where the pull of one of them stops.

    answer: of this group alone. pads_stop_in: the usable travel, less half the amplitude while
    vibrating, cut down to what a tape shows. stop_in: the stretch not to pass, the least of that
    and of the stretch at which crane, rigging, clamp or pile may be at its limit.
    expected_in: stretch at the pull expected, None where it isn't known.
    """

    pile: PileOfJob
    answer: UnitAnswer
    stops: Stops
    pads_stop_in: float
    stop_in: float
    expected_in: float | None

    @property
    def is_by_load(self) -> bool:
        """Whether no stretch stands for the limit that comes first: the load indicator tells."""
        return self.stops.stretch_in is None

    @property
    def stops_short(self) -> bool:
        """Whether the pull must stop before the pull expected is reached."""
        return self.expected_in is not None and self.expected_in > self.stop_in

    @property
    def hook_lbf(self) -> float:
        """The hook load expected, block and all."""
        return self.answer.path.at_crane_lbf or 0.0


@dataclass(frozen=True)
class Sheet:
    """A commitment's answer, calculated again from its document.

    answer, stops, pads_stop_in, stop_in: of the group of piles that comes out worst. groups: of
        every group of the job.
    capacity_lbf: working capacity at pads_stop_in before it was cut down.
    capacity_in: stretch at that capacity, None where it isn't known.
    printed: when and by whom.
    """

    record: OnRecord
    groups: tuple[GroupSheet, ...]
    worst: GroupSheet
    capacity_lbf: float
    capacity_in: float | None
    state: State
    url: str
    system: str
    printed: str = ""

    @property
    def answer(self) -> UnitAnswer:
        return self.worst.answer

    @property
    def stops(self) -> Stops:
        return self.worst.stops

    @property
    def pads_stop_in(self) -> float:
        return self.worst.pads_stop_in

    @property
    def stop_in(self) -> float:
        return self.worst.stop_in

    @property
    def is_by_load(self) -> bool:
        """Whether no stretch stands for the limit that comes first."""
        return self.worst.is_by_load

    @property
    def expected_in(self) -> float | None:
        """Stretch at the pull expected, None where it isn't known."""
        return self.worst.expected_in

    @property
    def has_groups(self) -> bool:
        """Whether the job has more than one group of piles."""
        return len(self.groups) > 1

    @property
    def expected_lbf(self) -> float:
        """The pull expected at the pads."""
        return self.answer.path.at_pads_lbf or 0.0

    @property
    def hanging_lb(self) -> float:
        """All that hangs below the pads but the ground's hold."""
        return self.expected_lbf - self.answer.ground.resistance_lbf

    @property
    def stops_before_line(self) -> bool:
        """Whether another limit than the pads' sets the stop line."""
        return self.stop_in < self.pads_stop_in


def read_sheet(now: CommitmentNow, url: str, system: str, printed: str = "") -> Sheet:
    """Read a sheet. now: the commitment as it stands. url: of the crew's page, for its code."""
    return make_sheet(
        on_record(now.commitment, now.answer),
        recorded_answer(now.answer),
        state=now.state,
        url=url,
        system=system,
        printed=printed,
    )


def make_sheet(record: OnRecord, answer: UnitAnswer, **about: Any) -> Sheet:
    """Return the sheet of an answer. about: its state, url, system, and when it was printed."""
    groups = tuple(
        _group_sheet(pile, _answer_of(answer, pile), about["system"]) for pile in answer.piles
    )
    worst = next(each for each in groups if each.pile.number == answer.verdict.pile)
    capacity_lbf = worst.answer.supply(CheckKey.LINE_PULL) or 0.0
    return Sheet(
        record=record,
        groups=groups,
        worst=worst,
        capacity_lbf=capacity_lbf,
        capacity_in=stretch_at_pull_in(answer.unit, capacity_lbf),
        **about,
    )


def _answer_of(answer: UnitAnswer, pile: PileOfJob) -> UnitAnswer:
    """Return the answer of one group of piles, judged already with the others."""
    if pile.number == answer.verdict.pile:
        return answer
    judged = next(each for each in answer.verdict.piles if each.pile == pile.number)
    return calculate(answer.candidate, (pile,), answer.policy, judged)


def _group_sheet(pile: PileOfJob, answer: UnitAnswer, system: str) -> GroupSheet:
    stops = stops_of(answer)
    pads_stop_in = on_the_tape_in(answer.stretch_in or 0.0, system)
    stop_in = pads_stop_in
    if stops.stretch_in is not None and not math.isinf(stops.stretch_in):
        stop_in = min(pads_stop_in, on_the_tape_in(stops.stretch_in, system))
    expected_in = stretch_at_pull_in(answer.unit, answer.path.at_pads_lbf or 0.0)
    return GroupSheet(pile, answer, stops, pads_stop_in, stop_in, expected_in)


def on_record(made: Commitment, answer: JobAnswer) -> OnRecord:
    """Return what names a commitment and its newest answer, by its document where that says it."""
    contents = answer.contents
    first, last = (date.fromisoformat(contents[name]) for name in ("first_day", "last_day"))
    return OnRecord(
        number=made.pk,
        housing=contents["housing"],
        hammer=contents["hammer"],
        site=contents["site"],
        days=days_words(first, last),
        committed=f"{moment_words(answer.recorded_at)} by {signer_words(answer)}",
        answer_hash=answer.hash,
        entry_sequence=answer.entry.sequence,
        entry_hash=answer.entry.hash,
        results=answer.entry.results,
        positions=tuple(answer.entry.inputs["positions"]),
        particulars=contents.get("particulars", {}),
    )
