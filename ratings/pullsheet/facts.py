"""What a pull sheet says, from the answer a unit was committed on and nothing else."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

from fleet.dates import days_words, moment_words
from fleet.signers import signer_words
from ratings.jobs.answer import UnitAnswer, recorded_answer
from ratings.jobs.open_findings import open_findings_words
from ratings.jobs.stops import GroupSheet, Stops, group_sheets
from ratings.jobs.validity import CommitmentNow, State
from ratings.mechanics.extraction.outcomes import CheckKey
from ratings.mechanics.extraction.supply import stretch_at_pull_in
from ratings.models import Commitment, JobAnswer
from ratings.record.seals import foot_words
from ratings.rerating.telling import BEING_RATED, that_rate


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
class Sheet:
    """A commitment's answer, calculated again from its document.

    answer, stops, pads_stop_in, stop_in: of the group of piles that comes out worst. groups: of
        every group of the job.
    capacity_lbf: working capacity at pads_stop_in before it was cut down.
    capacity_in: stretch at that capacity, None where it isn't known.
    printed: when and by whom. sealed: what the foot says of the seal before it.
    still_open: what is found wrong at the unit when it is printed. again: why it is to be asked for
    again in a minute, "" where it is not.
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
    sealed: str = ""
    still_open: str = ""
    again: str = ""

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


def read_sheet(
    now: CommitmentNow, url: str, system: str, printed: str = "", paper: str = ""
) -> Sheet:
    """Read a sheet. now: the commitment as it stands. url: of the crew's page, for its code.

    paper: the code of the copy given out.
    """
    return make_sheet(
        on_record(now.commitment, now.answer),
        recorded_answer(now.answer),
        state=now.state,
        url=url,
        system=system,
        printed=printed,
        sealed=foot_words(paper),
        still_open=open_findings_words(now.answer.hammer, now.answer.housing),
        again=BEING_RATED.format("sheet") if that_rate(now.commitment.housing) else "",
    )


def make_sheet(record: OnRecord, answer: UnitAnswer, **about: Any) -> Sheet:
    """Return the sheet of an answer. about: its state, url, system, when printed, and seal."""
    groups, worst = group_sheets(answer, about["system"])
    capacity_lbf = worst.answer.supply(CheckKey.LINE_PULL) or 0.0
    return Sheet(
        record=record,
        groups=groups,
        worst=worst,
        capacity_lbf=capacity_lbf,
        capacity_in=stretch_at_pull_in(answer.unit, capacity_lbf),
        **about,
    )


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
