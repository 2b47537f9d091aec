"""What a column of a yard's own sheet may mean, and the words that yards write over it."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import cache, lru_cache

from fleet.models import Hammer, HourReading, PadLot, SuppressorHousing
from fleet.models.housing import MOST_POSITIONS_PER_SIDE, Side
from fleet.models.measured_fields import Measured, measured_field
from fleet.quantities import Quantity
from inspections.models import Inspection
from inspections.sheets.units import unit_at_end
from ratings.models import Listing


class Sort(StrEnum):
    """What the rows of a sheet tell of."""

    INSPECTIONS = "inspections"
    FLEET = "fleet"
    STOCK = "stock"
    REPLACEMENTS = "replacements"
    LEAVE = "leave"

    @property
    def label(self) -> str:
        return SORT_LABELS[self]


SORT_LABELS = {
    Sort.INSPECTIONS: "inspections: pads, travel, hours",
    Sort.FLEET: "hammers and housings the yard owns",
    Sort.STOCK: "pads on shelves",
    Sort.REPLACEMENTS: "pads fitted",
    Sort.LEAVE: "nothing: leave this sheet",
}


class Reads(StrEnum):
    """How a cell of a meaning is read."""

    MARK = "mark"
    YARD = "yard"
    DAY = "day"
    TIME = "time"
    KIND = "kind"
    SIDE = "side"
    POSITION = "position"
    CONDITION = "condition"
    SOUND = "sound pads"
    UNSOUND = "unsound pads"
    NUMBER = "number"
    TEXT = "text"


@dataclass(frozen=True)
class Meaning:
    """What a column may hold.

    aliases: how yards head such a column, in small letters and without signs. field: of a number.
    most: of a text's characters.
    """

    name: str
    label: str
    reads: Reads
    aliases: tuple[str, ...] = ()
    field: Measured | None = None
    most: int = 1500


def _meaning(name: str, label: str, reads: Reads, aliases: str = "", most: int = 1500) -> Meaning:
    return Meaning(name, label, reads, tuple(aliases.split(", ")) if aliases else (), most=most)


def _number(name: str, label: str, field: Measured, aliases: str) -> Meaning:
    return Meaning(name, label, Reads.NUMBER, tuple(aliases.split(", ")), field)


UNIT = _meaning(
    "unit",
    "the unit: mark of its housing or hammer",
    Reads.MARK,
    "unit, unit no, unit number, unit mark, machine, machine no, equipment, equip, equipment no, "
    "equipment id, equip no, asset, asset no, rig, mark, id, unit id, gerat, maschine",
)
HOUSING = _meaning(
    "housing",
    "the housing’s mark",
    Reads.MARK,
    "housing, housing no, housing mark, suppressor, suppressor no, suppressor housing, hsg, "
    "hsg no, frame, gehause, isolator, isolator housing, box, box no, suppressor box",
)
HAMMER = _meaning(
    "hammer",
    "the hammer’s mark",
    Reads.MARK,
    "hammer, hammer no, hammer mark, vibro, vibro no, vibro hammer, driver, vibratory hammer, "
    "exciter, hammer id",
)
YARD = _meaning("yard", "the yard", Reads.YARD, "yard, location, depot, site, where, base, shop")
DAY = _meaning(
    "day",
    "the day, or day and time",
    Reads.DAY,
    "date, day, when, inspected, inspected on, date inspected, inspection date, insp date, seen, "
    "seen at, seen on, checked, checked on, date checked, date of inspection, datum, dated, "
    "date time, timestamp, counted, counted on, count date, date counted, stock date, as of, "
    "fitted, fitted on, fitted at, date fitted, replaced, replaced on, date replaced, changed, "
    "date changed, last inspected, last inspection",
)
TIME = _meaning(
    "time", "the time of day", Reads.TIME, "time, time of day, hour of day, uhrzeit, at"
)
NOTE = _meaning(
    "note",
    "a note",
    Reads.TEXT,
    "note, notes, remark, remarks, comment, comments, observations, bemerkung, memo, findings, "
    "defects, description",
)
INSPECTOR = _meaning(
    "inspector",
    "who saw it, kept in the note",
    Reads.TEXT,
    "inspector, inspected by, by, who, checked by, name, initials, signed, signature, mechanic, "
    "operator, tech, technician, counted by, fitted by, done by",
    most=80,
)
SIDE = _meaning("side", "the side of a pad", Reads.SIDE, "side, seite, bank")
NUMBER = Meaning(
    "number",
    "the pad’s position on its side",
    Reads.POSITION,
    ("number", "no", "nr", "pad number", "pad no", "position number", "pos no", "row"),
)
POSITION = _meaning(
    "position",
    "the pad’s side and position, such as A3",
    Reads.POSITION,
    "position, pos, pad, pad position, pad pos, pad id, location of pad",
)
LOT = _meaning(
    "lot",
    "the lot’s mark",
    Reads.MARK,
    "lot, lot no, lot number, lot mark, batch, batch no, pad lot, pad batch, charge, pad lot no",
)

_SHARED_INSPECTION = (
    UNIT,
    HOUSING,
    HAMMER,
    DAY,
    TIME,
    _meaning(
        "kind",
        "the kind of inspection",
        Reads.KIND,
        "kind, type, type of inspection, inspection type, inspection, insp type, check, reason, "
        "art, service, frequency",
    ),
    _number(
        "travel_in",
        "travel taped",
        measured_field(Inspection, "travel_in"),
        "travel, travel in, taped, tape, taped travel, travel taped, stroke, stretch, hub, "
        "suppressor travel, travel measured, measured travel",
    ),
    _meaning(
        "travel_reason",
        "why a travel beyond design is right",
        Reads.TEXT,
        "travel reason, reason for travel",
        most=200,
    ),
    _meaning(
        "sound_again_reason",
        "why pads found unsound before are sound with no new one",
        Reads.TEXT,
        "sound again, why sound again, reason sound again",
        most=200,
    ),
    _number(
        "hours",
        "hour meter",
        measured_field(HourReading, "hours"),
        "hours, hrs, hour meter, meter, meter reading, meter hours, engine hours, run hours, "
        "running hours, hour reading, stunden, hours read, machine hours, smu, h",
    ),
    _meaning(
        "sound",
        "how many pads are sound",
        Reads.SOUND,
        "pads, pads ok, pads good, good pads, sound pads, pads sound, pad count, no of good pads, "
        "pads counted, sound, ok pads, count",
    ),
    _meaning(
        "unsound",
        "the pads that were not sound, such as A3 cracked",
        Reads.UNSOUND,
        "bad pads, pads bad, unsound pads, pads unsound, pads not sound, pads not ok, defective "
        "pads, damaged pads, failed pads, faulty pads, pad defects, pad damage, pad faults",
        most=400,
    ),
    SIDE,
    NUMBER,
    POSITION,
    _meaning(
        "condition",
        "a pad’s condition",
        Reads.CONDITION,
        "condition, state, status, pad condition, result, zustand, cond, pad state",
    ),
    LOT,
    _meaning("weather", "the weather", Reads.TEXT, "weather, conditions, wetter", most=80),
    YARD,
    INSPECTOR,
    NOTE,
)
_FLEET = (
    HAMMER,
    HOUSING,
    YARD,
    _meaning("make", "the hammer’s make", Reads.TEXT, "make, manufacturer, maker, brand", most=80),
    _meaning(
        "type_name", "the hammer’s type", Reads.TEXT, "type, model, hammer type, type name", most=80
    ),
    _meaning(
        "serial_number",
        "the hammer’s serial number",
        Reads.TEXT,
        "serial, serial no, serial number, s n, sn, hammer serial, hammer serial no",
        most=80,
    ),
    _meaning(
        "housing_serial",
        "the housing’s serial number",
        Reads.TEXT,
        "housing serial, housing serial no, suppressor serial, housing s n",
        most=80,
    ),
    _number(
        "eccentric_moment_lb_in",
        "the hammer’s eccentric moment",
        measured_field(Hammer, "eccentric_moment_lb_in"),
        "eccentric moment, moment, ecc moment, eccentric moment lb in",
    ),
    _number(
        "frequency_vpm",
        "the hammer’s frequency",
        measured_field(Hammer, "frequency_vpm"),
        "frequency, vpm, freq, vibrations per minute, rpm",
    ),
    _number(
        "exciter_weight_lb",
        "the weight of the hammer’s exciter",
        measured_field(Hammer, "exciter_weight_lb"),
        "exciter weight, hammer weight, weight of exciter",
    ),
    _number(
        "positions_per_side",
        "the housing’s pad positions on each side",
        measured_field(SuppressorHousing, "positions_per_side"),
        "positions per side, pads per side, pads side, pads each side, per side",
    ),
    Meaning(
        "positions",
        "the housing’s pad positions, both sides together",
        Reads.NUMBER,
        ("positions", "pads", "no of pads", "number of pads", "total pads", "pad positions"),
        measured_field(SuppressorHousing, "positions_per_side"),
    ),
    _number(
        "design_travel_in",
        "the housing’s design travel",
        measured_field(SuppressorHousing, "design_travel_in"),
        "design travel, travel, rated travel, travel as built, stroke, max travel, hub",
    ),
    _number(
        "weight_lb",
        "the housing’s weight with its pads",
        measured_field(SuppressorHousing, "weight_lb"),
        "housing weight, weight of housing, suppressor weight",
    ),
    _meaning("bumper", "what stands in the stop", Reads.TEXT, "bumper, stop, stops", most=120),
    _meaning(
        "mounted",
        "since when the housing hangs on the hammer",
        Reads.DAY,
        "mounted, hung, since, mounted on, hung since, mounted since, installed, installed on, "
        "date mounted, date hung",
    ),
    _number(
        "listed_lbf",
        "the hammer’s listed line pull",
        measured_field(Listing, "listed_lbf"),
        "listed, listing, line pull, listed pull, max pull, rated pull, pull, listed line pull, "
        "rated line pull, max line pull",
    ),
    _meaning(
        "source", "who claims that pull", Reads.TEXT, "source, listed by, claimed by", most=120
    ),
    _meaning("dated", "the day that source bears", Reads.DAY, "source dated, source date, dated"),
    _meaning("note", "a note", Reads.TEXT, "note, notes, remark, remarks, comment, comments"),
)
_STOCK = (
    LOT,
    YARD,
    Meaning(
        "pads",
        "pads that lie there",
        Reads.NUMBER,
        (
            "pads",
            "on shelf",
            "qty",
            "quantity",
            "count",
            "stock",
            "on hand",
            "in stock",
            "pcs",
            "pads on shelf",
            "number",
            "pads in stock",
            "bestand",
        ),
        None,
    ),
    DAY,
    _meaning("supplier", "who supplied it", Reads.TEXT, "supplier, vendor, from, supplied by", 80),
    _number(
        "hardness_shore_a",
        "hardness",
        measured_field(PadLot, "hardness_shore_a"),
        "hardness, shore, shore a, durometer, hardness shore a",
    ),
    _number(
        "rubber_thickness_in",
        "thickness of the rubber",
        measured_field(PadLot, "rubber_thickness_in"),
        "thickness, rubber thickness, pad thickness",
    ),
    _number(
        "reorder_point",
        "order more at so many",
        measured_field(PadLot, "reorder_point"),
        "reorder, reorder point, min, minimum, order at, min stock",
    ),
    _meaning("use_by", "the day to use it by", Reads.DAY, "use by, expires, expiry, best before"),
    NOTE,
)
_REPLACEMENTS = (
    UNIT,
    HOUSING,
    HAMMER,
    DAY,
    TIME,
    SIDE,
    NUMBER,
    POSITION,
    LOT,
    YARD,
    INSPECTOR,
    NOTE,
)


def _pad_columns() -> Iterator[Meaning]:
    for side in Side:
        for number in range(1, MOST_POSITIONS_PER_SIDE + 1):
            yield Meaning(f"pad:{side}:{number}", f"pad {side}{number}", Reads.CONDITION)


PADS = tuple(_pad_columns())
BY_SORT: dict[Sort, dict[str, Meaning]] = {
    Sort.INSPECTIONS: {each.name: each for each in (*_SHARED_INSPECTION, *PADS)},
    Sort.FLEET: {each.name: each for each in _FLEET},
    Sort.STOCK: {each.name: each for each in _STOCK},
    Sort.REPLACEMENTS: {each.name: each for each in _REPLACEMENTS},
    Sort.LEAVE: {},
}
# Without which a row of a sort tells nothing: one of each group.
NEEDED: dict[Sort, tuple[tuple[str, ...], ...]] = {
    Sort.INSPECTIONS: (("unit", "housing", "hammer"), ("day",)),
    Sort.FLEET: (("hammer", "housing"),),
    Sort.STOCK: (("lot",),),
    Sort.REPLACEMENTS: (("unit", "housing", "hammer"), ("day",), ("position", "number"), ("lot",)),
    Sort.LEAVE: (),
}
# Of which more than one column may be.
MANY = {"note"}


@lru_cache(50_000)
def plain_words(text: str) -> str:
    """Return text in small letters, without accents and signs, single-spaced."""
    bare = unicodedata.normalize("NFKD", text.replace("ß", "ss"))
    bare = "".join(each for each in bare if not unicodedata.combining(each))
    return " ".join(re.sub(r"[^\w#]+|_", " ", bare.lower()).split())


def mark_key(text: str) -> str:
    """Return what a mark is known by however loosely it is written: H 12, h-12 and H012 are one."""
    bare = re.sub(r"[^0-9A-Z]+", "", plain_words(text).upper())
    return re.sub(r"(?<!\d)0+(?=\d)", "", bare) or plain_words(text)


_PAD = re.compile(
    r"(?:(?:pads?|pos|position|side|seite) )*(a|b|left|right|l|r|links|rechts|lh|rh)"
    r"(?: ?(?:side|pads?|pos|position|no|nr|#))* ?#?0?(\d{1,2})"
)
_PAD_WITHOUT_SIDE = re.compile(r"(?:pads?|p|pos|position) ?#? ?(?:no |nr )?0?(\d{1,2})")
_FIRST_SIDE = {"a", "left", "l", "links", "lh"}


def pad_of(header: str) -> tuple[str, int] | None:
    """Return side and position that a header or cell names, such as A3, left 3 or Pad L-3.

    Left is taken for side A, right for side B.
    """
    found = _PAD.fullmatch(plain_words(header))
    if found is None:
        return None
    side = Side.A if found[1] in _FIRST_SIDE else Side.B
    number = int(found[2])
    return (side.value, number) if 1 <= number <= MOST_POSITIONS_PER_SIDE else None


def names_left_or_right(header: str) -> bool:
    """Whether a header names the side of a pad otherwise than by its letter here."""
    found = _PAD.fullmatch(plain_words(header))
    return found is not None and found[1] not in ("a", "b")


def pad_without_side(header: str) -> int | None:
    """Return the number of a header such as Pad 5, which names no side."""
    found = _PAD_WITHOUT_SIDE.fullmatch(plain_words(header))
    return int(found[1]) if found else None


def is_pad_column(name: str) -> bool:
    return name.startswith("pad:")


@cache
def _names(sort: Sort) -> dict[str, str]:
    """The meaning of every alias of a sort; a register's own column names are aliases too."""
    names: dict[str, str] = {}
    for meaning in BY_SORT[sort].values():
        for alias in (plain_words(meaning.name.replace("_", " ")), *meaning.aliases):
            names.setdefault(alias, meaning.name)
        names.setdefault(plain_words(meaning.label), meaning.name)
    return names


@lru_cache(5_000)
def named(sort: Sort, header: str) -> str:
    """Return the meaning that a header names in a sheet of a sort, "" where it names none."""
    if sort is Sort.INSPECTIONS and (pad := pad_of(header)):
        return f"pad:{pad[0]}:{pad[1]}"
    names = _names(sort)
    for words in _spellings(header):
        if words in names:
            return names[words]
    return ""


def _spellings(header: str) -> Iterator[str]:
    """A header as it is, without its unit, without what is in brackets."""
    yield plain_words(header)
    without_unit, _ = unit_at_end(header)
    yield plain_words(without_unit)
    yield plain_words(re.sub(r"\(.*?\)|\[.*?\]", " ", header))
    words = plain_words(without_unit)
    for filler in ("the ", "our "):
        yield words.removeprefix(filler)
    yield re.sub(r" (?:s|es)$|(?<=[a-z]{3})s$", "", words)


def quantity_of(meaning: Meaning) -> Quantity | None:
    """Return the quantity of a number, None for a bare one; hours are one of their own."""
    return meaning.field.quantity if meaning.field is not None else None
