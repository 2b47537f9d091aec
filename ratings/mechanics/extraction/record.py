"""An extraction check as plain JSON values, and back, so that it can be calculated again."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from ratings.mechanics.extraction.check import check_piles
from ratings.mechanics.extraction.format_2 import check_then
from ratings.mechanics.extraction.holds import OtherHold
from ratings.mechanics.extraction.job import Crane, Job, Pile, PileOfJob, SetUp
from ratings.mechanics.extraction.outcomes import UnitVerdict
from ratings.mechanics.extraction.rated_pads import RatedPads
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.soils import SoilResponse
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.linepull import PadGroup, ProofFactor
from ratings.mechanics.load_curve import CurveDoubt, Knot, MonotoneCurve
from ratings.mechanics.soil import Layer

# JSON has no infinity.
_INFINITE = (
    "degrees_of_freedom",
    "spread_degrees_of_freedom",
    "scatter_degrees_of_freedom",
    "between_degrees_of_freedom",
    "pads_tested",
)


def answer_record(
    unit: Unit, piles: Sequence[PileOfJob], policy: ExtractionPolicy, verdict: UnitVerdict
) -> dict[str, Any]:
    """Return all that a verdict rests on, and the verdict, in format 3."""
    return {
        "unit": _unit_record(unit),
        "piles": [_plain(asdict(each)) for each in piles],
        "policy": _plain(asdict(policy)),
        "verdict": verdict_record(verdict),
    }


def verdict_record(verdict: UnitVerdict) -> dict[str, Any]:
    """Return a verdict as JSON values."""
    record: dict[str, Any] = _plain(asdict(verdict))
    return record


def read_answer(
    record: dict[str, Any],
) -> tuple[Unit, tuple[PileOfJob, ...], ExtractionPolicy]:
    """Rebuild what answer_record wrote, or an answer of before, which had one pile.

    Raises KeyError, TypeError or ValueError where the record isn't one of its making.
    """
    if "piles" in record:
        piles = tuple(
            PileOfJob(**each | {"job": _read_job(each["job"])}) for each in record["piles"]
        )
        if not piles:
            raise ValueError("piles is empty: an answer has one at least")
    else:
        piles = (PileOfJob(1, "", 1, _read_job(record["job"])),)
    return _read_unit(record["unit"]), piles, _read_policy(record["policy"])


def recorded_verdict(record: dict[str, Any]) -> UnitVerdict:
    """Judge again what a record rests on, by the method of its format.

    Raises KeyError, TypeError or ValueError where the record can't be read.
    """
    unit, piles, policy = read_answer(record)
    if "piles" in record:
        return check_piles(unit, piles, policy)
    return check_then(unit, piles[0].job, policy).as_now


def verdict_again(record: dict[str, Any]) -> dict[str, Any]:
    """Judge again what a record rests on, written as its format writes a verdict.

    Raises KeyError, TypeError or ValueError where the record can't be read.
    """
    unit, piles, policy = read_answer(record)
    if "piles" in record:
        return verdict_record(check_piles(unit, piles, policy))
    return check_then(unit, piles[0].job, policy).record


def rated_part(rated: RatedPads, usable_travel_in: float | None, standing: str) -> dict[str, Any]:
    """Return, as the record of a unit has it, what of it comes from the rating of its pads."""
    return {
        "groups": [_group_record(each) for each in rated.groups],
        "stiff_groups": [_group_record(each) for each in rated.stiff_groups],
        "unknown_stiffness": rated.unknown_stiffness,
        "usable_travel_in": usable_travel_in,
        "travel_uncertainty_in": rated.travel_uncertainty_in,
        "confidence": rated.confidence,
        "standing": str(standing),
        "proof": _plain(asdict(rated.proof)) if rated.proof else None,
    }


def unit_of(record: dict[str, Any]) -> dict[str, Any]:
    """Return the unit of an answer's record, with every field of today.

    Raises KeyError, TypeError or ValueError where it can't be read.
    """
    return _unit_record(_read_unit(record["unit"]))


def _unit_record(unit: Unit) -> dict[str, Any]:
    record: dict[str, Any] = _plain(asdict(unit))
    for name in ("groups", "stiff_groups"):
        record[name] = [_group_record(group) for group in getattr(unit, name)]
    return record


def _group_record(group: PadGroup) -> dict[str, Any]:
    record: dict[str, Any] = _plain(asdict(group))
    for name in _INFINITE:
        if math.isinf(getattr(group, name)):
            record[name] = None
    return record


def _plain(value: Any) -> Any:
    """Turn tuples into lists and words of an enumeration into words."""
    if isinstance(value, dict):
        return {name: _plain(each) for name, each in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    return str(value) if isinstance(value, str) else value


def _read_unit(record: dict[str, Any]) -> Unit:
    groups = {
        name: tuple(_read_group(each) for each in record.get(name, ()))
        for name in ("groups", "stiff_groups")
    }
    record = dict(record)
    # Formats 1 and 2 called it so.
    if "days_since_inspection" in record:
        record["days_since_count"] = record.pop("days_since_inspection")
    # Answers of before say nothing of it: they rest on entries of format 1.
    proof = ProofFactor(**record["proof"]) if record.get("proof") else None
    return Unit(**{"rating_format": 1} | record | groups | {"proof": proof})


def _read_group(record: dict[str, Any]) -> PadGroup:
    read = dict(record)
    for name in _INFINITE:
        if name in read:
            read[name] = math.inf if read[name] is None else float(read[name])
    if read.get("sides") is not None:
        read["sides"] = tuple(read["sides"])
    if read["curve"] is not None:
        knots = tuple(Knot(**knot) for knot in read["curve"]["knots"])
        read["curve"] = MonotoneCurve(knots, CurveDoubt(**read["curve"]["doubt"]))
    return PadGroup(**read)


def _read_job(record: dict[str, Any]) -> Job:
    parts = {
        "pile": Pile(**record["pile"]),
        "crane": Crane(**record["crane"]),
        "set_up": SetUp(**record["set_up"]),
        "layers": tuple(Layer(**layer) for layer in record["layers"]),
        "holds": tuple(OtherHold(**hold) for hold in record.get("holds", ())),
    }
    return Job(**record | parts)


def _read_policy(record: dict[str, Any]) -> ExtractionPolicy:
    soils = tuple(SoilResponse(**soil) for soil in record["soils"])
    # Rules of before took the whole of the crane's chart.
    return ExtractionPolicy(**{"crane_share": 1.0} | record | {"soils": soils})
