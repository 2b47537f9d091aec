"""The table of line pulls that the phone is held to, by the ledger's own formula.

The phone can't weigh doubts, so it shows the largest pull at any stretch the ledger may choose.
Run this file to write tests/cases/line_pull.json again after a change of the formula or of a case.
"""

from __future__ import annotations

import json
import math
import random
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from ratings.mechanics.linepull import ProofFactor, pull_at
from ratings.mechanics.load_curve import Knot, monotone_curve
from ratings.mechanics.unit_rating import (
    LotRate,
    LotRubber,
    Policy,
    Position,
    UnitInputs,
    kept_share,
    pad_groups,
    rate_unit,
    sound_pads_of,
    strain_limit_in,
    strain_limit_of,
)

TABLE = Path(__file__).parents[2] / "cases" / "line_pull.json"
UNSOUND = ("cracked", "debonded", "swollen", "missing")
POLICY = Policy(largest_strain_pct=150.0)
Lot = dict[str, Any]


def given() -> Iterator[dict[str, Any]]:
    """Every case, without what is to come of it."""
    straight, stiff = _linear(1, 1000.0, 8.0), _linear(2, 2.0 / 3.0 * 1000, 6.3)
    bent = _curved(3, [1.0, 2.5, 4.0, 6.5], [900.0, 2500.0, 3900.5, 7000.125])
    unrated = _lot(4)
    lots = [straight, stiff, bent, unrated]
    yield _case("linear, all sound", _pads([1] * 8), lots, 6.0)
    yield _case("two lots", _pads([1, 2] * 6), lots, 5.1)
    yield _case("a curve between its knots", _pads([3] * 8), lots, 3.3)
    yield _case("a curve at a knot", _pads([3] * 8), lots, 4.0)
    yield _case("a curve at its end", _pads([3] * 8), lots, 6.5)
    yield _case("three lots and one unrated", _pads([1, 2, 3, 4] * 6), lots, 4.7)
    yield _case("a lot unknown", _pads([1, None, 1, None]), lots, 6.0, is_guided=True)
    yield _case("all unrated", _pads([4] * 8), lots, 6.0)
    unsound = _pads([1] * 8, ["cracked", "missing", "swollen", "debonded"])
    yield _case("unsound pads", unsound, lots, 6.0)
    yield _case("an unsound lot limits nothing", _pads([2, 1, 1, 1], ["cracked"]), lots, 7.0)
    yield _case("no sound pad", _pads([1] * 4, ["cracked"] * 4), lots, 6.0)
    yield _case("all missing", _pads([1] * 4, ["missing"] * 4), lots, 6.0)
    yield _case("no pads", [], lots, 6.0)
    yield _case("one not counted", _pads([1] * 8, [""]), lots, 6.0)
    yield _case("never taped", _pads([1] * 8), lots, None)
    yield _case("travel beyond tested stretch", _pads([1, 3] * 4), lots, 12.0)
    yield _case("a hair of travel", _pads([1, 2, 3, 1]), lots, 0.1)
    yield from _sides(lots)
    short = _linear(5, 1000.0, 2.5)
    yield _case("one pad tested less far", _pads([5] + [1] * 7), [*lots, short], 6.0)
    yield _case("most pads tested less far", _pads([5] * 7 + [1]), [*lots, short], 6.0)
    quick = _linear(1, 1000.0, 8.0, loading_only_share=1.0, not_conditioned_share=0.5)
    yield _case("prices of a quick test off", _pads([1, 3] * 4), [quick, bent], 6.0)
    yield _case("softer than its pads", _pads([1] * 8), lots, 6.0, proof_ratio=0.83)
    yield _case("stiffer than its pads", _pads([1] * 8), lots, 6.0, proof_ratio=1.07)
    thin = _linear(1, 1000.0, 8.0, rubber_thickness_in=2.5)
    yield _case("strained to the limit", _pads([1, 2] * 4), [thin, stiff], 6.0)
    torn = _lot(4, rubber_thickness_in=1.5)
    yield _case("unrated rubber limits it too", _pads([1, 4] * 4), [straight, torn], 6.0)
    yield from _chance()


