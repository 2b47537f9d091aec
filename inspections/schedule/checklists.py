"""The checklists a yard starts from, in our own words; it edits them as it learns."""

from __future__ import annotations

import re
from dataclasses import dataclass

from fleet.models import MachineSort
from inspections.models import Checklist
from inspections.models.kind import InspectionKind
from inspections.schedule.kinds import kinds_in_use

HOUSING, PADS, STOPS, CLAMP = "Housing", "Pads", "Bumpers and stops", "Clamp"
BOLTS, HOSES, EXCITER, GUARDS, HOOK_UP = "Bolts", "Hoses", "Exciter", "Guards", "Crane hook-up"

# Which sort of machine each part is of. A part of a list of the yard's own is told by its words.
SORT_OF_PART = {
    HOUSING: MachineSort.HOUSING,
    PADS: MachineSort.HOUSING,
    STOPS: MachineSort.HOUSING,
    HOOK_UP: MachineSort.HOUSING,
    CLAMP: MachineSort.CLAMP,
    BOLTS: MachineSort.HAMMER,
    HOSES: MachineSort.HAMMER,
    EXCITER: MachineSort.HAMMER,
    GUARDS: MachineSort.HAMMER,
}
# By which words each sort is told, the first that fits; the phone guesses by the same patterns.
WORDS_OF_SORTS = (
    (r"\b(power packs?|packs?|pump|engine|diesel)\b", MachineSort.POWER_PACK),
    (r"\b(clamps?|jaws?)\b", MachineSort.CLAMP),
    (
        r"\b(pads?|travel|stops|stop (?:plates?|marks?|blocks?)|bumpers?|frames?|yokes?"
        r"|lifting eyes?|housings?)\b|\b[AB]\d{1,2}\b",
        MachineSort.HOUSING,
    ),
)
_PATTERNS = [(re.compile(pattern, re.IGNORECASE), sort) for pattern, sort in WORDS_OF_SORTS]


def sort_of_part(part: str, text: str = "") -> MachineSort:
    """Return the sort of machine that a part of a checklist is of, or else what words tell of.

    text: what is looked at, or what was found. Of what nothing tells is the hammer.
    """
    for name, sort in SORT_OF_PART.items():
        if part.strip().lower() == name.lower():
            return sort
    for words in (part, text):
        for pattern, sort in _PATTERNS:
            if pattern.search(words):
                return sort
    return MachineSort.HAMMER


Item = tuple[str, str, str]

SHIFT: tuple[Item, ...] = (
    ("housing-look", HOUSING, "No new crack, dent or bent plate to be seen"),
    ("pads-look", PADS, "No pad torn, gone or hanging out of line"),
    ("stops-look", STOPS, "Stops and bumpers in place, no fresh metal where they meet"),
    ("clamp-jaws", CLAMP, "Jaws clean and whole; they close and hold at full pressure"),
    ("bolts-look", BOLTS, "No bolt or keeper missing, none turned from its mark"),
    ("hoses-look", HOSES, "No leak, chafe or kink; whip checks on"),
    ("guards-on", GUARDS, "Guards and covers on and fast"),
    ("hook-up", HOOK_UP, "Pin, shackles and sling sound, keepers in, hook latch shut"),
)
MONTHLY: tuple[Item, ...] = (
    *SHIFT,
    ("pads-counted", PADS, "Every pad counted and its bond looked at with a light"),
    ("travel-taped", STOPS, "Travel taped from rest to the stops"),
    ("housing-welds", HOUSING, "Welds of the frame wiped clean and looked over"),
    ("clamp-lines", CLAMP, "Clamp holds its pressure with the pump shut off"),
    ("bolts-torque", BOLTS, "Marked bolts of exciter and clamp tried with the wrench"),
    ("exciter-oil", EXCITER, "Oil at its mark and clean; breather free"),
    ("exciter-heat", EXCITER, "Runs without new noise; bearings no hotter than usual"),
)
YEARLY: tuple[Item, ...] = (
    *MONTHLY,
    ("housing-ndt", HOUSING, "Lifting eye, pin and main welds tested for cracks"),
    ("pads-hardness", PADS, "Hardness of a pad on each side read and set down"),
    ("exciter-open", EXCITER, "Gears, bearings and weights looked at through the covers"),
    ("plates-read", GUARDS, "Data plate and warnings can be read"),
    ("sling-papers", HOOK_UP, "Papers of pin, shackles and sling found and in date"),
)
AFTER_REPAIR: tuple[Item, ...] = (
    ("repair-named", HOUSING, "What was repaired is written down, with the parts used"),
    ("pads-counted", PADS, "Every pad counted and its lot set down"),
    ("travel-taped", STOPS, "Travel taped from rest to the stops"),
    ("bolts-torque", BOLTS, "Every bolt that was loosened tightened and marked"),
    ("trial-run", EXCITER, "Run free and clamped on a short pile; nothing loose after"),
    ("guards-on", GUARDS, "Guards and covers on and fast"),
)
BEFORE_EXTRACTION: tuple[Item, ...] = (
    *SHIFT,
    ("pads-counted", PADS, "Every pad counted"),
    ("travel-taped", STOPS, "Travel taped; rest mark and stop mark chalked on the housing"),
    ("sheet-matches", HOOK_UP, "Pull sheet in hand, its ledger number that of the unit"),
    ("crane-limit", HOOK_UP, "Crane operator knows the limit and who watches the stretch"),
)

DEFAULTS: dict[str, tuple[Item, ...]] = {
    InspectionKind.PAD_COUNT: (),
    InspectionKind.SHIFT: SHIFT,
    InspectionKind.MONTHLY: MONTHLY,
    InspectionKind.YEARLY: YEARLY,
    InspectionKind.AFTER_REPAIR: AFTER_REPAIR,
    InspectionKind.BEFORE_EXTRACTION: BEFORE_EXTRACTION,
}


@dataclass(frozen=True)
class ListItem:
    """One thing to look at: what names it, what it belongs to, what to see."""

    key: str
    part: str
    text: str


@dataclass(frozen=True)
class ListInForce:
    """The items of a kind, and the edition they come from; None where it's the default."""

    kind: str
    edition: int | None
    items: tuple[ListItem, ...]


def checklists_in_force() -> dict[str, ListInForce]:
    """Return the list of every kind in use, in two queries."""
    editions: dict[str, Checklist] = {}
    for row in Checklist.objects.select_related("own_kind").order_by("pk"):
        editions[row.kind_name] = row
    return {kind.name: _in_force(kind.name, editions.get(kind.name)) for kind in kinds_in_use()}


def _in_force(kind: str, row: Checklist | None) -> ListInForce:
    if row is None:
        items = tuple(ListItem(*item) for item in DEFAULTS.get(kind, ()))
        return ListInForce(kind, None, items)
    return ListInForce(kind, row.pk, tuple(ListItem(**item) for item in row.items))
