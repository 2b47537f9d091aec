"""Cells as people write them, understood or asked about: never guessed in silence."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from enum import StrEnum

from fleet.fields import FRACTION
from fleet.models.housing import MOST_POSITIONS_PER_SIDE, Condition, Side
from fleet.models.measured_fields import Measured
from fleet.numbers import Decimals, NotANumber, quoted, read_number
from fleet.quantities import plain_number
from fleet.written_units import UNITS, UnitOfTwoKinds, factor_for
from inspections.exchange.cells import EARLIEST_YEAR, LATEST_YEAR
from inspections.models import InspectionKind
from inspections.sheets.grid import Cell, Formula, cell_words
from inspections.sheets.meanings import Meaning, Reads, pad_of, plain_words


class Unclear(ValueError):
    """A cell that is not understood, in words that say what would do.

    likely: what it may be, as canonical text, where somebody may just say yes.
    """

    def __init__(self, words: str, likely: str = "") -> None:
        self.likely = likely
        super().__init__(words)


@dataclass(frozen=True)
class Understood:
    """What a cell says: as text that the register reads, and as words that people check."""

    text: str
    words: str


class DayOrder(StrEnum):
    """What stands first in days such as 3/12/26."""

    MONTH = "month first"
    DAY = "day first"
    UNKNOWN = "not known"


# Words that say of a pad what the program's own conditions say.
_SOUND = (
    "sound, ok, okay, good, gut, fine, pass, passed, yes, y, ja, ✓, ✔, ☑, √, 1, intact, "
    "serviceable, new, i.o., all good, all ok, all sound, no defects, no damage, like new"
)
_CRACKED = "cracked, crack, cracks, split, splits, torn, tear, tears, tore, cut, ripped, gerissen"
_DEBONDED = "debonded, debond, unbonded, delaminated, loose, peeled, peeling, separated"
_SWOLLEN = "swollen, swelled, swelling, bulged, bulging"
_MISSING = "missing, gone, lost, none, empty, out, not there, fehlt, no pad"
CONDITIONS: dict[str, Condition] = {
    word: condition
    for words, condition in (
        (_SOUND, Condition.SOUND),
        (_CRACKED, Condition.CRACKED),
        (_DEBONDED, Condition.DEBONDED),
        (_SWOLLEN, Condition.SWOLLEN),
        (_MISSING, Condition.MISSING),
    )
    for word in words.split(", ")
}
# A cross ticks in one yard and strikes out in another: certain only where nothing else does.
CROSSES = {"x", "✗", "✘", "☒", "×"}
KINDS: dict[str, str] = {
    **dict.fromkeys(
        ("pad count", "pads", "count", "pad check", "pad inspection"), InspectionKind.PAD_COUNT
    ),
    **dict.fromkeys(
        ("each shift", "shift", "daily", "pre shift", "pre use", "preshift", "day", "walk round"),
        InspectionKind.SHIFT,
    ),
    **dict.fromkeys(("monthly", "month", "1 month", "m", "30 day"), InspectionKind.MONTHLY),
    **dict.fromkeys(("yearly", "annual", "annually", "year", "12 month"), InspectionKind.YEARLY),
    **dict.fromkeys(
        ("after repair", "repair", "post repair", "following repair"), InspectionKind.AFTER_REPAIR
    ),
    **dict.fromkeys(
        ("before extraction", "extraction", "pre extraction", "pre pull", "before pulling"),
        InspectionKind.BEFORE_EXTRACTION,
    ),
}
SIDES = {"a": Side.A, "left": Side.A, "l": Side.A, "b": Side.B, "right": Side.B, "r": Side.B}
SIDES |= {"side a": Side.A, "side b": Side.B, "lh": Side.A, "rh": Side.B, "1": Side.A, "2": Side.B}
_MONTHS = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]
_OF_DIGITS = re.compile(r"(\d{1,4})\s*([./-])\s*(\d{1,2})\s*\2\s*(\d{1,4})(?:[ T,]+(.*))?")
_DAY_WORD = re.compile(
    r"(\d{1,2})(?:st|nd|rd|th)?[ .-]+([A-Za-z]{3,9})[ .,-]+(\d{2,4})(?:[ ,]+(.*))?"
)
_WORD_DAY = re.compile(
    r"([A-Za-z]{3,9})[ .-]+(\d{1,2})(?:st|nd|rd|th)?[ ,.-]+(\d{2,4})(?:[ ,]+(.*))?"
)
_WEEKDAY = re.compile(r"^(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*[., ]+", re.IGNORECASE)
_CLOCK = re.compile(
    r"(\d{1,2})(?::|\.|h)?(\d{2})?(?::\d{2})?(?:\.\d+)?\s*(am|pm|a|p|h|uhr)?", re.IGNORECASE
)
_FEET = re.compile(r"(\d+)\s*(?:'|′|’|ft\.?|feet|foot)\s*-?\s*(.*)", re.IGNORECASE)
_UNITS = sorted(
    {unit for units in UNITS.values() for unit in units}
    | {"h", "hr", "hrs", "hours", "hour", "pads", "pcs", "pc", "ea", "shore a", "shore"},
    key=len,
    reverse=True,
)
_WITH_UNIT = re.compile(
    rf"(.*?\d[\d.,]*)\s*({'|'.join(re.escape(unit) for unit in _UNITS)})\.?", re.IGNORECASE
)
SERIALS = range(14_000, 80_000)
NOON = time(12, 0)


@dataclass(frozen=True)
class Setting:
    """What cells stand in: how decimals are parted off, days ordered, and the column's unit.

    own_kinds: names of kinds the yard added. unit: "" where the header names none.
    crosses_tick: whether a cross can only mean a tick here. system: of units, that the site is
    read in by whose sheet it is. near: figures that one of two readings should be near.
    """

    decimals: Decimals = Decimals.EITHER
    order: DayOrder = DayOrder.UNKNOWN
    unit: str = ""
    counts_from_1904: bool = False
    own_kinds: frozenset[str] = frozenset()
    crosses_tick: bool = True
    system: str = "us"
    near: tuple[float, ...] = ()


def read_measured(cell: Cell, measured: Measured | None, setting: Setting) -> Understood:
    """Read a figure, with a fraction, feet and inches or a unit where one is given.

    Without a unit, neither in the cell nor over the column, it is in the unit it is stored in.
    Raises Unclear.
    """
    if isinstance(cell, datetime | time):
        raise Unclear(
            f"{quoted(cell_words(cell))} came as a day or time: the spreadsheet may have taken a "
            "fraction for one. Give the figure"
        )
    text = cell_words(cell).strip()
    quantity = measured.quantity if measured else None
    example = measured.example if measured else "12"
    plain, unit = _parted_unit(text)
    unit = unit or setting.unit
    try:
        per_unit = factor_for(quantity, unit, setting.system) if unit else 1.0
    except UnitOfTwoKinds:
        raise Unclear(f"{quoted(text)} reads two ways: write US tons or tonnes") from None
    if per_unit is None:
        stored_in = quantity.symbol("us") if quantity else "no unit"
        raise Unclear(f"{quoted(text)} is in {unit}, which is no unit of this: give {stored_in}")
    least = measured.least / per_unit if measured else 0.0
    most = measured.most / per_unit if measured else 1_000_000.0
    if isinstance(cell, int | float):
        number = float(cell)
    else:
        number = _number(plain, text, unit, example, least, most, setting)
    stored = number * per_unit
    if (measured and measured.is_whole) or measured is None:
        if abs(stored - round(stored)) > 1e-9:
            raise Unclear(f"{quoted(text)} is not a whole number: give one such as {example}")
        stored = round(stored)
    if measured and not (measured.least <= stored <= measured.most):
        symbol = f" {quantity.symbol('us')}" if quantity else ""
        shown = plain_number(stored, 3)
        bounds = f"{measured.least:g} to {plain_number(measured.most, 2)}{symbol}"
        raise Unclear(f"{quoted(text)} comes to {shown}{symbol}: give {bounds}")
    symbol = f" {quantity.symbol('us')}" if quantity else ""
    return Understood(repr(stored), f"{plain_number(float(stored), 3)}{symbol}")


def _parted_unit(text: str) -> tuple[str, str]:
    if feet := _FEET.fullmatch(text):
        rest = feet[2].strip()
        if not rest:
            return feet[1], "ft"
        inches, unit = _parted_unit(rest)
        if unit in ("", '"', "″", "”", "''", "in", "in.", "inch", "inches"):
            return f"{feet[1]} ft {inches}", "in"
        return text, ""
    found = _WITH_UNIT.fullmatch(text)
    return (found[1], found[2].lower()) if found else (text, "")


def _number(
    plain: str,
    text: str,
    unit: str,
    example: str,
    least: float,
    most: float,
    setting: Setting,
) -> float:
    if feet := re.fullmatch(r"(\d+) ft (.*)", plain):
        return 12.0 * int(feet[1]) + _number(feet[2], text, unit, example, 0, 12, setting)
    taped = FRACTION.fullmatch(plain.strip())
    if taped and int(taped["under"]):
        over, under = int(taped["over"]), int(taped["under"])
        if over >= under or under not in (2, 3, 4, 8, 10, 16, 32, 64):
            raise Unclear(f"{quoted(text)} is no fraction of a tape: give one such as 8 3/4")
        return int(taped["whole"] or 0) + over / under
    try:
        return read_number(
            plain,
            example,
            least=least,
            most=most,
            decimals=setting.decimals,
            near=lambda: setting.near,
        )
    except NotANumber as error:
        raise Unclear(str(error)) from error


def read_day(cell: Cell, setting: Setting) -> tuple[date, time | None]:
    """Return the day of a cell, and its time where it names one. Raises Unclear."""
    if isinstance(cell, datetime):
        at = None if (cell.hour, cell.minute) == (0, 0) else time(cell.hour, cell.minute)
        return _of_this_age(cell_words(cell), cell.date()), at
    text = _WEEKDAY.sub("", cell_words(cell).strip())
    if isinstance(cell, int | float) or re.fullmatch(r"\d{5}(\.\d+)?", text):
        return _of_serial(text, float(text), setting)
    days, clock = days_of(text)
    at = read_time(clock, setting) if clock else None
    if not days:
        raise Unclear(f"{quoted(text)} is not a day: give one such as 2026-03-14")
    if len(set(days.values())) == 1:
        return _of_this_age(text, next(iter(days.values()))), at
    if setting.order in days:
        return _of_this_age(text, days[setting.order]), at
    raise Unclear(f"{quoted(text)} is one day or another: say whether day or month stands first")


def days_of(text: str) -> tuple[dict[DayOrder, date], str]:
    """Return the days that a text may mean, by the order of its figures, and the time behind."""
    if found := _OF_DIGITS.fullmatch(text.strip()):
        first, middle, last = found[1], found[3], found[4]
        clock = (found[5] or "").strip()
        if len(first) == 4:
            day = _day(int(first), int(middle), int(last))
            return ({DayOrder.MONTH: day, DayOrder.DAY: day} if day else {}), clock
        year = _year(last)
        ways = {
            DayOrder.MONTH: _day(year, int(first), int(middle)),
            DayOrder.DAY: _day(year, int(middle), int(first)),
        }
        certain = {order: day for order, day in ways.items() if day}
        if len(certain) == 1:
            only = next(iter(certain.values()))
            return dict.fromkeys(ways, only), clock
        return certain, clock
    for pattern, places in ((_DAY_WORD, (1, 2)), (_WORD_DAY, (2, 1))):
        if found := pattern.fullmatch(text.strip()):
            month = found[places[1]].lower()[:3]
            month = {"mai": "may", "okt": "oct", "dez": "dec"}.get(month, month)
            if month in _MONTHS:
                day = _day(_year(found[3]), _MONTHS.index(month) + 1, int(found[places[0]]))
                ways_found = dict.fromkeys((DayOrder.MONTH, DayOrder.DAY), day) if day else {}
                return {o: d for o, d in ways_found.items() if d}, (found[4] or "").strip()
    return {}, ""


def order_told(text: str) -> DayOrder:
    """Return what stands first in a day that can mean only one, UNKNOWN in any other text."""
    found = _OF_DIGITS.fullmatch(_WEEKDAY.sub("", text.strip()))
    if found is None or len(found[1]) == 4:
        return DayOrder.UNKNOWN
    first, second, year = int(found[1]), int(found[3]), _year(found[4])
    by_month, by_day = _day(year, first, second), _day(year, second, first)
    if (by_month is None) == (by_day is None):
        return DayOrder.UNKNOWN
    return DayOrder.MONTH if by_month else DayOrder.DAY


def is_ambiguous(text: str) -> bool:
    """Whether a text is two days, one of them by each order."""
    days, _ = days_of(_WEEKDAY.sub("", text.strip()))
    return len(set(days.values())) == 2


def _year(text: str) -> int:
    year = int(text)
    return year if len(text) > 2 else (2000 + year if year < 70 else 1900 + year)


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _of_this_age(text: str, day: date) -> date:
    if EARLIEST_YEAR <= day.year <= LATEST_YEAR:
        return day
    raise Unclear(f"{quoted(text)} won’t do: give a year from {EARLIEST_YEAR} to {LATEST_YEAR}")


def _of_serial(text: str, serial: float, setting: Setting) -> tuple[date, time | None]:
    """The day that a spreadsheet counts, with its part of a day as the time."""
    # Imported on need: the site must not wait for the workbook library at start.
    from openpyxl.utils.datetime import CALENDAR_MAC_1904, CALENDAR_WINDOWS_1900, from_excel

    if int(serial) not in SERIALS:
        raise Unclear(f"{quoted(text)} is not a day: give one such as 2026-03-14")
    epoch = CALENDAR_MAC_1904 if setting.counts_from_1904 else CALENDAR_WINDOWS_1900
    at = from_excel(serial, epoch)
    # A spreadsheet keeps minutes a hair off.
    at += timedelta(seconds=30)
    named = None if serial == int(serial) else time(at.hour, at.minute)
    return at.date(), named


def read_time(cell: Cell, setting: Setting) -> time:
    """Return the time of day of a cell. Raises Unclear."""
    if isinstance(cell, datetime):
        return time(cell.hour, cell.minute)
    if isinstance(cell, time):
        return time(cell.hour, cell.minute)
    if isinstance(cell, float) and 0 <= cell < 1:
        minutes = math.floor(cell * 24 * 60 + 0.5) % (24 * 60)
        return time(minutes // 60, minutes % 60)
    text = cell_words(cell).strip()
    found = _CLOCK.fullmatch(text)
    if found is None or not (found[2] or found[3]):
        raise Unclear(f"{quoted(text)} is no time of day: give one such as 09:30")
    hour, half = int(found[1]), (found[3] or "").lower()[:1]
    if half in ("a", "p") and not 1 <= hour <= 12:
        raise Unclear(f"{quoted(text)} is no time of day: give one such as 09:30")
    if half == "p":
        hour = hour % 12 + 12
    elif half == "a":
        hour %= 12
    minute = int(found[2] or 0)
    if hour > 23 or minute > 59:
        raise Unclear(f"{quoted(text)} is no time of day: give one such as 09:30")
    return time(hour, minute)


def read_condition(cell: Cell, setting: Setting) -> Understood:
    """Read a pad's condition. Raises Unclear."""
    text = cell_words(cell).strip()
    if "?" in text:
        raise Unclear(f"{quoted(text)} was not certain: say what the pad was")
    words = plain_words(text) or text.lower()
    condition = CONDITIONS.get(text.lower()) or CONDITIONS.get(words)
    if condition is None and text.lower() in CROSSES and setting.crosses_tick:
        condition = Condition.SOUND
    if condition is not None:
        return Understood(condition.value, condition.value)
    if text.lower() in CROSSES:
        raise Unclear(f"{quoted(text)} may tick a pad or strike it out: say which")
    found = {CONDITIONS[word] for word in words.split() if word in CONDITIONS}
    likely = next(iter(found)).value if len(found) == 1 else ""
    raise Unclear(
        f"{quoted(text)} is no condition we know: say which of {', '.join(Condition.values)} it is",
        likely,
    )


