"""Sums over pads at one stretch: what they carry by the best estimate, and each part of its doubt.

The same for every method of rating that counts lots side by side; what is made of a sum, and
which pads go into it, is the method's (see counting.py, and format_2.py for the one before).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from ratings.mechanics.arguments import LARGEST
from ratings.mechanics.uncertainty import coverage_factor


@dataclass(frozen=True)
class Pad:
    """One pad of a lot at a stretch: its force and slope, and each part of its doubt, lbf.

    spread: standard deviation from pad to pad. tested: 1 / pads whose mean the rate is.
    times: how often the scatter of the pads fitted counts, see line_pull.
    own: standard uncertainties the lot's pads share, each with its degrees of freedom.
    stand: with every lot of the stand, with stand_freedom. use: with every lot in use.
    """

    force: float
    slope: float
    spread: float
    spread_freedom: float
    tested: float
    times: float
    own: tuple[tuple[float, float], ...]
    stand: float
    stand_freedom: float
    use: float


class Estimate(NamedTuple):
    """A variance, lbf², its degrees of freedom, and its share of Σ(u_i⁴/ν_i)."""

    variance: float
    freedom: float
    per_freedom: float


@dataclass(frozen=True)
class Sum:
    """What some pads carry by the best estimate, and the parts of its doubt; lbf.

    estimated: each variance that is known from finitely many readings, the stand's last.
    stands: what each lot adds to the stand's doubt, which adds straight, and its degrees of
    freedom.
    """

    pull: float
    rate: float
    scatter: float
    lots: float
    stand: float
    use: float
    tape: float
    uncertainty: float
    estimated: tuple[Estimate, ...]
    stands: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Bound:
    """What some pads carry at least: their sum less a factor times its doubt; lbf."""

    sum: Sum
    freedom: float
    factor: float
    capacity: float


@dataclass(frozen=True)
class Counted:
    """What is counted of each lot: so many pads at a share of their force, and what they bound."""

    counts: tuple[int, ...]
    shares: tuple[float, ...]
    bound: Bound


def sum_of(
    counts: Sequence[int], pads: Sequence[Pad], tape_in: float, shares: Sequence[float] = ()
) -> Sum:
    """Return the sum over so many pads of each lot.

    shares: of the force of each lot's pads, with all that is in doubt of it; all of it unless
    given.
    """
    pulls, rates, stands, uses = [], [], [], []
    scatters, lots, estimated, stand_per_freedom = [], [], [], []
    for place, (count, pad) in enumerate(zip(counts, pads, strict=True)):
        share = shares[place] if shares else 1.0
        many = count * share
        if not many:
            continue
        pulls.append(many * pad.force)
        rates.append(many * pad.slope)
        stands.append((many * pad.stand, pad.stand_freedom))
        uses.append(many * pad.use)
        # Of pads that scatter each for itself a share is surer than so many fewer pads.
        fitted = pad.times * count * pad.spread * pad.spread * (share * share)
        tested = many * many * pad.tested * pad.spread * pad.spread
        scatters.append(fitted)
        lots.append(tested)
        # The spread of the pads fitted and of those tested is one estimate.
        both = fitted + tested
        estimated.append(Estimate(both, pad.spread_freedom, both * both / pad.spread_freedom))
        for own, freedom in pad.own:
            variance = (many * own) * (many * own)
            lots.append(variance)
            estimated.append(Estimate(variance, freedom, variance * variance / freedom))
        stand_per_freedom.append((many * pad.stand) * (many * pad.stand) / pad.stand_freedom)
    # Sums rounded once: the order of the lots changes no digit.
    rate, stand, use = math.fsum(rates), math.fsum(each for each, _ in stands), math.fsum(uses)
    scatter, lot, taped = math.fsum(scatters), math.fsum(lots), rate * tape_in
    variance = math.fsum((scatter, lot, stand * stand, use * use, taped * taped))
    shared = math.fsum(stand_per_freedom)
    if shared:
        estimated.append(of_stand(stand, shared))
    return Sum(
        pull=math.fsum(pulls),
        rate=rate,
        scatter=math.sqrt(scatter),
        lots=math.sqrt(lot),
        stand=stand,
        use=use,
        tape=taped,
        uncertainty=math.sqrt(variance),
        estimated=tuple(each for each in estimated if each.per_freedom),
        stands=tuple(each for each in stands if each[0]),
    )


def of_stand(whole: float, shared: float) -> Estimate:
    """Return the stand's estimate: c added straight, ν = S²/Σ(c²/ν), given S and Σ(c²/ν)."""
    common = whole * whole
    known = common / shared
    freedom = known if known < LARGEST else math.inf
    return Estimate(common, freedom, common * shared)


def effective_freedom(variance: float, per_freedom: float) -> float:
    """Return degrees of freedom by Welch–Satterthwaite, u⁴ / Σ(u_i⁴/ν_i); infinite where many."""
    if per_freedom > 0.0 and variance * variance / per_freedom < LARGEST:
        return variance * variance / per_freedom
    return math.inf


def expanded(parts: Sequence[Estimate], confidence: float) -> float:
    """Return t·u of some parts by Welch–Satterthwaite, lbf."""
    variance = math.fsum(each.variance for each in parts)
    per_freedom = math.fsum(each.per_freedom for each in parts)
    factor = coverage_factor(confidence, effective_freedom(variance, per_freedom))
    return factor * math.sqrt(variance)
