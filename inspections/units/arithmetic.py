"""The calculation of a ledger entry written out as somebody would check it by hand."""

from __future__ import annotations

from dataclasses import dataclass

from ratings.mechanics.linepull import line_pull
from ratings.mechanics.record import read_inputs
from ratings.mechanics.unit_rating import LotShare, UnitInputs, pad_groups
from ratings.models import LedgerEntry


@dataclass(frozen=True)
class LotLine:
    """Pads × rate × travel of one lot; where the lot isn't linear, pads × force at the travel."""

    share: LotShare
    rate_lbf_in: float
    standard_error_lbf_in: float


@dataclass(frozen=True)
class UncertaintyLine:
    """One part of the uncertainty of the line pull: its words and its size, lbf."""

    words: str
    standard_lbf: float


@dataclass(frozen=True)
class Arithmetic:
    """Lots, their sum, and what is taken off for uncertainty."""

    lots: tuple[LotLine, ...]
    parts: tuple[UncertaintyLine, ...]
    margin_lbf: float
    confidence_pct: float
    pad_spread_pct: float


def hand_arithmetic(entry: LedgerEntry) -> Arithmetic | None:
    """Return the calculation of an entry, None where it has no figures."""
    if entry.pull_lbf is None or entry.working_capacity_lbf is None:
        return None
    inputs = read_inputs(entry.inputs)
    rates = {rate.lot: rate for rate in inputs.lots}
    shares = [LotShare(**share) for share in entry.results["lots"]]
    return Arithmetic(
        lots=tuple(
            LotLine(share, rates[share.lot].rate_lbf_in, rates[share.lot].standard_error_lbf_in)
            for share in shares
        ),
        parts=_parts(entry, inputs),
        margin_lbf=entry.pull_lbf - entry.working_capacity_lbf,
        confidence_pct=inputs.policy.confidence * 100.0,
        pad_spread_pct=inputs.policy.pad_spread_pct,
    )


def _parts(entry: LedgerEntry, inputs: UnitInputs) -> tuple[UncertaintyLine, ...]:
    tape_in = inputs.policy.travel_uncertainty_in
    pull = line_pull(pad_groups(inputs), entry.usable_travel_in or 0.0, tape_in)
    spread = " (assumed spread)" if entry.results["is_assumed_spread"] else ""
    return (
        UncertaintyLine(f"pads differ from one another{spread}", pull.scatter_lbf),
        UncertaintyLine("the bench tests, shared by all pads of a lot", pull.shared_lbf),
        UncertaintyLine("the tape’s reading of the travel", pull.tape_lbf),
    )