def read_kind(cell: Cell, setting: Setting) -> Understood:
    """Read a kind of inspection, a common one or the yard's own. Raises Unclear."""
    text = cell_words(cell).strip()
    words = plain_words(text).removesuffix(" inspection").removesuffix(" check")
    for name in (text.lower(), words):
        if name in setting.own_kinds:
            return Understood(name, name)
        if name in KINDS:
            return Understood(str(KINDS[name]), str(KINDS[name]))
    kinds = [*InspectionKind.values, *sorted(setting.own_kinds)]
    raise Unclear(f"{quoted(text)} is no kind of inspection here: say which of {', '.join(kinds)}")


def read_side(cell: Cell) -> Understood:
    """Read a side of a housing. Raises Unclear."""
    side = SIDES.get(plain_words(cell_words(cell)))
    if side is None:
        raise Unclear(f"{quoted(cell_words(cell))} is no side: give A or B")
    return Understood(side.value, f"side {side.value}")


def read_position(cell: Cell) -> Understood:
    """Read a pad's position, with its side (A3) or without (3). Raises Unclear."""
    text = cell_words(cell).strip()
    if pad := pad_of(text):
        return Understood(f"{pad[0]}{pad[1]}", f"{pad[0]}{pad[1]}")
    bare = re.fullmatch(r"(?:pad|pos|position|no|nr|#)?[ .#]*0?(\d{1,2})", text.lower())
    if bare and 1 <= int(bare[1]) <= MOST_POSITIONS_PER_SIDE:
        return Understood(bare[1], bare[1])
    raise Unclear(f"{quoted(text)} is no position of a pad: give one such as A3")


