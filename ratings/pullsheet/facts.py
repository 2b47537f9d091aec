"""What a pull sheet says, from the answer a unit was committed on and nothing else."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from fleet.dates import days_words, moment_words
from ratings.extraction.standingfalls import Held
from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.demand import LoadPath, load_path
from ratings.mechanics.extraction.ground import Ground, ground
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.policy import ExtractionPolicy
from ratings.mechanics.extraction.record import read_answer
from ratings.mechanics.extraction.supply import (
    capacity_at,
    stretch_at_pull_in,
    stretch_while_vibrating_in,
)
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.extraction.verdict import UnitVerdict
from ratings.models import Commitment
from ratings.paper.words import who_words
from ratings.pullsheet.state import State, state_of
from ratings.pullsheet.stops import Stops, stops_of
from ratings.pullsheet.tape import on_the_tape_in


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
    """A commitment's answer, reckoned again from its document.

    pads_stop_in: the usable travel, less half the amplitude while vibrating, cut down to what a
        tape shows. stop_in: the stretch not to pass, the least of that and of the stretch at
        which crane, rigging, clamp or pile is at its limit. capacity_lbf: working capacity at
        pads_stop_in before it was cut down.
    expected_in, capacity_in: stretch at the pull expected, and at the working capacity.
    printed: when and by whom.
    """

    record: OnRecord
    unit: Unit
    job: Job
    verdict: UnitVerdict
    ground: Ground
    path: LoadPath
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
        return self.path.at_pads_lbf or 0.0

    @property
    def hanging_lb(self) -> float:
        """All that hangs below the pads but the ground's hold."""
        return self.expected_lbf - self.ground.resistance_lbf

    @property
    def stops_before_line(self) -> bool:
        """Whether another limit than the pads' sets the stop line."""
        return self.stop_in < self.pads_stop_in


def read_sheet(held: Held, url: str, system: str, printed: str = "") -> Sheet:
    """Read a sheet. held: the commitment as it stands now. url: of the commitment's page."""
    unit, job, policy = read_answer(held.commitment.answer.contents)
    return make_sheet(
        on_record(held.commitment),
        unit,
        job,
        policy,
        state=state_of(held),
        url=url,
        system=system,
        printed=printed,
    )


def make_sheet(
    record: OnRecord, unit: Unit, job: Job, policy: ExtractionPolicy, **about: Any
) -> Sheet:
    """Reckon a sheet. about: its state, url, system, and when it was printed."""
    verdict, path = check(unit, job, policy), load_path(unit, job, policy)
    stretch_in = stretch_while_vibrating_in(unit, job) or 0.0
    capacity_lbf = capacity_at(unit, stretch_in) or 0.0
    stops = stops_of(unit, job, verdict, path)
    pads_stop_in = on_the_tape_in(stretch_in, about["system"])
    return Sheet(
        record=record,
        unit=unit,
        job=job,
        verdict=verdict,
        ground=ground(job, policy),
        path=path,
        stops=stops,
        pads_stop_in=pads_stop_in,
        stop_in=_first_stop_in(stops, pads_stop_in, about["system"]),
        capacity_lbf=capacity_lbf,
        expected_in=stretch_at_pull_in(unit, path.at_pads_lbf or 0.0),
        capacity_in=stretch_at_pull_in(unit, capacity_lbf),
        **about,
    )


def _first_stop_in(stops: Stops, pads_stop_in: float, system: str) -> float:
    """Return the stretch at which the first of all limits is reached, as a tape shows it."""
    if stops.is_by_pads or stops.stretch_in is None:
        return pads_stop_in
    return min(pads_stop_in, on_the_tape_in(stops.stretch_in, system))


def on_record(made: Commitment) -> OnRecord:
    """Return what names a commitment, by its document wherever that says it."""
    answer, contents = made.answer, made.answer.contents
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
