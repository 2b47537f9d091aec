"""The calculation of a ledger entry written out as somebody would check it by hand."""

from __future__ import annotations

from dataclasses import dataclass

from ratings.mechanics.record import read_inputs
from ratings.mechanics.unit_rating import LotShare, kept_share, sound_pads_of
from ratings.models import LedgerEntry


@dataclass(frozen=True)
class LotLine:
    """Pads × force of each of one lot at the usable travel, prices of its tests off.

    off_pct: those prices, % of the measured load curve.
    is_short: whether the lot was not tested so far. is_on_the_other_side: whether none of its pads
    is on the side that bounds the pull. Either way it adds nothing. A lot that adds nothing and is
    neither is in more doubt than it pulls.
    """

    share: LotShare
    off_pct: float
    is_short: bool = False
    is_on_the_other_side: bool = False

    @property
    def counted_pct(self) -> float | None:
        """How much of the force of its pads counts, %; None where all of it does."""
        return 100.0 * self.share.share if self.share.share < 1.0 else None


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
    conditions_pct: float


_PARTS = {
    "scatter_lbf": "pads differ from one another{assumed}",
    "lots_lbf": "what each lot’s own tests leave in doubt, and which pads were tested",
    "shared_lbf": "the bench stand, alike for all pads it rated",
    "conditions_lbf": "the conditions of use: temperature, dwell, rate of pull",
    "tape_lbf": "the tape’s reading of the travel",
}


def hand_arithmetic(entry: LedgerEntry) -> Arithmetic | None:
    """Return the calculation of an entry, None where it has no figures.

    None too for an entry of format 1, whose parts were others.
    """
    results = entry.results
    if entry.pull_lbf is None or entry.working_capacity_lbf is None or "lots_lbf" not in results:
        return None
    inputs = read_inputs(entry.inputs)
    rates = {rate.lot: rate for rate in inputs.lots}
    shares = [LotShare(**share) for share in results["lots"]]
    assumed = " (assumed spread)" if results["is_assumed_spread"] else ""
    return Arithmetic(
        lots=tuple(
            LotLine(
                share,
                100.0 * (1.0 - kept_share(rates[share.lot], inputs.policy)),
                is_short=share.tested_stretch_in < (entry.usable_travel_in or 0.0),
                is_on_the_other_side=bool(results["weaker_side"])
                and not sound_pads_of(inputs, share.lot, results["weaker_side"]),
            )
            for share in shares
            if share.count
        ),
        parts=tuple(
            UncertaintyLine(words.format(assumed=assumed), results[name])
            for name, words in _PARTS.items()
        ),
        margin_lbf=entry.pull_lbf - entry.working_capacity_lbf,
        confidence_pct=inputs.policy.confidence * 100.0,
        pad_spread_pct=inputs.policy.pad_spread_pct,
        conditions_pct=inputs.policy.conditions_pct,
    )
