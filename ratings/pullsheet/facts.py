"""What a pull sheet says, from the answer a unit was committed on and nothing else."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Any

from fleet.dates import days_words, moment_words
from fleet.quantities import Quantity
from fleet.roles import who_words
from ratings.jobs.answer import UnitAnswer, recorded_answer
from ratings.jobs.validity import CommitmentNow, State
from ratings.mechanics.extraction.outcomes import CheckKey
from ratings.mechanics.extraction.supply import stretch_at_pull_in
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


# Those that a harder pull bears on. The centrifugal force is no limit of a pull: short of it
# the pile stays, and nothing breaks.
BEARS_PULL = (
    CheckKey.LINE_PULL,
    CheckKey.CRANE,
    CheckKey.RIGGING,
    CheckKey.CLAMP,
    CheckKey.TENSION,
)


@dataclass(frozen=True)
class Stops:
    """Where a pull stops.

    at_pads_lbf: the pull at the pads that each may come to.
    by: whose limit comes first. hook_lbf: the hook load then, block and all.
    stretch_in: of the pads then, by the best estimate; None beyond their usable travel.
    """

    at_pads_lbf: dict[CheckKey, float]
    by: CheckKey
    hook_lbf: float
    stretch_in: float | None


def stops_of(answer: UnitAnswer) -> Stops:
    """Return where the pull of a unit stops that may go.

    Each check's slack is what the pull may grow by before it; raises ValueError where one isn't
    known, which no committed unit's is.
    """
    path = answer.path
    if path.at_pads_lbf is None or path.at_crane_lbf is None:
        raise ValueError("a weight of the load path is not known: no hook load can be given")
    slack = {key: _slack_lbf(answer, key) for key in BEARS_PULL}
    by = min(slack, key=lambda key: slack[key])
    at_pads = {key: path.at_pads_lbf + each for key, each in slack.items()}
    return Stops(
        at_pads_lbf=at_pads,
        by=by,
        hook_lbf=path.at_crane_lbf + slack[by],
        stretch_in=stretch_at_pull_in(answer.unit, max(0.0, at_pads[by])),
    )


def _slack_lbf(answer: UnitAnswer, key: CheckKey) -> float:
    demand, supply = answer.demand(key), answer.supply(key)
    if demand is None or supply is None:
        raise ValueError(f"the check of {key} is not known: no hook load can be given")
    # A leg bears only its share of what the pull grows by.
    share = answer.job.crane.leg_factor if key is CheckKey.RIGGING else 1.0
    return (supply - demand) / share


@dataclass(frozen=True)
class OnRecord:
    """What names a commitment, and the ledger entry its answer rests on.

    results: of the entry's rating. positions: its pads, as the entry has them.
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


@dataclass(frozen=True)
class Sheet:
    """A commitment's answer, calculated again from its document.

    pads_stop_in: the usable travel, less half the amplitude while vibrating, cut down to what a
        tape shows. stop_in: the stretch not to pass, the least of that and of the stretch at
        which crane, rigging, clamp or pile is at its limit. capacity_lbf: working capacity at
        pads_stop_in before it was cut down.
    expected_in, capacity_in: stretch at the pull expected, and at the working capacity.
    printed: when and by whom.
    """

    record: OnRecord
    answer: UnitAnswer
    stops: Stops
    pads_stop_in: float
    stop_in: float
    capacity_lbf: float
    expected_in: float | None
    capacity_in: float | None
    state: State
    url: str
    system: str
    printed: str = ""

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
    unit, stretch_in = answer.unit, answer.stretch_in or 0.0
    capacity_lbf = answer.supply(CheckKey.LINE_PULL) or 0.0
    stops = stops_of(answer)
    pads_stop_in = on_the_tape_in(stretch_in, about["system"])
    return Sheet(
        record=record,
        answer=answer,
        stops=stops,
        pads_stop_in=pads_stop_in,
        stop_in=_first_stop_in(stops, pads_stop_in, about["system"]),
        capacity_lbf=capacity_lbf,
        expected_in=stretch_at_pull_in(unit, answer.path.at_pads_lbf or 0.0),
        capacity_in=stretch_at_pull_in(unit, capacity_lbf),
        **about,
    )


def _first_stop_in(stops: Stops, pads_stop_in: float, system: str) -> float:
    """Return the stretch at which the first of all limits is reached, as a tape shows it."""
    if stops.by is CheckKey.LINE_PULL or stops.stretch_in is None:
        return pads_stop_in
    return min(pads_stop_in, on_the_tape_in(stops.stretch_in, system))


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
        committed=f"{moment_words(answer.recorded_at)} by {who_words(answer.recorded_by)}",
        answer_hash=answer.hash,
        entry_sequence=answer.entry.sequence,
        entry_hash=answer.entry.hash,
        results=answer.entry.results,
        positions=tuple(answer.entry.inputs["positions"]),
    )