def _sides(lots: list[Lot]) -> Iterator[dict[str, Any]]:
    weak = _pads([1] * 8, ["sound", "cracked", "sound", "cracked"])
    yield _case("not guided, side B weaker", weak, lots, 6.0)
    yield _case("guided, side B weaker", weak, lots, 6.0, is_guided=True)
    bare = _pads([1] * 8, ["sound", "missing"] * 4)
    yield _case("not guided, side B bare", bare, lots, 6.0)
    yield _case("guided, side B bare", bare, lots, 6.0, is_guided=True)
    yield _case("a lot on each side", _pads([1, 2] * 4), lots, 6.3)


def _chance() -> Iterator[dict[str, Any]]:
    """Units no hand would think of; the same ones each time."""
    dice = random.Random(1926)
    for number in range(60):
        lots = [_lot_by_chance(dice, pk) for pk in range(1, dice.randint(2, 6))]
        fitted = [
            dice.choice([*range(1, len(lots) + 1), 1]) for _ in range(dice.randint(1, 12) * 2)
        ]
        found = [dice.choice(["sound"] * 5 + list(UNSOUND)) for _ in fitted]
        travel_in = dice.choice([dice.uniform(0.1, 14.0), dice.randint(1, 96) / 8])
        yield _case(
            f"by chance {number + 1}",
            _pads(fitted, found),
            lots,
            travel_in,
            is_guided=dice.random() < 0.4,
            proof_ratio=dice.choice([None, None, dice.uniform(0.7, 1.1)]),
        )


def _lot_by_chance(dice: random.Random, pk: int) -> Lot:
    tests = {
        "loading_only_share": dice.choice([0.0, 0.0, 1.0, dice.random()]),
        "not_conditioned_share": dice.choice([0.0, 0.0, 1.0, dice.random()]),
        "rubber_thickness_in": dice.choice([None, None, dice.uniform(1.0, 6.0)]),
    }
    if dice.random() < 0.2:
        return _lot(pk, rubber_thickness_in=tests["rubber_thickness_in"])
    if dice.random() < 0.5:
        return _linear(pk, dice.uniform(100.0, 3000.0), dice.uniform(1.0, 12.0), **tests)
    stretches = sorted({round(dice.uniform(0.2, 9.0), 3) for _ in range(dice.randint(2, 7))})
    forces = sorted(dice.uniform(50.0, 9000.0) for _ in stretches)
    return _curved(pk, stretches, forces, **tests)


def _case(
    name: str,
    pads: list[Any],
    lots: list[Lot],
    travel_in: float | None,
    *,
    is_guided: bool = False,
    proof_ratio: float | None = None,
) -> dict[str, Any]:
    return {
        "name": name,
        "pads": pads,
        "lots": lots,
        "travel_in": travel_in,
        "is_guided": is_guided,
        "proof_ratio": proof_ratio,
    }


def _pads(fitted: Sequence[int | None], found: Sequence[str] | None = None) -> list[dict[str, Any]]:
    """Pads of these lots, on either side in turn, in these conditions and sound beyond them."""
    conditions = [*(found or []), *["sound"] * len(fitted)]
    return [
        {
            "side": "AB"[place % 2],
            "condition": condition,
            "lot": None if condition == "missing" else lot,
        }
        for place, (lot, condition) in enumerate(zip(fitted, conditions, strict=False))
    ]


def _lot(pk: int, **known: Any) -> Lot:
    """A lot as the phone has it, with what its figures come from."""
    lot: Lot = {
        "id": pk,
        "rate_lbf_in": None,
        "tested_stretch_in": None,
        "curve": None,
        "loading_only_share": 0.0,
        "not_conditioned_share": 0.0,
        "rubber_thickness_in": None,
    }
    lot |= known
    lot["strain_limit_in"] = strain_limit_of(lot["rubber_thickness_in"], POLICY)
    if lot["rate_lbf_in"] is not None:
        lot["kept_share"] = kept_share(_rate(lot), POLICY)
    return lot