_SO_MANY = re.compile(
    r"(\d{1,3})(?:\s*(?:/|of|von|out of)\s*(\d{1,3}))?\s*(?:pads?|ok|good|sound)*"
)
ALL = "all"
UNSOUND_EXAMPLE = "A3 cracked, B1 missing"


# A letter a pad: of which some say themselves what they stand for, and others are asked about.
_PAD_LETTERS = re.compile(r"[SXCDMOW]{4,}")
PAD_LETTERS = {
    "S": Condition.SOUND,
    "C": Condition.CRACKED,
    "D": Condition.DEBONDED,
    "M": Condition.MISSING,
}
NOTHING = frozenset(
    ("n/a", "na", "n.a.", "n.a", "-", "--", "–", "—", "none", "nil", "not read", "not taken")
)
MAY_BE_NOTHING = (
    *(Reads.NUMBER, Reads.TEXT, Reads.TIME, Reads.KIND, Reads.SOUND, Reads.UNSOUND, Reads.YARD),
)


def read_sound(cell: Cell) -> tuple[int | None, int | None]:
    """Return how many pads are sound, and of how many where that is said; None for all.

    Raises Unclear.
    """
    if isinstance(cell, datetime):
        # A spreadsheet takes 7/8 for a day.
        raise Unclear(
            f"{quoted(cell_words(cell))} came as a day: the spreadsheet may have taken “"
            f"{cell.month}/{cell.day}” for one. Say which pads were not sound",
        )
    text = cell_words(cell).strip().lower()
    if plain_words(text) in ("all", "all good", "all ok", "all sound", "alle"):
        return None, None
    if text in ("none", "nil"):
        raise Unclear(
            f"{quoted(text)} may mean that no pad was sound, or that nobody counted: give 0, or "
            "leave it out"
        )
    if says_sound(cell):
        raise Unclear(
            f"{quoted(cell_words(cell))} counts no pads: say whether every one was looked at and "
            "sound, or give a number such as 8 of 8",
            ALL,
        )
    found = _SO_MANY.fullmatch(text.removesuffix(".0"))
    if found is None:
        raise Unclear(f"{quoted(text)} is no number of pads: give one such as 8 of 8")
    return int(found[1]), int(found[2]) if found[2] else None


