"""Inputs and results of a rating as plain JSON values, and back."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any

from ratings.mechanics import format_1, format_2, format_3
from ratings.mechanics.linepull import ProofFactor
from ratings.mechanics.load_curve import CurveDoubt, Knot
from ratings.mechanics.unit_rating import (
    LotRate,
    LotRubber,
    Policy,
    Position,
    UnitInputs,
    UnitRating,
    rate_unit,
)

# Of entries and their inputs, raised when the method of rating changes.
FORMAT = 4


def inputs_record(inputs: UnitInputs) -> dict[str, Any]:
    """Return the inputs as JSON values. Positions and lots are sorted: their order is no fact."""
    return {
        "positions": [
            _as_values(position)
            for position in sorted(inputs.positions, key=lambda each: (each.side, each.number))
        ],
        "lots": [_lot_record(rate) for rate in sorted(inputs.lots, key=lambda rate: rate.lot)],
        "travel_in": inputs.travel_in,
        "listed_lbf": inputs.listed_lbf,
        "policy": _as_values(inputs.policy),
        "is_guided": inputs.is_guided,
        "rubber": [
            _as_values(rubber) for rubber in sorted(inputs.rubber, key=lambda each: each.lot)
        ],
        "proof": _as_values(inputs.proof) if inputs.proof else None,
    }


def read_inputs(record: dict[str, Any]) -> UnitInputs:
    """Rebuild the inputs that inputs_record wrote; of format 1, which knew less, too.

    Raises KeyError, TypeError or ValueError where the record isn't one of its making.
    """
    return UnitInputs(
        positions=tuple(Position(**position) for position in record["positions"]),
        lots=tuple(_read_lot(lot) for lot in record["lots"]),
        travel_in=record["travel_in"],
        listed_lbf=record["listed_lbf"],
        policy=Policy(**record["policy"]),
        is_guided=record.get("is_guided", False),
        rubber=tuple(LotRubber(**rubber) for rubber in record.get("rubber", ())),
        proof=ProofFactor(**record["proof"]) if record.get("proof") else None,
    )


def results_record(rating: UnitRating) -> dict[str, Any]:
    """Return the results as JSON values."""
    record: dict[str, Any] = _as_values(rating)
    return record | {"standing": rating.standing.value}


def results_of_format(number: int, inputs: UnitInputs) -> dict[str, Any]:
    """Return the results that inputs come to by the method of an entry's format, as JSON values.

    Raises ValueError for a format that isn't known.
    """
    if number == 1:
        return format_1.results(inputs)
    if number == 2:
        return format_2.results(inputs)
    if number == 3:
        return format_3.results(inputs)
    if number == FORMAT:
        return results_record(rate_unit(inputs))
    raise ValueError(f"format is {number!r}: give 1 to {FORMAT}")


def _as_values(value: Any) -> Any:
    """Return what `dataclasses.asdict` returns, which copies each text and number too."""
    kind: Any = type(value)
    if kind in (float, str, int, bool, type(None)):
        return value
    names = _names_of(kind)
    if names:
        return {name: _as_values(getattr(value, name)) for name in names}
    return kind(map(_as_values, value)) if kind in (tuple, list) else value


@cache
def _names_of(kind: Any) -> tuple[str, ...]:
    return tuple(each.name for each in fields(kind)) if is_dataclass(kind) else ()


def _lot_record(rate: LotRate) -> dict[str, Any]:
    knots = [[knot.stretch_in, knot.force_lbf, knot.slope_lbf_in] for knot in rate.curve]
    record: dict[str, Any] = _as_values(rate)
    return record | {"curve": knots}


def _read_lot(record: dict[str, Any]) -> LotRate:
    curve = tuple(Knot(*map(float, knot)) for knot in record["curve"])
    return LotRate(**record | {"curve": curve, "curve_doubt": CurveDoubt(**record["curve_doubt"])})
