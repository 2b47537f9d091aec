"""What the newest facts say is in a housing, whatever order they arrived in.

A position holds what the latest count or replacement of it saw or fitted, by the time it
happened; of two at the same time the one recorded later. A fact that was corrected counts no
more. So a late record enters history at its own time and never overwrites a newer one.

A pad heals only by a new one. Where a count says sound of a pad found unsound before, and none was
fitted in between, it counts as it was until another person has looked and agrees. A correction
obeys the same rule: what it takes back was found before it.
"""

from __future__ import annotations

import logging
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Exists, OuterRef, Q, QuerySet, prefetch_related_objects

from fleet import together
from fleet.as_of import AsOf
from fleet.models import PadPosition, SuppressorHousing
from fleet.models.housing import UNSOUND, Condition
from fleet.questions import Question, among
from inspections.models import Inspection, PadCount, PadReplacement, ReplacedPad, SecondLook
from inspections.models.inspection import IS_CORRECTION
from ratings.models import LedgerEntry

logger = logging.getLogger(__name__)

Key = tuple[str, int]
# What may bring new facts of pads.
Newly = Inspection | PadReplacement | SecondLook
# Of each position: the condition seen, and the key of the pad's lot.
Pads = Mapping[Key, tuple[str, int | None]]


@dataclass(frozen=True)
class PadState:
    """What is in one position.

    was: what a sound pad was found to be before. said_sound_at, said_sound_in: when, and in which
    inspection, a pad that counts as unsound was said to be sound last.
    """

    condition: str = ""
    lot_id: int | None = None
    seen_at: datetime | None = None
    was: str = ""
    said_sound_at: datetime | None = None
    said_sound_in: int | None = None


@dataclass(frozen=True)
class Fact:
    """One count, or one replacement, of some positions.

    heals: whether it makes unsound pads sound. is_refused: whether a second look found them not so.
    taken_back: by inspections that this one corrects, what they saw. inspection, replacement: the
    key of what tells it, None of the other.
    """

    at: datetime
    recorded_at: datetime
    pads: Pads
    heals: bool
    inspection: int | None = None
    is_refused: bool = False
    taken_back: tuple[Fact, ...] = ()
    replacement: int | None = None

    def is_of(self, record: Newly | None) -> bool:
        """Whether a record tells this fact."""
        if record is None:
            return False
        key = self.inspection if isinstance(record, Inspection) else self.replacement
        return key is not None and key == record.pk


NOTHING_KNOWN = PadState()


@dataclass(frozen=True)
class Settled:
    """What a housing was brought to by the newest facts.

    positions: every position with its lot, as it now stands; None where others may change a lot
    before the unit is rated, as while many facts are recorded together.
    """

    newest: Mapping[Key, PadState]
    positions: list[PadPosition] | None

    def waiting_for(self, inspection: Inspection) -> dict[Key, str]:
        """Return the positions that wait for a second look at one inspection, as what they count.

        A new pad fitted since, or a newer count that saw the pad unsound, leaves nothing to look
        at.
        """
        return {
            key: state.condition
            for key, state in sorted(self.newest.items())
            if state.said_sound_in == inspection.pk
        }


class History:
    """The facts of a housing in the order they happened, and what they come to.

    What they came to up to the fact put in last is kept, so that facts put in one after the
    other, each later than the one before, cost no more each however many there are.
    rows: every position with its lot; none where this is held, for others may change a lot.
    """

    def __init__(
        self,
        history: Iterable[Fact],
        positions: Mapping[Key, int],
        rows: Sequence[PadPosition] = (),
    ) -> None:
        self._facts = sorted(history, key=_order)
        self._kept: dict[Key, PadState] = {}
        self._up_to = 0
        self.positions = positions
        self.rows = rows
        self.settled: dict[Key, PadState] = {}

    @property
    def facts(self) -> list[Fact]:
        """All of them, in their order."""
        return list(self._facts)

    def add(self, fact: Fact) -> None:
        """Put a fact in at its time."""
        place = bisect_right(self._facts, _order(fact), key=_order)
        self._facts.insert(place, fact)
        self._step_to(place + 1 if place >= self._up_to else 0)

    def now(self) -> dict[Key, PadState]:
        """Return what is in each position that any fact tells of."""
        return _go_on(dict(self._kept), self._facts[self._up_to :])

    def at(self, moment: datetime) -> dict[Key, PadState]:
        """Return what was in each position at a moment."""
        place = bisect_right(self._facts, moment, key=lambda fact: fact.at)
        self._step_to(place)
        return dict(self._kept)

    def _step_to(self, place: int) -> None:
        if place < self._up_to:
            self._kept, self._up_to = {}, 0
        _go_on(self._kept, self._facts[self._up_to : place])
        self._up_to = place


