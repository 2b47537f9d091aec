"""The table of line pulls that the ledger and the phone are both held to.

Run this file to write tests/cases/line_pull.json again after a change of the formula or of a case.
"""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from ratings.mechanics.load_curve import Knot, monotone_curve
from ratings.mechanics.unit_rating import LotRate, Policy, Position, UnitInputs, rate_unit

TABLE = Path(__file__).parents[2] / "cases" / "line_pull.json"
UNSOUND = ("cracked", "debonded", "swollen", "missing")
POLICY = Policy()
Lot = dict[str, Any]


def given() -> Iterator[dict[str, Any]]:
    """Every case, without what is to come of it."""
    straight, stiff = _linear(1, 1000.0, 8.0), _linear(2, 2.0 / 3.0 * 1000, 6.3)
    bent = _curved(3, [1.0, 2.5, 4.0, 6.5], [900.0, 2500.0, 3900.5, 7000.125])
    unrated = {"id": 4, "rate_lbf_in": None, "tested_stretch_in": None, "curve": None}
    lots = [straight, stiff, bent, unrated]
    yield _case("linear, all sound", _pads([1] * 8), lots, 6.0)
    yield _case("two lots", _pads([1, 2] * 6), lots, 5.1)
    yield _case("a curve between its knots", _pads([3] * 8), lots, 3.3)
    yield _case("a curve at a knot", _pads([3] * 8), lots, 4.0)
    yield _case("a curve at its end", _pads([3] * 8), lots, 6.5)
    yield _case("three lots and one unrated", _pads([1, 2, 3, 4] * 6), lots, 4.7)
    yield _case("a lot unknown", _pads([1, None, 1, None]), lots, 6.0)
    yield _case("all unrated", _pads([4] * 8), lots, 6.0)
    unsound = _pads([1] * 8, ["cracked", "missing", "swollen", "debonded"])
    yield _case("unsound pads", unsound, lots, 6.0)
    yield _case("an unsound lot still limits", _pads([2, 1, 1, 1], ["cracked"]), lots, 7.0)
    yield _case("no sound pad", _pads([1] * 4, ["cracked"] * 4), lots, 6.0)
    yield _case("all missing", _pads([1] * 4, ["missing"] * 4), lots, 6.0)
    yield _case("no pads", [], lots, 6.0)
    yield _case("one not counted", _pads([1] * 8, [""]), lots, 6.0)
    yield _case("never taped", _pads([1] * 8), lots, None)
    yield _case("travel beyond tested stretch", _pads([1, 3] * 4), lots, 12.0)
    yield _case("a hair of travel", _pads([1, 2, 3, 1]), lots, 0.1)
    yield from _chance()


def _chance() -> Iterator[dict[str, Any]]:
    """Units no hand would think of; the same ones each time."""
    dice = random.Random(1926)
    for number in range(40):
        lots = [_lot_by_chance(dice, pk) for pk in range(1, dice.randint(2, 6))]
        fitted = [
            dice.choice([*range(1, len(lots) + 1), 1]) for _ in range(dice.randint(1, 12) * 2)
        ]
        found = [dice.choice(["sound"] * 5 + list(UNSOUND)) for _ in fitted]
        travel_in = dice.choice([dice.uniform(0.1, 14.0), dice.randint(1, 96) / 8])
        yield _case(f"by chance {number + 1}", _pads(fitted, found), lots, travel_in)


def _lot_by_chance(dice: random.Random, pk: int) -> Lot:
    if dice.random() < 0.5:
        return _linear(pk, dice.uniform(100.0, 3000.0), dice.uniform(1.0, 12.0))
    stretches = sorted({round(dice.uniform(0.2, 9.0), 3) for _ in range(dice.randint(2, 7))})
    forces = sorted(dice.uniform(50.0, 9000.0) for _ in stretches)
    return _curved(pk, stretches, forces)


def _case(name: str, pads: list[Any], lots: list[Lot], travel_in: float | None) -> dict[str, Any]:
    return {"name": name, "pads": pads, "lots": lots, "travel_in": travel_in}


def _pads(fitted: list[int | None], found: list[str] | None = None) -> list[dict[str, Any]]:
    """Pads of these lots, in these conditions as far as they go, and sound beyond."""
    conditions = [*(found or []), *["sound"] * len(fitted)]
    return [
        {"condition": condition, "lot": None if condition == "missing" else lot}
        for lot, condition in zip(fitted, conditions, strict=False)
    ]


def _linear(pk: int, rate_lbf_in: float, to_in: float) -> Lot:
    return {"id": pk, "rate_lbf_in": rate_lbf_in, "tested_stretch_in": to_in, "curve": None}


def _curved(pk: int, stretches: list[float], forces: list[float]) -> Lot:
    knots = monotone_curve(stretches, forces).knots
    curve = [[knot.stretch_in, knot.force_lbf, knot.slope_lbf_in] for knot in knots]
    rate = max(forces[-1] / stretches[-1], 1.0)
    return {"id": pk, "rate_lbf_in": rate, "tested_stretch_in": stretches[-1], "curve": curve}


def expected(case: dict[str, Any]) -> dict[str, Any]:
    """Return what the ledger makes of a case, its numbers in 17 significant digits."""
    rated = rate_unit(
        UnitInputs(
            positions=tuple(_positions(case["pads"])),
            lots=tuple(_rate(lot) for lot in case["lots"] if lot["rate_lbf_in"] is not None),
            travel_in=case["travel_in"],
            listed_lbf=None,
            policy=POLICY,
        )
    )
    return {
        "pull_lbf": _digits(rated.pull_lbf),
        "usable_travel_in": _digits(rated.usable_travel_in),
        "limited_by": rated.limited_by,
        "sound_pads": rated.sound_pads,
        "unrated_pads": sum(each.count for each in rated.unrated_pads),
        "missing": [word for word in rated.missing if word != "a listed rating"],
    }


def _positions(pads: list[dict[str, Any]]) -> Iterator[Position]:
    for place, pad in enumerate(pads):
        lot = None if pad["lot"] is None else str(pad["lot"])
        yield Position("AB"[place % 2], place // 2 + 1, pad["condition"], lot)


def _rate(lot: Lot) -> LotRate:
    curve = lot["curve"]
    return LotRate(
        lot=str(lot["id"]),
        rate_lbf_in=lot["rate_lbf_in"],
        standard_error_lbf_in=0.0,
        degrees_of_freedom=None,
        # Beyond the policy's limit where the lot goes by its curve.
        linearity_error_pct=0.0 if curve is None else 2 * POLICY.linearity_limit_pct,
        tested_stretch_in=lot["tested_stretch_in"],
        curve=tuple(Knot(*knot) for knot in curve or ()),
    )


def _digits(value: float | None) -> str | None:
    return None if value is None else f"{value:.17g}"


def write() -> None:
    """Write the table: one case a line."""
    lines = [json.dumps(case | {"expected": expected(case)}) for case in given()]
    TABLE.parent.mkdir(exist_ok=True)
    TABLE.write_text("[\n" + ",\n".join(lines) + "\n]\n")


if __name__ == "__main__":
    write()