def says_sound(cell: Cell) -> bool:
    """Whether a cell calls pads sound in a word, such as good, and counts none."""
    text = cell_words(cell).strip().lower()
    words = CONDITIONS.get(text) or CONDITIONS.get(plain_words(text))
    return words == Condition.SOUND and not text.isdigit()


# Pads parted from what was wrong with them: A3 cracked, B1 and B2: missing, A4 (split).
_NAMED_PAD = re.compile(
    r"\s*(?:pad\s+)?(?:side\s+)?([a-z]+\s*-?\s*\d{1,2})\b[\s:=(–-]*(.*?)[\s)]*", re.IGNORECASE
)
_BETWEEN_PADS = re.compile(r"[,;/&+\n]|\band\b", re.IGNORECASE)


def read_unsound(cell: Cell) -> dict[tuple[str, int], str]:
    """Return the condition of each pad that a cell names, by side and number.

    Pads named one after another with one condition behind them all have it. Raises Unclear.
    """
    text = cell_words(cell).strip()
    named: dict[tuple[str, int], str] = {}
    without: list[tuple[str, int]] = []
    for part in _BETWEEN_PADS.split(text):
        found = _NAMED_PAD.fullmatch(part)
        pad = pad_of(found[1]) if found else None
        if found is None or pad is None:
            raise Unclear(
                f"{quoted(part.strip())} names no pad: give them such as {UNSOUND_EXAMPLE}"
            )
        if pad in named or pad in without:
            raise Unclear(f"{quoted(text)} names {pad[0]}{pad[1]} twice: give each pad once")
        without.append(pad)
        if found[2]:
            condition = read_condition(found[2], Setting(crosses_tick=False)).text
            named |= dict.fromkeys(without, condition)
            without = []
    if without:
        side, number = without[0]
        raise Unclear(
            f"{quoted(text)} does not say what was wrong with {side}{number}: give it such as "
            f"{UNSOUND_EXAMPLE}"
        )
    return named


