"""An extraction check as plain JSON values, and back, so that it can be calculated again."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

from ratings.mechanics.extraction.holds import OtherHold
from ratings.mechanics.extraction.job import Crane, Job, Pile, SetUp
from ratings.mechanics.extraction.outcomes import UnitVerdict
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
    unit: Unit, job: Job, policy: ExtractionPolicy, verdict: UnitVerdict
) -> dict[str, Any]:
    """Return all that a verdict rests on, and the verdict."""
    return {
        "unit": _unit_record(unit),
        "job": _plain(asdict(job)),
        "policy": _plain(asdict(policy)),
        "verdict": verdict_record(verdict),
    }


def verdict_record(verdict: UnitVerdict) -> dict[str, Any]:
    """Return a verdict as JSON values."""
    record: dict[str, Any] = _plain(asdict(verdict))
    return record


def read_answer(record: dict[str, Any]) -> tuple[Unit, Job, ExtractionPolicy]:
    """Rebuild what answer_record wrote.

    Raises KeyError, TypeError or ValueError where the record isn't one of its making.
    """
    return _read_unit(record["unit"]), _read_job(record["job"]), _read_policy(record["policy"])


def _unit_record(unit: Unit) -> dict[str, Any]:
    record: dict[str, Any] = _plain(asdict(unit))
    record["groups"] = [_group_record(group) for group in unit.groups]
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
    groups = tuple(_read_group(each) for each in record["groups"])
    # Answers of before say nothing of it: they rest on entries of format 1.
    proof = ProofFactor(**record["proof"]) if record.get("proof") else None
    return Unit(**{"rating_format": 1} | record | {"groups": groups, "proof": proof})


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
    # Answers of before say nothing of it: they allowed the whole of the chart.
    return ExtractionPolicy(**{"crane_share": 1.0} | record | {"soils": soils})