def _history(housing: SuppressorHousing) -> History:
    """Return the history of a housing, held where many facts are recorded together.

    Of all its facts where they are: facts of any time may yet come. Else of those that decide.
    """

    def find() -> History:
        if together.is_recording():
            keys = _KEYS.ask(housing=housing)
            return History(facts(housing), {(side, number): key for side, number, key in keys})
        rows = _positions(housing)
        positions = {(row.side, row.number): row.pk for row in rows}
        return History(deciding_facts(housing, positions.keys()), positions, rows)

    return together.once(("history", housing.pk), find)


_KEYS = Question(
    lambda housing: PadPosition.objects.filter(housing=housing).values_list("side", "number", "pk")
)
_POSITIONS = Question(
    lambda housing: PadPosition.objects.filter(housing=housing).select_related("lot")
)


def _positions(housing: SuppressorHousing) -> list[PadPosition]:
    return _POSITIONS.ask(housing=housing)


def settle(housing: SuppressorHousing, *, newly: Newly | None = None) -> Settled:
    """Bring the housing's positions and travel to what the newest facts say, and return that.

    newly: what was just recorded and is all that changed; None where nobody can say.
    The caller holds the lock on the housing, and records all or nothing of what it settles by.
    Raises NotOfTheFacts where what the housing held until now doesn't come from the facts.
    """
    is_added = newly is not None and _add(housing, newly)
    if not is_added:
        together.forget(("history", housing.pk))
    history = _history(housing)
    if newly is not None and not is_added:
        _refuse_unexplained(housing, newly, history)
    newest = history.now()
    _settle_pads(history, newest)
    if newly is None or not _is_travel_of(housing, newly):
        _settle_travel(housing)
    return Settled(newest, None if together.is_recording() else list(history.rows))


class NotOfTheFacts(ValidationError):
    """A unit whose ledger says other than the records it was posted on: nothing more is posted."""

    def __init__(self, housing: SuppressorHousing, differs: list[str]) -> None:
        self.differs = differs
        super().__init__(f"{not_of_the_facts_words(housing, differs)} Nothing was recorded.")


def not_of_the_facts_words(housing: SuppressorHousing, differs: list[str]) -> str:
    """Say that a unit's ledger and its records are two things, and what to do."""
    return (
        f"What is on record of {housing.mark} is not what its ledger was posted on: "
        f"{'; '.join(differs)}. Somebody changed a record behind the site, or the database is "
        "broken. Send the unit out on no figure of it, and tell the auditor: “manage.py ledger "
        "verify” says where it begins."
    )


def _refuse_unexplained(housing: SuppressorHousing, newly: Newly, history: History) -> None:
    """Raise NotOfTheFacts where the facts before the newest don't give what the ledger was told.

    Else an edit of an old record would come into the ledger with the next honest look at the
    unit, under the name of whoever signs it.
    """
    differs = unexplained(housing, newly, history)
    if differs:
        logger.error("housing %s is not of its facts: %s", housing.pk, "; ".join(differs))
        raise NotOfTheFacts(housing, differs)