def _linear(pk: int, rate_lbf_in: float, to_in: float, **known: Any) -> Lot:
    return _lot(pk, rate_lbf_in=rate_lbf_in, tested_stretch_in=to_in, **known)


def _curved(pk: int, stretches: list[float], forces: list[float], **known: Any) -> Lot:
    knots = monotone_curve(stretches, forces).knots
    curve = [[knot.stretch_in, knot.force_lbf, knot.slope_lbf_in] for knot in knots]
    rate = max(forces[-1] / stretches[-1], 1.0)
    return _lot(pk, rate_lbf_in=rate, tested_stretch_in=stretches[-1], curve=curve, **known)


def inputs_of(case: dict[str, Any]) -> UnitInputs:
    """Return a case as the ledger takes it."""
    ratio = case["proof_ratio"]
    return UnitInputs(
        positions=tuple(_positions(case["pads"])),
        lots=tuple(_rate(lot) for lot in case["lots"] if lot["rate_lbf_in"] is not None),
        travel_in=case["travel_in"],
        listed_lbf=None,
        policy=POLICY,
        is_guided=case["is_guided"],
        rubber=tuple(
            LotRubber(str(lot["id"]), lot["rubber_thickness_in"])
            for lot in case["lots"]
            if lot["rubber_thickness_in"] is not None
        ),
        proof=ProofFactor(ratio, "2026-03-01") if ratio else None,
    )


def expected(case: dict[str, Any]) -> dict[str, Any]:
    """Return what a phone is to make of a case, its numbers in 17 significant digits."""
    inputs = inputs_of(case)
    rated = rate_unit(inputs)
    found = {
        "pull_lbf": None,
        "usable_travel_in": None,
        "limited_by": None,
        "weaker_side": "",
        "sound_pads": rated.sound_pads,
        "unrated_pads": sum(each.count for each in rated.unrated_pads),
        "short_pads": 0,
        "missing": [word for word in rated.missing if word != "a listed rating"],
    }
    return found if found["missing"] else found | _largest(inputs)


def _largest(inputs: UnitInputs) -> dict[str, Any]:
    """Return the largest pull at the travel or at a lot's tested stretch below it."""
    groups = pad_groups(inputs)
    most_in = min(inputs.travel_in or 0.0, strain_limit_in(inputs))
    tested = {group.tested_stretch_in for group in groups}
    stretches = [most_in, *sorted((each for each in tested if each < most_in), reverse=True)]
    at = max(stretches, key=lambda stretch: pull_at(groups, stretch))
    pull = pull_at(groups, at)
    counting = [group for group in groups if group.tested_stretch_in >= at]
    sides = [
        math.fsum(each.sides[side] * each.force_lbf(at) for each in counting if each.sides)
        for side in (0, 1)
    ]
    weaker = "" if sides[0] == sides[1] else "A" if sides[0] < sides[1] else "B"
    proven = inputs.proof.ratio * pull if inputs.proof else pull
    return {
        "pull_lbf": _digits(min(pull, proven)),
        "usable_travel_in": _digits(at),
        "limited_by": "travel" if at == most_in else "tested stretch",
        "weaker_side": "" if inputs.is_guided else weaker,
        "short_pads": sum(
            sound_pads_of(inputs, group.lot) for group in groups if group not in counting
        ),
    }


def _positions(pads: list[dict[str, Any]]) -> Iterator[Position]:
    for place, pad in enumerate(pads):
        lot = None if pad["lot"] is None else str(pad["lot"])
        yield Position(pad["side"], place // 2 + 1, pad["condition"], lot)


def _rate(lot: Lot) -> LotRate:
    return LotRate(
        lot=str(lot["id"]),
        rate_lbf_in=lot["rate_lbf_in"],
        standard_error_lbf_in=0.0,
        degrees_of_freedom=None,
        linearity_error_pct=0.0,
        tested_stretch_in=lot["tested_stretch_in"],
        curve=tuple(Knot(*knot) for knot in lot["curve"] or ()),
        loading_only_share=lot["loading_only_share"],
        not_conditioned_share=lot["not_conditioned_share"],
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
