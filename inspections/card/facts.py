"""What the stretch card of a unit says, and why one is not to be had."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils import timezone

from fleet.dates import day_words
from fleet.models import OutOfService, SuppressorHousing
from fleet.outages import outages_of_unit
from inspections.schedule.due import Due, UnitDue, due_of_fleet
from ratings.jobs.stops import cut_words, tape_words
from ratings.ledger.facts import Facts, gather
from ratings.models import LedgerEntry
from ratings.record.papers import Stated, paper_kind, unit_stated

KIND = "stretch card"


@dataclass(frozen=True)
class Card:
    """A unit rated and in service: its last entry, where its stops are, and until when it holds.

    until_words: what ends it, by its day. hammer: what it hangs on, "" of a spare.
    """

    housing: SuppressorHousing
    hammer: str
    head: LedgerEntry
    usable_in: float
    travel_in: float
    until: date
    until_words: str


class NoCard(Exception):
    """Why a unit gets no card, each reason a sentence."""

    def __init__(self, reasons: list[str]) -> None:
        super().__init__(" ".join(reasons))
        self.reasons = reasons


@dataclass(frozen=True)
class Known:
    """What a unit’s card is read from, which its own page has read as well."""

    housing: SuppressorHousing
    head: LedgerEntry | None
    due: UnitDue
    facts: Facts
    outages: Sequence[OutOfService]


def read_card(housing: SuppressorHousing) -> Card:
    """Read the card of a unit. Raises NoCard where it must not hang on it."""
    entries = LedgerEntry.objects.filter(housing=housing).select_related("housing")
    known = Known(
        housing,
        entries.order_by("-sequence").first(),
        due_of_fleet([housing])[0],
        gather([housing])[housing.pk],
        outages_of_unit(housing),
    )
    head, reasons = known.head, why_no_card(known)
    ends = _until(known)
    if reasons or head is None or ends is None:
        raise NoCard(reasons)
    until, words = ends
    return Card(
        housing=housing,
        hammer=known.due.hammer.mark if known.due.hammer else "",
        head=head,
        usable_in=head.usable_travel_in or 0.0,
        travel_in=head.inputs["travel_in"],
        until=until,
        until_words=words,
    )


def why_no_card(known: Known) -> list[str]:
    """Return why no card must hang on a unit, each reason a sentence; none where one may."""
    reasons = list(_reasons(known))
    if reasons:
        return reasons
    ends = _until(known)
    if ends is None:
        return [
            "Nothing says until when it would hold: no lot that is fitted has a rate, and no "
            "inspection is due by a day."
        ]
    until, words = ends
    if until < timezone.localdate():
        return [f"It would be over by now, {day_words(until)}: {words}."]
    return []


def _reasons(known: Known) -> Iterator[str]:
    head = known.head
    if head is None:
        yield "It is unrated: its pads were never counted and its travel never taped."
    elif not head.pull_lbf or not head.usable_travel_in:
        lacks = " and ".join(head.results["missing"])
        yield f"It is rated to no line pull{f': it lacks {lacks}' if lacks else ''}."
    for outage in known.outages:
        since = day_words(outage.since)
        yield f"{outage.machine} is out of service since {since}: {outage.reason.rstrip('.')}."
    for each in _looked_at(known.due):
        if each.is_overdue:
            yield f"Its inspection “{each.row.kind}” is overdue: {each.words_with_machine}."


def _looked_at(unit: UnitDue) -> list[Due]:
    """The kinds of inspection that are due by days, whether a job holds the unit or not."""
    return [each for each in unit.kinds if not each.row.in_use_only]


def _until(known: Known) -> tuple[date, str] | None:
    """Return the last day the card holds, and what ends it: an inspection or a rate too old.

    None where nothing ends it.
    """
    valid = timedelta(days=known.facts.inputs.policy.rate_valid_days)
    ends = [
        (
            timezone.localdate(rating.tested_at + valid),
            f"the rate of lot {rating.lot.mark} is too old after it",
        )
        for rating in known.facts.ratings
    ]
    ends += [
        (each.due_on, f"the inspection “{each.row.kind}” is due")
        for each in _looked_at(known.due)
        if each.due_on is not None
    ]
    return min(ends, default=None)


def travel_words(stretch_in: float, system: str) -> str:
    """Return where the stops are, as a tape shows it."""
    return tape_words(stretch_in, system)


@paper_kind(KIND)
def card_stated(subject: str, system: str) -> Stated:
    """Return what the stretch card of a unit states. subject: the key of the housing."""
    stated = unit_stated("Stretch card", subject, system)
    housing = SuppressorHousing.objects.get(pk=int(subject))
    try:
        card = read_card(housing)
    except NoCard:
        no_more = stated.no_more or ("No card is to be had of it now: ask the yard why.",)
        return Stated(stated.title, stated.figures, stated.entries, no_more)
    figures = (
        *stated.figures,
        ("Stretch not to pass", cut_words(card.usable_in, system)),
        ("Stops at", travel_words(card.travel_in, system)),
    )
    return Stated(stated.title, figures, stated.entries, until=card.until, again=stated.again)