def unexplained(
    housing: SuppressorHousing, newly: Newly | None = None, history: History | None = None
) -> list[str]:
    """Return where the facts of a housing don't give what its ledger was told; [] where they do.

    newly: what was just recorded, which no entry tells of yet. history: where it was read already.
    """
    read = history or _history(housing)
    if isinstance(newly, SecondLook) or (isinstance(newly, Inspection) and newly.is_correction):
        known = facts_by_housing([housing.pk], without=newly)[housing.pk]
    else:
        # What stands without it is all the rest: read once, for settling goes by it too.
        known = [each for each in read.facts if not each.is_of(newly)]
    head = _HEAD.first(housing=housing)
    inputs = head.inputs if head else None
    return [
        *_pads_unexplained(read.rows or _positions(housing), states(known), inputs),
        *_travel_unexplained(housing, newly, inputs),
    ]


_HEAD = Question(
    lambda housing: (
        LedgerEntry.objects.filter(housing=housing).only("document").order_by("-sequence")[:1]
    )
)


def _pads_unexplained(
    positions: Iterable[PadPosition],
    known: Mapping[Key, PadState],
    inputs: dict[str, Any] | None,
) -> list[str]:
    told = {
        (each["side"], each["number"]): (each["condition"], each["lot"])
        for each in (inputs["positions"] if inputs else ())
    }
    found = []
    for position in positions:
        key, condition, lot = (position.side, position.number), position.condition, position.lot
        state = known.get(key, NOTHING_KNOWN)
        if (state.condition, state.lot_id) != (condition, position.lot_id):
            found.append(
                f"{position} is {state.condition or 'not counted'} by the records and "
                f"{condition or 'not counted'} on the unit"
            )
        elif inputs is not None and told.get(key) != (condition, lot.mark if lot else None):
            was = told.get(key, ("not there", None))[0]
            found.append(
                f"{position} is {condition or 'not counted'} and was {was or 'not counted'}"
            )
    return found


def _taped(housing: Any, stands: Q) -> QuerySet[Any, float | None]:
    taped = Inspection.objects.filter(stands, housing=housing, travel_in__isnull=False)
    in_order = taped.order_by("-seen_at", "-recorded_at", "-pk")
    return in_order.values_list("travel_in", flat=True)[:1]


_TAPED = Question(lambda housing: _taped(housing, Q(corrected_by__isnull=True)))
# As if a new one had never been written, nor corrected anything.
_TAPED_WITHOUT = Question(
    lambda housing, newly: _taped(
        housing, ~Q(pk=newly) & (Q(corrected_by__isnull=True) | Q(corrected_by=newly))
    )
)


def _travel_unexplained(
    housing: SuppressorHousing, newly: Newly | None, inputs: dict[str, Any] | None
) -> list[str]:
    if isinstance(newly, Inspection):
        travel_in = _TAPED_WITHOUT.first(housing=housing, newly=newly)
    else:
        travel_in = _TAPED.first(housing=housing)
    if travel_in != housing.travel_in:
        return [f"its travel is {travel_in} in by the records and {housing.travel_in} in on it"]
    if inputs is not None and inputs["travel_in"] != travel_in:
        return [f"its travel is {travel_in} in and was {inputs['travel_in']} in"]
    return []


def _add(housing: SuppressorHousing, newly: Newly) -> bool:
    """Put what was just recorded into the history that is held; say whether there is one."""
    if isinstance(newly, SecondLook):
        return False
    history: History | None = together.held(("history", housing.pk))
    if history is None:
        return False
    if isinstance(newly, Inspection) and newly.is_correction:
        return False
    if isinstance(newly, PadReplacement):
        for _, fact in _replacements([housing.pk], newly):
            history.add(fact)
        return True
    pads = {
        (side, number): (condition, lot_id)
        for _, side, number, condition, lot_id in _PADS_OF.ask(inspections=[newly.pk])
    }
    heals = newly.is_before_second_looks
    history.add(Fact(newly.seen_at, newly.recorded_at, pads, heals, newly.pk))
    return True


