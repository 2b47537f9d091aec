"""Numbers as people write them: one rule for forms, tables, the register and the phone."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from enum import StrEnum

PLAIN = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?", re.ASCII)
# Thousands of three digits each, set off by commas or by points.
_COMMA_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}(,\d{3})+(\.\d*)?", re.ASCII)
_POINT_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}(\.\d{3})+(,\d*)?", re.ASCII)
_ROUND_THOUSANDS = re.compile(r"[+-]?\d{1,3},000", re.ASCII)
# Thousands this many times beyond what a field takes are a figure too large, not decimals.
_NEAR = 10.0


class Decimals(StrEnum):
    """What parts decimals off where a number stands, unless the number itself tells."""

    # A form field, a workbook, a table parted by commas: 120,000 is read as thousands.
    POINT = "point"
    # A table parted by tabs or semicolons: 120,000 is asked about.
    EITHER = "either"
    # Such a table in which some number has a decimal comma for certain.
    COMMA = "comma"


class NotANumber(ValueError):
    """Text that is no number, or reads two ways, in words that say what would do."""


def read_number(
    text: str,
    example: str,
    *,
    least: float = -math.inf,
    most: float = math.inf,
    whole: bool = False,
    decimals: Decimals = Decimals.POINT,
    near: Callable[[], Iterable[float]] = tuple,
) -> float:
    """Return the number a text stands for. Raises NotANumber.

    A point parts decimals off. A comma is taken where it can mean one thing only:

    - Thousands, in groups of three digits: with more than one comma (1,234,567), with a point
      after them (120,000.5), or where the same text with a decimal comma could not be, because it
      is not between `least` and `most` or, where `whole` is asked for, not whole.
    - Thousands, where decimals have a point and three noughts follow (120,000): nobody writes
      those as decimals by hand. Not where the thousands could not be.
    - Decimals: 45,50 and 1.234,5 and 0,500, which can be nothing else, and three digits where the
      thousands could not be (a travel of 5,500 in). Not where decimals have a point and the
      thousands are within ten times `most`: a weight of 600,000 lb where 500,000 are taken is too
      much of it, and no 600 lb.

    Of two readings that are left, the one is taken that lies from half to twice a figure the
    number should be near, where the other lies near none: hours of 1,210 on a meter that read
    1,190. `near` says those figures, and is asked for nothing else.

    All else that reads two ways is asked about, and so is a point before three digits in a table
    with decimal commas. Bounds only choose between readings: a number with one reading is
    returned whatever it is, for `check_bounds`. `example` is a number that would do.
    """
    plain = text.strip().replace("\u2212", "-")
    by_point = float(plain.replace(",", "")) if _has_decimal_point(plain) else None
    by_comma = float(_with_point(plain)) if _has_decimal_comma(plain, decimals) else None
    readings = [each for each in (by_point, by_comma) if each is not None]
    if not readings:
        trouble = "has a comma that sets off no thousands" if "," in plain else "is not a number"
        raise NotANumber(f"{quoted(text)} {trouble}: give one such as {example}")
    if not all(math.isfinite(each) for each in readings):
        raise NotANumber(
            f"{quoted(text)} is too large for any number here: give one such as {example}"
        )
    if by_comma is None:
        return readings[0]
    likely = [
        each for each in readings if least <= each <= most and not (whole and each != int(each))
    ]
    is_too_much = (
        decimals is Decimals.POINT
        and by_point is not None
        and likely == [by_comma]
        and most < by_point <= _NEAR * most
    )
    if len(readings) == 1 or (len(likely) != 2 and not is_too_much):
        return (likely or readings)[0]
    if not is_too_much and decimals is Decimals.POINT and _ROUND_THOUSANDS.fullmatch(plain):
        return readings[0]
    if not is_too_much and (known := [each for each in near() if each > 0.0]):
        close = [
            each
            for each in readings
            if any(near_by / 2 <= each <= 2 * near_by for near_by in known)
        ]
        if len(close) == 1:
            return close[0]
    ways = " or ".join(_certain(each, decimals) for each in readings)
    raise NotANumber(f"{quoted(text)} reads two ways: write {ways}, whichever it is")


def check_bounds(
    text: str, value: float, least: float, most: float, *, above_least: bool = False
) -> None:
    """Raise NotANumber where the number read from `text` is not between two bounds."""
    if value < least or value > most or (above_least and value == least):
        lower = f"more than {least:g}" if above_least else f"{least:g} or more"
        raise NotANumber(f"{quoted(text)} won’t do: give {lower}, up to {most:,.10g}")


def decimals_among(cells: Iterable[str], decimals: Decimals) -> Decimals:
    """Return what parts decimals off in a table: one certain decimal comma tells of every cell."""
    if decimals is not Decimals.EITHER:
        return decimals
    plain = (cell.strip() for cell in cells if "," in cell)
    is_certain = any(
        _has_decimal_comma(cell, decimals) and not _has_decimal_point(cell) for cell in plain
    )
    return Decimals.COMMA if is_certain else decimals


def quoted(text: str) -> str:
    """Return what was given in quotes, cut short where it is long."""
    return f"“{text if len(text) <= 24 else text[:24] + '…'}”"


def _has_decimal_point(plain: str) -> bool:
    return bool(PLAIN.fullmatch(plain) or _COMMA_THOUSANDS.fullmatch(plain))


def _has_decimal_comma(plain: str, decimals: Decimals) -> bool:
    """Whether a decimal comma, or thousands set off by points, would make it a number."""
    if "," in plain:
        is_bare = "." not in plain and PLAIN.fullmatch(plain.replace(",", "."))
        return bool(is_bare or _POINT_THOUSANDS.fullmatch(plain))
    # Points alone are thousands only where decimals are known to have a comma.
    return decimals is Decimals.COMMA and bool(_POINT_THOUSANDS.fullmatch(plain))


def _with_point(plain: str) -> str:
    return plain.replace(".", "").replace(",", ".")


def _certain(value: float, decimals: Decimals) -> str:
    """Write a number so that it reads one way where it stood."""
    text = f"{value:.15g}"
    is_doubtful = decimals is Decimals.COMMA and _POINT_THOUSANDS.fullmatch(text)
    return text + "0" if is_doubtful else text
