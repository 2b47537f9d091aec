"""Figures of an answer in words: three figures in a sentence, for the ground gives no more."""

from __future__ import annotations

import math
from collections.abc import Callable

from fleet.quantities import Quantity, plain_number
from ratings.mechanics.extraction.verdict import Check, CheckKey, Outcome

NONE = "–"
UNKNOWN = "not known"
# Decimals of the finest force that a sentence tells apart.
_FINEST = {"us": 0, "si": 2}


def margin_words(margin: float | None) -> str:
    """Return a margin such as "1.42×", rounded down: 1.249 is not yet 1.25."""
    if margin is None:
        return NONE
    return f"{math.floor(margin * 100 + 1e-9) / 100:.2f}×"


def amount_words(check: Check, value: float | None, system: str) -> str:
    """Return a demand or a supply of a check in full with its unit, "–" where there is none."""
    if value is None:
        return UNKNOWN if check.outcome is Outcome.UNKNOWN else NONE
    if check.key is CheckKey.AMPLITUDE:
        return Quantity.DIAMETER.words(value, system, 2 if system == "us" else 1)
    if check.key is CheckKey.INSPECTION:
        return f"{plain_number(value, 0)} day{'' if value == 1 else 's'}"
    if check.key is CheckKey.DISTANCE:
        return Quantity.DISTANCE.words(value, system)
    return Quantity.FORCE.words(value, system, 0 if system == "us" else 1)


def half_up(steps: float) -> int:
    """Round as people do: a half goes up."""
    return math.floor(steps + 0.5)


def about(force_lbf: float, system: str, whole: Callable[[float], int] = half_up) -> str:
    """Return a force to three figures, such as "61,300 lbf". whole: how it is rounded."""
    shown = Quantity.FORCE.shown(force_lbf, system)
    return _stepped(shown, _places(shown, system), system, whole)


def at_least(force_lbf: float, system: str) -> str:
    """Return a force to three figures, never less than it is."""
    # A hair of leave, so that 61,300 is not raised for its last bit; below, the same.
    return about(force_lbf, system, lambda steps: math.ceil(steps - 1e-9))


def at_most(force_lbf: float, system: str) -> str:
    """Return a force to three figures, never more than it is."""
    return about(force_lbf, system, lambda steps: math.floor(steps + 1e-9))


def compared(demand_lbf: float, supply_lbf: float, system: str) -> tuple[str, str, str]:
    """Return demand, supply and what is between them, so that the three agree as they stand.

    To three figures of the smaller, no more than four of the larger; to more where two that
    differ would else read the same.
    """
    demand, supply = (Quantity.FORCE.shown(each, system) for each in (demand_lbf, supply_lbf))
    places = min(
        _places(min(demand, supply), system),
        _places(max(demand, supply), system) + 1,
        _FINEST[system],
    )
    while places < _FINEST[system] and _steps(demand, places) == _steps(supply, places):
        places += 1
    between = abs(_steps(supply, places) - _steps(demand, places)) / 10.0**places
    asked, given, spare = (_stepped(each, places, system) for each in (demand, supply, between))
    return asked, given, spare


def _places(shown: float, system: str) -> int:
    """Decimals that leave three figures, less than 0 for tens, hundreds and so on."""
    if shown == 0.0:
        return 0
    return min(_FINEST[system], 2 - math.floor(math.log10(abs(shown))))


def _steps(shown: float, places: int, whole: Callable[[float], int] = half_up) -> int:
    return whole(shown * 10.0**places)


def _stepped(
    shown: float, places: int, system: str, whole: Callable[[float], int] = half_up
) -> str:
    words = plain_number(_steps(shown, places, whole) / 10.0**places, max(0, places))
    return f"{words} {Quantity.FORCE.symbol(system)}"