def _settle_pads(history: History, newest: Mapping[Key, PadState]) -> None:
    alike: defaultdict[PadState, list[int]] = defaultdict(list)
    for key, position in history.positions.items():
        state = replace(newest.get(key, NOTHING_KNOWN), said_sound_in=None)
        if history.settled.get(key) != state:
            alike[state].append(position)
            history.settled[key] = state
    # One statement for all that are alike, which in a count are nearly all.
    for state, keys in alike.items():
        PadPosition.objects.filter(pk__in=keys).update(**_columns(state))
    for row in history.rows:
        for column, value in _columns(history.settled[row.side, row.number]).items():
            setattr(row, column, value)
    # Of another lot than before: read now, for all at once.
    prefetch_related_objects([row for row in history.rows if row.lot_id is not None], "lot")


def _columns(state: PadState) -> dict[str, Any]:
    return {
        "condition": state.condition,
        "lot_id": state.lot_id,
        "seen_at": state.seen_at,
        "was": state.was,
        "said_sound_at": state.said_sound_at,
    }


def _order(fact: Fact) -> tuple[datetime, datetime]:
    return fact.at, fact.recorded_at


def states(history: Iterable[Fact]) -> dict[Key, PadState]:
    """Return what is in each position that any of these facts tells of."""
    return _go_on({}, sorted(history, key=_order))


def stages(history: Iterable[Fact]) -> Iterator[tuple[Fact, Key, PadState]]:
    """Yield what each fact leaves in each position it tells of, in the order it happened."""
    return _stages({}, sorted(history, key=_order))


def _go_on(found: dict[Key, PadState], history: Iterable[Fact]) -> dict[Key, PadState]:
    """Bring what is in each position on by these facts, in their order, and return it."""
    for _ in _stages(found, history):
        pass
    return found


def _stages(
    found: dict[Key, PadState], history: Iterable[Fact]
) -> Iterator[tuple[Fact, Key, PadState]]:
    for fact in history:
        for key, seen in fact.pads.items():
            before = found.get(key, NOTHING_KNOWN)
            for earlier in fact.taken_back:
                if key in earlier.pads:
                    before = _after(before, earlier, earlier.pads[key])
            found[key] = _after(before, fact, seen)
            yield fact, key, found[key]


def lots_at(housing: SuppressorHousing, moment: datetime) -> dict[Key, int]:
    """Return the lot of each pad as the newest facts of a moment have it, where known."""
    if together.is_recording():
        of_then = _history(housing).at(moment)
    else:
        of_then = states(each for each in facts(housing) if each.at <= moment)
    return {key: each.lot_id for key, each in of_then.items() if each.lot_id is not None}


def said_sound_again(housing: SuppressorHousing, inspection: Inspection) -> dict[Key, str]:
    """Return what waits for a second look at one inspection, as Settled.waiting_for has it."""
    waiting = PadPosition.objects.filter(housing=housing, said_sound_at__isnull=False)
    if not waiting.exists():
        return {}
    return Settled(_history(housing).now(), None).waiting_for(inspection)


def is_late(inspection: Inspection) -> bool:
    """Whether newer records of pads or travel stand in a housing than this inspection is."""
    counted_or_taped = Q(pads__isnull=False) | Q(travel_in__isnull=False)
    housing, seen_at = inspection.housing_id, inspection.seen_at
    newer = Inspection.objects.standing().filter(
        counted_or_taped, housing=housing, seen_at__gt=seen_at
    )
    repaired = PadReplacement.objects.standing().filter(housing=housing, fitted_at__gt=seen_at)
    return newer.exists() or repaired.exists()


def _after(before: PadState, fact: Fact, seen: tuple[str, int | None]) -> PadState:
    condition, lot_id = seen
    if fact.inspection is None or condition != Condition.SOUND:
        return PadState(condition, lot_id, fact.at)
    if before.condition not in UNSOUND:
        return PadState(condition, lot_id, fact.at, before.was)
    if fact.heals:
        return PadState(condition, lot_id, fact.at, before.condition)
    if fact.is_refused:
        return before
    return replace(before, said_sound_at=fact.at, said_sound_in=fact.inspection)


def facts(housing: SuppressorHousing) -> list[Fact]:
    """Return every count and replacement that stands in a housing. Four queries."""
    return facts_by_housing([housing.pk])[housing.pk]