def named_pads_words(named: dict[tuple[str, int], str]) -> str:
    """Return pads with their conditions as they are written: A3 cracked, B1 missing."""
    return ", ".join(f"{side}{number} {each}" for (side, number), each in sorted(named.items()))


def read_pad_letters(cell: Cell) -> str:
    """Return letters that stand for a pad each, such as SSXS SSSS, without blanks; else ""."""
    text = "".join(cell_words(cell).upper().split()) if isinstance(cell, str) else ""
    return text if _PAD_LETTERS.fullmatch(text) and "S" in text else ""


def says_nothing(meaning: Meaning, cell: Cell) -> bool:
    """Whether a cell says in a word that there is nothing to say, such as n/a or a dash.

    Not where a pad, a unit or a day should stand, of which that is asked about; nor of none among
    sound pads, which may be a count of 0.
    """
    if meaning.reads is Reads.SOUND and cell_words(cell).strip().lower() in ("none", "nil"):
        return False
    if meaning.reads not in MAY_BE_NOTHING or not isinstance(cell, str):
        return False
    return cell.strip().lower() in NOTHING


def read_text(cell: Cell, meaning: Meaning) -> Understood:
    """Read text of so many characters at the most. Raises Unclear."""
    text = " ".join(cell_words(cell).split())
    if len(text) > meaning.most:
        raise Unclear(f"{quoted(text)} has {len(text):,} characters: {meaning.most:,} at the most")
    return Understood(text, text)


