"""The sheet's table: what is under the hook, what it may be pulled with, and by what limits."""

from __future__ import annotations

from fleet.figures import capacity_words, pull_words
from fleet.quantities import Quantity
from ratings.extraction.amounts import margin_words
from ratings.pullsheet.facts import Sheet, ground_words_lbf


def limit_rows(sheet: Sheet) -> list[tuple[str, str]]:
    """Return the rows, each a name and its words."""
    results = sheet.commitment.answer.entry.results
    crane = sheet.job.crane
    low, expected, high = (_force(value, sheet) for value in ground_words_lbf(sheet))
    pads = ", ".join(f"{lot['count']} of {lot['lot']}" for lot in results["lots"])
    return [
        ("Pads", f"{results['sound_pads']} sound of {results['positions']} ({pads})"),
        ("Stretch not to pass", _stretch(sheet)),
        ("Line pull at the stops", _pull(results["pull_lbf"], sheet)),
        ("Working capacity there", _capacity(results["working_capacity_lbf"], sheet)),
        ("Working capacity at the stop line", _capacity(sheet.capacity_lbf, sheet)),
        ("Pull expected at the pads", f"{_force(sheet.expected_lbf, sheet)}; "
         f"from {_force(sheet.low_lbf, sheet)} to {_force(sheet.high_lbf, sheet)}"),
        ("Ground’s hold in it", f"{expected}; from {low} to {high}"),
        ("Crane’s chart allows", _force(crane.capacity_lbf, sheet)),
        ("Rigging", _rigging(sheet)),
        ("Verdict", f"{sheet.verdict.verdict}; {sheet.verdict.governing} governs"
         f"{_margin(sheet)}"),
    ]  # fmt: skip


def _margin(sheet: Sheet) -> str:
    return "" if sheet.verdict.margin is None else f", {margin_words(sheet.verdict.margin)}"


def _stretch(sheet: Sheet) -> str:
    travel, reckoned = (
        Quantity.LENGTH.words(value, sheet.system)
        for value in (sheet.unit.usable_travel_in or 0.0, sheet.reckoned_in)
    )
    if not sheet.job.is_vibrating:
        return f"{reckoned}, the usable travel"
    return f"{reckoned}: usable travel {travel} less half the amplitude"


def _rigging(sheet: Sheet) -> str:
    crane = sheet.job.crane
    limit = _force(crane.rigging_limit_lbf, sheet)
    if crane.legs == 1:
        return f"working load limit {limit}"
    return f"{crane.legs} legs at {crane.leg_angle_deg:g}° from level, limit {limit} each"


def _pull(value: float | None, sheet: Sheet) -> str:
    uncertainty = sheet.commitment.answer.entry.results["standard_uncertainty_lbf"]
    return pull_words(value, sheet.system, uncertainty)


def _capacity(value: float | None, sheet: Sheet) -> str:
    uncertainty = sheet.commitment.answer.entry.results["standard_uncertainty_lbf"]
    return capacity_words(value, sheet.system, uncertainty)


def _force(value: float | None, sheet: Sheet) -> str:
    if value is None:
        return "not known"
    return Quantity.FORCE.words(value, sheet.system, 0 if sheet.system == "us" else 1)