# More inspections than this that say more than that all is sound are read with all the rest.
MOST_TELLING = 400
# The newest of those that don't, and the one before, for where the newest is left out.
NEWEST_PLAIN = 2


def deciding_facts(housing: SuppressorHousing, positions: Collection[Key]) -> list[Fact]:
    """Return so many of a housing's facts that states and what is in it now come out as by all.

    Also with the newest one left out. An inspection that found every pad sound, corrects nothing,
    was not corrected and not looked at a second time is plain. Whatever else there is may make a
    pad unsound, heal it or take something back, and is kept; of plain ones a later one says for
    each position it counts all that an earlier one did, but that one recorded before second looks
    heals by itself. So the newest plain ones are kept, and the newest of those that heal, and it
    makes no difference how long a life a unit had.
    """
    telling = set(_TELLING.ask(housing=housing))
    if len(telling) > MOST_TELLING:
        return facts(housing)
    deciding = _DECIDING.ask(housing=housing, telling=telling)
    counts = [
        fact
        for _, fact in _counts(deciding, _PADS_OF.ask(inspections=[each.pk for each in deciding]))
    ]
    if any(fact.inspection not in telling and fact.pads.keys() != positions for fact in counts):
        # One that left out a position says nothing of it that an earlier one did.
        return facts(housing)
    return [*counts, *(fact for _, fact in _replacements([housing.pk]))]


def _telling(housing: Any) -> QuerySet[Any, int]:
    """The keys of a housing's inspections that are not plain."""
    mine = Inspection.objects.filter(housing=housing)
    # Asked as its index has it, which holds no sound pad.
    unsound = PadCount.objects.filter(inspection__housing=housing).exclude(
        condition=Condition.SOUND
    )
    corrections = mine.filter(IS_CORRECTION)
    looked_at = SecondLook.objects.filter(inspection__housing=housing)
    return (
        unsound.order_by()
        .values_list("inspection", flat=True)
        .union(
            corrections.order_by().values_list("pk", flat=True),
            corrections.filter(corrects__housing=housing)
            .order_by()
            .values_list("corrects", flat=True),
            looked_at.order_by().values_list("inspection", flat=True),
        )
    )


def _deciding(housing: Any, telling: Sequence[Any]) -> QuerySet[Inspection]:
    """Those that are not plain, the newest that are, and of these the newest that heal."""
    is_telling = among("pk", telling)
    plain = (
        Inspection.objects.standing()
        .filter(Exists(PadCount.objects.filter(inspection=OuterRef("pk"))), housing=housing)
        .exclude(is_telling)
        .order_by("-seen_at", "-recorded_at", "-pk")
    )
    kept = is_telling
    for newest in (plain, plain.filter(is_before_second_looks=True)):
        kept |= Q(pk__in=newest.values("pk")[:NEWEST_PLAIN])
    # All of this housing: asked by their keys alone, the rest of its life is not read.
    return _told(Inspection.objects.filter(kept))


_TELLING = Question(_telling)
_DECIDING = Question(_deciding)


def facts_by_housing(
    housing_ids: Collection[int],
    known_by: datetime | None = None,
    *,
    without: Newly | None = None,
) -> dict[int, list[Fact]]:
    """Return every count and replacement that stands in each of some housings. Four queries.

    known_by: a moment after which nothing that was recorded counts; None for all there is.
    without: a record as if it had never been written, nor corrected anything.
    """
    found: dict[int, list[Fact]] = {key: [] for key in housing_ids}
    known = (
        *_counts(
            _inspections(housing_ids, known_by),
            _PADS_OF_HOUSINGS.ask(housings=list(housing_ids)),
            known_by,
            without,
        ),
        *_replacements(housing_ids, known_by=known_by, without=without),
    )
    for housing_id, fact in known:
        found[housing_id].append(fact)
    return found