def refuse_formula(cell: Cell) -> None:
    """Raise Unclear for a formula that was never calculated."""
    if isinstance(cell, Formula):
        raise Unclear(
            f"{quoted(cell.text)} is a formula that was never calculated: give its value, or open "
            "and save the workbook"
        )


def order_among(cells: Iterable[Cell]) -> tuple[DayOrder, list[str]]:
    """Return the order that days of one file tell of, and those that are unclear without it.

    UNKNOWN where none tells, or some tell one and some the other.
    """
    told: set[DayOrder] = set()
    unclear: dict[str, None] = {}
    for cell in cells:
        if not isinstance(cell, str):
            continue
        order = order_told(cell)
        if order is not DayOrder.UNKNOWN:
            told.add(order)
        elif is_ambiguous(cell):
            unclear[cell] = None
    return (told.pop() if len(told) == 1 else DayOrder.UNKNOWN), list(unclear)


def may_be_swapped(cells: Iterable[Cell]) -> bool:
    """Whether a spreadsheet may have swapped day and month while days were typed into it.

    One set to month first leaves 14/3/26 as text and takes 3/12/26 for March 12: the days it
    took have none beyond the twelfth, and those it left as text have nothing else.
    """
    taken = [cell for cell in cells if isinstance(cell, datetime)]
    left = [cell for cell in cells if isinstance(cell, str)]
    told = {order_told(cell) for cell in left} - {DayOrder.UNKNOWN}
    return bool(taken) and told == {DayOrder.DAY} and all(each.day <= 12 for each in taken)
