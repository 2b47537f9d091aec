"""Calculate an answer again from its document alone, as the ledger is, and hold it to its entry."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from itertools import chain
from typing import Any

from ratings.ledger.canonical import (
    column_differences,
    digest,
    is_same,
    result_differences,
    spelling_differences,
)
from ratings.lot_pools import stored_lot_rate
from ratings.mechanics.extraction.rated_pads import rated_pads
from ratings.mechanics.extraction.record import rated_part, unit_of, verdict_again
from ratings.mechanics.record import read_inputs, results_of_format
from ratings.mechanics.unit_rating import LotRate, UnitInputs
from ratings.mechanics.what_if import with_sound_pads
from ratings.models import (
    Commitment,
    CommitmentCondition,
    ConditionKind,
    JobAnswer,
    LotRating,
)

# 1 rests on entries of format 1, and says nothing of sides, of what a test left out, or of a
# proof pull. 2 has one pile to a job, and checks of forces and of states in one list; the crane's
# whole chart, and one criterion. 3 has groups of piles, forces and conditions apart.
FORMAT = 3
_KNOWN = (1, 2, FORMAT)
# From this format on entries say all that an answer takes of a rating.
_WHOLE_SINCE = 3
# Of a group of pads, what an entry of before says as one of today does.
_PLAIN_OF_GROUP = ("lot", "count", "rate_lbf_in", "tested_stretch_in")
# What comes from the rating of a unit, in words.
_NAMES = {
    "groups": "pads",
    "stiff_groups": "pads at their full force",
    "unknown_stiffness": "pads of no known rate",
    "usable_travel_in": "usable travel",
    "travel_uncertainty_in": "doubt of the travel",
    "confidence": "confidence",
    "standing": "standing",
    "proof": "proof pull",
}

logger = logging.getLogger(__name__)


def answer_fault(answer: JobAnswer) -> str:
    """Return what is wrong with an answer on record, "" where it holds to the last digit."""
    if digest(answer.document) != answer.hash:
        return "its text is not what its hash was made of"
    try:
        contents = answer.contents
        if contents["format"] not in _KNOWN:
            return f"its format {contents['format']!r} is not known to this version"
        if (contents["format"] == FORMAT) is not ("piles" in contents):
            return f"it is not laid out as format {contents['format']} is"
        again = verdict_again(contents)
        differences = chain(
            result_differences(contents["verdict"], again),
            spelling_differences(answer.document, contents),
            _column_differences(answer, contents),
            _entry_differences(answer, contents),
        )
        return next(differences, "")
    except (KeyError, TypeError, ValueError) as trouble:
        return f"it can’t be read as an answer ({type(trouble).__name__}: {trouble})"


def faulty_answers() -> Iterator[tuple[JobAnswer, str]]:
    """Yield every answer on record that doesn't hold, and why."""
    answers = JobAnswer.objects.select_related("entry", "job", "housing", "hammer", "commitment")
    for answer in answers.order_by("pk").iterator():
        fault = answer_fault(answer)
        if fault:
            logger.error("%s does not hold: %s", answer, fault)
            yield answer, fault


def _column_differences(answer: JobAnswer, contents: dict[str, Any]) -> Iterator[str]:
    """Hold the columns beside the document to it; a job itself may have changed since."""
    stored: dict[str, Any] = {
        "job_record": answer.job_id,
        "housing": answer.housing.mark,
        "hammer": answer.hammer.mark,
        "ledger": {"sequence": answer.entry.sequence, "hash": answer.entry.hash},
        "verdict": answer.verdict,
    }
    commitment: Commitment | None = getattr(answer, "commitment", None)
    if commitment is not None:
        stored |= {
            "first_day": commitment.first_day.isoformat(),
            "last_day": commitment.last_day.isoformat(),
        }
    written = {"verdict": contents["verdict"]["verdict"]}
    return column_differences(contents, stored, written)


def _entry_differences(answer: JobAnswer, contents: dict[str, Any]) -> Iterator[str]:
    """Hold the unit of an answer to the rating it names: its pads, their rates, its travel.

    Where pads were to be fitted first, to what the unit comes to with them, by one of the ratings
    their lot had then.
    """
    unit, entry = unit_of(contents), answer.entry
    if unit["mark"] != contents["housing"]:
        yield f"its unit is {unit['mark']} but it is written for {contents['housing']}"
    inputs = read_inputs(entry.inputs)
    planned = [each for each in contents.get("planned", ()) if each["kind"] == ConditionKind.PADS]
    if planned:
        found = [_with_plan(inputs, planned[-1], rate) for rate in _rates_then(answer, inputs)]
        # By the method of the entry that the answer rests on.
        method = entry.contents["format"]
        parts = [
            rated_part(rated_pads(each), results["usable_travel_in"], results["standing"])
            for each in found
            for results in [results_of_format(method, each)]
        ]
        # Before their lot is rated, pads planned change nothing.
        parts.append(_part_of(answer, inputs))
    else:
        parts = [_part_of(answer, inputs)]
    if contents["format"] < FORMAT or entry.contents["format"] < _WHOLE_SINCE:
        unit, parts = _plainly(unit), [_plainly(part) for part in parts]
    told = [
        [name for name, value in part.items() if not is_same(unit[name], value)] for part in parts
    ]
    for name in min(told, key=len):
        yield (
            f"what it says of its unit’s {_NAMES[name]} is not what ledger entry "
            f"{entry.sequence} of {contents['housing']}, which it names, comes to"
        )


def _part_of(answer: JobAnswer, inputs: UnitInputs) -> dict[str, Any]:
    entry = answer.entry
    return rated_part(rated_pads(inputs), entry.usable_travel_in, entry.judged)


def _with_plan(inputs: UnitInputs, planned: dict[str, Any], rate: LotRate) -> UnitInputs:
    places = {(side, number) for side, number in planned["positions"]}
    chosen = [each for each in inputs.positions if (each.side, each.number) in places]
    return with_sound_pads(inputs, chosen, rate)


def _rates_then(answer: JobAnswer, inputs: UnitInputs) -> Iterator[LotRate]:
    """Yield each rate on record by then of the lots whose pads were to be fitted."""
    conditions = CommitmentCondition.objects.filter(kind=ConditionKind.PADS)
    conditions = conditions.filter(commitment__answer=answer) | conditions.filter(
        commitment__confirmations__answer=answer
    )
    ratings = LotRating.objects.filter(
        lot__in=conditions.values("lot"), recorded_at__lte=answer.recorded_at
    )
    for rating in ratings.select_related("lot"):
        for stale in ("", "stale"):
            yield stored_lot_rate(rating, inputs.policy, stale)


def _plainly(part: dict[str, Any]) -> dict[str, Any]:
    """Return of what a rating comes to that which entries and answers of before say too."""
    groups = [{name: each[name] for name in _PLAIN_OF_GROUP} for each in part["groups"]]
    return {name: part[name] for name in ("usable_travel_in", "standing")} | {"groups": groups}