_TOLD_OF_A_COUNT = (
    "housing",
    "seen_at",
    "recorded_at",
    "is_before_second_looks",
    "corrects",
    "second_look__inspection",
    "second_look__recorded_at",
    "second_look__is_agreed",
    "corrected_by__corrects",
    "corrected_by__recorded_at",
)


def _told(rows: QuerySet[Inspection]) -> QuerySet[Inspection]:
    """Inspections in the order recorded, with what a fact is made of, and no more of them."""
    of_facts = rows.select_related("second_look", "corrected_by").only(*_TOLD_OF_A_COUNT)
    return of_facts.order_by("recorded_at", "pk")


_ALL_TOLD = Question(lambda housings: _told(Inspection.objects.filter(among("housing", housings))))


def _inspections(housing_ids: Collection[int], known_by: datetime | None) -> Iterable[Inspection]:
    if known_by is None:
        return _ALL_TOLD.ask(housings=list(housing_ids))
    rows = Inspection.objects.filter(housing__in=housing_ids, recorded_at__lte=known_by)
    return _told(rows)


# Of a pad seen: its inspection, its side and number, and what it was.
PadRow = tuple[int, str, int, str, int | None]


def _pad_rows(which: Q) -> QuerySet[PadCount, PadRow]:
    rows: QuerySet[PadCount, PadRow] = (
        PadCount.objects.order_by()
        .filter(which)
        .values_list("inspection_id", "side", "number", "condition", "lot_id")
    )
    return rows


_PADS_OF = Question(lambda inspections: _pad_rows(among("inspection", inspections)))
_PADS_OF_HOUSINGS = Question(lambda housings: _pad_rows(among("inspection__housing", housings)))


def _counts(
    rows: Iterable[Inspection],
    seen: Iterable[PadRow],
    known_by: datetime | None = None,
    without: Newly | None = None,
) -> list[tuple[int, Fact]]:
    """rows, seen: inspections with those they correct, and the pads they saw."""
    by_key = {row.pk: row for row in rows if row != without}
    pads: defaultdict[int, dict[Key, tuple[str, int | None]]] = defaultdict(dict)
    for key, side, number, condition, lot_id in seen:
        pads[key][side, number] = (condition, lot_id)

    def fact_of(row: Inspection, taken_back: tuple[Fact, ...] = ()) -> Fact:
        look = getattr(row, "second_look", None)
        if look is not None and known_by is not None and look.recorded_at > known_by:
            look = None
        if look is not None and look == without:
            look = None
        heals = row.is_before_second_looks or (look is not None and look.is_agreed)
        is_refused = look is not None and not look.is_agreed
        seen = pads[row.pk]
        return Fact(row.seen_at, row.recorded_at, seen, heals, row.pk, is_refused, taken_back)

    def chain(row: Inspection) -> tuple[Fact, ...]:
        earlier = by_key.get(row.corrects_id or 0)
        return (*chain(earlier), fact_of(earlier)) if earlier else ()

    standing = [row for row in by_key.values() if not _is_corrected(row, known_by, without)]
    return [
        (row.housing_id, _counted(fact_of(row, chain(row))))
        for row in standing
        if row.housing_id is not None
    ]


def _is_corrected(row: Inspection, known_by: datetime | None, without: Newly | None) -> bool:
    later = getattr(row, "corrected_by", None)
    is_known = later is not None and (known_by is None or later.recorded_at <= known_by)
    return is_known and later != without


def _counted(fact: Fact) -> Fact:
    """Return a fact; of one that takes back a count and counts nothing, what it thereby heals."""
    if fact.pads or fact.heals:
        return fact
    unsound = {
        key: (Condition.SOUND, lot_id)
        for earlier in fact.taken_back
        for key, (condition, lot_id) in earlier.pads.items()
        if condition in UNSOUND
    }
    return replace(fact, pads=unsound)


def _replacements(
    housing_ids: Collection[int],
    only: PadReplacement | None = None,
    known_by: datetime | None = None,
    without: Newly | None = None,
) -> list[tuple[int, Fact]]:
    return [
        (
            pad.replacement.housing_id,
            Fact(
                pad.replacement.fitted_at,
                pad.replacement.recorded_at,
                {(pad.side, pad.number): (Condition.SOUND, pad.lot_id)},
                heals=True,
                replacement=pad.replacement_id,
            ),
        )
        for pad in _replaced(housing_ids, only, known_by, without)
    ]


def _fitted(standing: QuerySet[PadReplacement]) -> QuerySet[ReplacedPad]:
    """The pads of replacements, with what a fact is made of, and no more of them."""
    replaced = ReplacedPad.objects.filter(replacement__in=standing).select_related("replacement")
    of_them = (f"replacement__{name}" for name in ("housing", "fitted_at", "recorded_at"))
    return replaced.only("side", "number", "lot", *of_them)


_ALL_FITTED = Question(
    lambda housings: _fitted(
        PadReplacement.objects.standing().filter(among("housing", housings)).order_by()
    )
)


def _replaced(
    housing_ids: Collection[int],
    only: PadReplacement | None,
    known_by: datetime | None,
    without: Newly | None,
) -> Iterable[ReplacedPad]:
    if only is None and known_by is None and without is None:
        return _ALL_FITTED.ask(housings=list(housing_ids))
    standing = PadReplacement.objects.filter(housing__in=housing_ids)
    if isinstance(without, Inspection) and known_by is None:
        standing = standing.filter(Q(corrected_by__isnull=True) | Q(corrected_by=without))
    elif known_by is None:
        standing = standing.standing()
    else:
        is_taken_back = Q(corrected_by__recorded_at__lte=known_by)
        standing = standing.filter(recorded_at__lte=known_by).exclude(is_taken_back)
    if only is not None:
        standing = standing.filter(pk=only.pk)
    if isinstance(without, PadReplacement):
        standing = standing.exclude(pk=without.pk)
    return _fitted(standing)


def _standing_inspections(housing: SuppressorHousing) -> QuerySet[Inspection]:
    standing: QuerySet[Inspection] = Inspection.objects.standing().filter(housing=housing)
    return standing.order_by("-seen_at", "-recorded_at", "-pk")


def _is_travel_of(housing: SuppressorHousing, newly: Newly) -> bool:
    """Keep the travel that was just taped where it is the newest; say whether all is settled."""
    if not isinstance(newly, Inspection):
        return True
    if newly.is_correction:
        return False
    before = housing.travel_seen_at
    if newly.travel_in is None or (before is not None and before > newly.seen_at):
        return True
    housing.travel_in, housing.travel_seen_at = newly.travel_in, newly.seen_at
    housing.save(update_fields=["travel_in", "travel_seen_at"])
    return True


def pads_as_of(housing_ids: Collection[int], as_of: AsOf) -> dict[int, dict[Key, PadState]]:
    """Return what was in each position of some housings at a past moment, by housing."""
    found = facts_by_housing(housing_ids, as_of.known_by)
    return {
        key: states(fact for fact in known if fact.at <= as_of.at) for key, known in found.items()
    }


def travels_as_of(housing_ids: Collection[int], as_of: AsOf) -> dict[int, tuple[float, int]]:
    """Return the travel of each housing taped by a past moment, and in which inspection."""
    taped = Inspection.objects.as_of(as_of, "seen_at").filter(
        housing__in=housing_ids, travel_in__isnull=False
    )
    in_order = taped.order_by("seen_at", "recorded_at", "pk")
    return {
        housing: (travel_in, key)
        for housing, travel_in, key in in_order.values_list("housing", "travel_in", "pk")
        if travel_in is not None
    }


def newest_travel(housing: SuppressorHousing) -> tuple[float | None, datetime | None]:
    """Return the travel taped last, in inches, and when; neither where none was ever taped."""
    taped = _standing_inspections(housing).filter(travel_in__isnull=False).first()
    return (taped.travel_in, taped.seen_at) if taped else (None, None)


def _settle_travel(housing: SuppressorHousing) -> None:
    housing.travel_in, housing.travel_seen_at = newest_travel(housing)
    housing.save(update_fields=["travel_in", "travel_seen_at"])
