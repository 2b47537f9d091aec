"""How likely a unit is to meet its listing after some more hours, and how many pads it loses.

Each pad known sound after a hours is still sound after b with the chance S(b) / S(a), by the law of
its lot. Given the law, pads fail independently of each other; what is not known of the law itself
is common to all pads of the lot, so everything is worked out under many equally likely laws and
then averaged. A unit's standing after pads are lost is the ledger's own: `rate_unit`.

Two runs give the same digits: the laws are spread evenly, and dealt by the lot's name.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property
from statistics import NormalDist
from typing import Any

from ratings.mechanics.arguments import not_negative, set_checked
from ratings.mechanics.standing import Standing
from ratings.mechanics.survival import (
    LEAST_FAILURES,
    Curve,
    Life,
    Method,
    Weibull,
    fit_weibull,
    survival_curve,
)
from ratings.mechanics.unit_rating import SOUND, UnitInputs, rate_unit

# So many equally likely laws stand for what is not known of one.
LAWS = 256
_PROPOSED = 4096
# The band of pads lost: one in twenty lies below it, one in twenty above.
LOW, HIGH = 0.05, 0.95
# Common practice, no published source: another lot lasts from half as long to twice as long as
# those pooled, 95 times in 100. Where the lots themselves differ more, more.
LEAST_LOT_SPREAD = math.log(2.0) / NormalDist().inv_cdf(0.975)
# Of fewer failures in all lots together nothing is forecast.
LEAST_POOLED = 2
# Where failures are too few to tell how pads age: Weibull shapes from failing alike often at any
# age to wearing out fast, 95 times in 100 between these. Common practice, no published source.
FEW_SHAPES = (1.0, 4.0)
# Ways to lose pads that are less likely than this are not told apart from the nearest.
_UNLIKELY = 1e-8
_MOST_WAYS = 60_000


class Basis(StrEnum):
    """What a lot's pads are forecast by."""

    OWN = "its own failures, a Weibull law"
    STEPS = "its own failures, as far as any pad was looked at"
    POOLED = "all lots of the yard together, widened for how lots differ"
    FEW = "all lots of the yard together, of few failures: how pads age is common practice"


@dataclass(frozen=True)
class LotLaw:
    """How long pads of one lot may last: laws that are equally likely by what was seen.

    weibulls: (scale in hours, shape) of each. steps, tilts: where no Weibull law is known, the
    curve and how far each draw lies off it towards the ends of its band, in standard deviations.
    longest_hours: the most that any pad was known to be sound: beyond, a Weibull law is a guess,
    and the curve ends. failed, pads: what it rests on. lot_spread: by how much the logarithm of
    the life of a lot differs from those pooled, as a standard deviation; 0 of its own.
    """

    basis: Basis
    failed: int
    pads: int
    longest_hours: float
    weibulls: tuple[tuple[float, float], ...] = ()
    steps: Curve | None = None
    tilts: tuple[float, ...] = ()
    lot_spread: float = 0.0

    @cached_property
    def _arrays(self) -> tuple[Any, Any]:
        import numpy as np

        scales, shapes = zip(*self.weibulls, strict=True)
        return np.array(scales)[:, None], np.array(shapes)[:, None]

    def reaches(self, hours: float) -> bool:
        """Whether it tells anything of a pad after so many hours."""
        return self.steps is None or hours <= self.longest_hours

    def shares(self, hours: Any) -> Any:
        """Return the share still sound under each law (rows) after each of some hours."""
        import numpy as np

        hours = np.asarray(hours, dtype=float)
        if self.steps is None:
            scales, shapes = self._arrays
            return np.exp(-((hours[None, :] / scales) ** shapes))
        places = self.steps.places
        tilts = np.array(self.tilts)[:, None]
        share, low, high = (
            np.array([getattr(each, name) for each in places]) for name in ("share", "low", "high")
        )
        reach = NormalDist().inv_cdf(0.975)
        off = np.where(tilts > 0, (high - share)[None, :], (share - low)[None, :]) * tilts / reach
        curves = np.minimum.accumulate(np.clip(share[None, :] + off, 0.0, 1.0), axis=1)
        at = [each.hours for each in places]
        return np.array([np.interp(hours, at, curve) for curve in curves])

    def chance_to_fail(self, sound_hours: Any, hours: Any) -> Any:
        """Return 1 − S(hours) / S(sound_hours) under each law, for pads known sound by then."""
        import numpy as np

        before, after = self.shares(sound_hours), self.shares(hours)
        with np.errstate(divide="ignore", invalid="ignore"):
            kept = np.where(before > 0.0, after / before, 0.0)
        return 1.0 - np.clip(kept, 0.0, 1.0)


@dataclass(frozen=True)
class NoLaw:
    """Why pads of a lot can't be forecast, in words that go on after "because"."""

    why: str


def own_law(lot: str, lives: Sequence[Life]) -> LotLaw | None:
    """Return the law of a lot by its own pads; None where fewer failed than tell a life."""
    failed = sum(1 for life in lives if life.has_failed)
    longest = max((life.after_hours for life in lives), default=0.0)
    if failed < LEAST_FAILURES or longest == 0.0:
        return None
    law = fit_weibull(lives)
    if law is not None:
        return LotLaw(Basis.OWN, failed, len(lives), longest, weibulls=_drawn(lot, law))
    curve = survival_curve(lives)
    # By Kaplan and Meier a share holds until the next failure, and to the longest seen.
    if curve.method is Method.KAPLAN_MEIER:
        places = [place for place in curve.places if place.hours <= longest]
        curve = Curve(curve.method, (*places, replace(places[-1], hours=longest)))
    tilts = tuple(one for one, _ in _spread(lot, LAWS))
    return LotLaw(Basis.STEPS, failed, len(lives), longest, steps=curve, tilts=tilts)


def pooled_law(lot: str, lives_by_lot: Mapping[str, Sequence[Life]]) -> LotLaw | NoLaw:
    """Return the law of a lot by all lots of the yard, for a lot that says too little itself.

    By the other lots, where enough of theirs failed, and then what its own pads show counts each
    law as likely as it makes them; else by all together. Of fewer failures than tell a life, but
    LEAST_POOLED at the least, how pads age is not seen: it is taken from FEW_SHAPES. Widened by
    how much lots differ: the moment estimate of DerSimonian and Laird (1986) on the logarithms of
    the scales of the lots whose own failures tell a law, and never less than LEAST_LOT_SPREAD.
    """
    others = [life for each, lives in sorted(lives_by_lot.items()) if each != lot for life in lives]
    own = list(lives_by_lot.get(lot, ()))
    elsewhere = sum(life.has_failed for life in others)
    in_all = elsewhere + sum(life.has_failed for life in own)
    is_apart = elsewhere >= (LEAST_FAILURES if in_all >= LEAST_FAILURES else LEAST_POOLED)
    pool = others if is_apart else others + own
    failed = elsewhere if is_apart else in_all
    if failed < LEAST_POOLED:
        many = f"only {failed}" if failed else "none"
        return NoLaw(
            f"{many} of {len(pool)} pads of all lots together failed so far, and nothing is "
            f"forecast until {LEAST_POOLED} have"
        )
    spread = max(LEAST_LOT_SPREAD, lots_spread(lives_by_lot))
    fit = fit_weibull(pool) if failed >= LEAST_FAILURES else None
    if fit is not None:
        basis, drawn = Basis.POOLED, _drawn(lot, fit, _PROPOSED)
    else:
        basis, drawn = Basis.FEW, _few(lot, pool, failed)
    lots = [each for each, _ in _spread(f"other lots than {lot}", _PROPOSED)]
    widened = [
        (scale * math.exp(spread * off), shape)
        for (scale, shape), off in zip(drawn, lots, strict=True)
    ]
    weights = _log_likelihoods(widened, own) if is_apart and own else [0.0] * len(widened)
    weibulls = _drawn_again(f"kept of {lot}", widened, weights, LAWS)
    longest = max(life.after_hours for life in pool)
    return LotLaw(basis, failed, len(pool), longest, weibulls=weibulls, lot_spread=spread)


def lots_spread(lives_by_lot: Mapping[str, Sequence[Life]]) -> float:
    """Return how much lots differ: the standard deviation of the logarithm of their scales.

    DerSimonian and Laird (1986), Controlled Clinical Trials 7, 177: τ² = (Q − (k − 1)) / c. 0 of
    fewer than two lots whose own failures tell a law.
    """
    told = []
    for _, lives in sorted(lives_by_lot.items()):
        if sum(life.has_failed for life in lives) >= LEAST_FAILURES:
            law = fit_weibull(lives)
            if law is not None:
                told.append((math.log(law.scale_hours), law.covariance[0][0]))
    if len(told) < 2:
        return 0.0
    weights = [1.0 / variance for _, variance in told]
    total = sum(weights)
    mean = sum(w * each for w, (each, _) in zip(weights, told, strict=True)) / total
    scatter = sum(w * (each - mean) ** 2 for w, (each, _) in zip(weights, told, strict=True))
    scale = total - sum(w * w for w in weights) / total
    return math.sqrt(max(0.0, (scatter - (len(told) - 1)) / scale))


def _spread(name: str, many: int) -> list[tuple[float, float]]:
    """Return pairs of standard normal numbers spread evenly, in an order the name deals.

    Points of an additive recurrence by the plastic number, each half-way through a normal's share
    (Roberts 2018, "The unreasonable effectiveness of quasirandom sequences"; from memory).
    """
    plastic = 1.324717957244746
    normal = NormalDist()
    pairs = [
        (
            normal.inv_cdf((0.5 + place) / many),
            normal.inv_cdf((0.5 + place / plastic) % 1.0 or 0.5),
        )
        for place in range(many)
    ]
    # Draws of one lot must say nothing of those of another beside it.
    random.Random(f"laws of {name}").shuffle(pairs)
    return pairs


def _drawn(name: str, law: Weibull, many: int = LAWS) -> tuple[tuple[float, float], ...]:
    (scale, both), (_, shape) = law.covariance
    by_one = math.sqrt(scale)
    across = both / by_one
    left = math.sqrt(max(0.0, shape - across * across))
    return tuple(
        (
            law.scale_hours * math.exp(by_one * one),
            # A shape without bound would make every pad fail at one hour.
            min(40.0, max(0.05, law.shape * math.exp(across * one + left * two))),
        )
        for one, two in _spread(name, many)
    )


def _few(name: str, pool: Sequence[Life], failed: int) -> tuple[tuple[float, float], ...]:
    """Return laws as likely as the pool makes them, shapes first as FEW_SHAPES has them.

    By importance sampling: any scale is as likely as any other on a logarithm until the pads are
    seen; proposed about the likeliest of each shape.
    """
    import numpy as np

    middle: dict[float, int] = {}
    for life in pool:
        by = life.after_hours if life.by_hours is None else life.by_hours
        worked = (life.after_hours + by) / 2.0
        middle[worked] = middle.get(worked, 0) + 1
    longest = max(*middle, 1.0)
    low, high = FEW_SHAPES
    spread = math.log(high / low) / 2.0 / NormalDist().inv_cdf(0.975)
    one, two = (np.array(each) for each in zip(*_spread(f"few of {name}", _PROPOSED), strict=True))
    shapes = math.sqrt(low * high) * np.exp(spread * one)
    total = sum(many * (worked / longest) ** shapes for worked, many in middle.items())
    reach = 1.5 / (shapes * math.sqrt(failed))
    scales = longest * (total / failed) ** (1.0 / shapes) * np.exp(reach * two)
    proposed = [(float(a), float(b)) for a, b in zip(scales, shapes, strict=True)]
    odds = [float(each) for each in np.log(reach) + two * two / 2.0]
    likely = _log_likelihoods(proposed, pool)
    weights = [each + more for each, more in zip(likely, odds, strict=True)]
    return _drawn_again(f"few kept of {name}", proposed, weights, _PROPOSED)


def _drawn_again(
    name: str,
    proposed: Sequence[tuple[float, float]],
    log_weights: Sequence[float],
    many: int,
) -> tuple[tuple[float, float], ...]:
    """Return so many of the laws proposed, each as often as its weight, in an order of its own."""
    most = max(log_weights)
    weights = [math.exp(each - most) for each in log_weights]
    step, place, passed = math.fsum(weights) / many, 0, weights[0]
    kept = []
    for number in range(many):
        while passed < (number + 0.5) * step and place < len(proposed) - 1:
            place += 1
            passed += weights[place]
        kept.append(proposed[place])
    random.Random(name).shuffle(kept)
    return tuple(kept)


def _log_likelihoods(laws: Sequence[tuple[float, float]], lives: Sequence[Life]) -> list[float]:
    """Return how likely each law makes the lives, as a logarithm."""
    import numpy as np

    scales, shapes = (np.array(each) for each in zip(*laws, strict=True))
    total = np.zeros(len(laws))
    alike: dict[Life, int] = {}
    for life in lives:
        alike[life] = alike.get(life, 0) + 1
    for life, many in alike.items():
        after = (life.after_hours / scales) ** shapes
        if life.by_hours is None:
            each = -after
        elif life.is_exact:
            each = np.log(shapes / scales) - after
            each += (shapes - 1.0) * np.log(life.by_hours / scales)
        else:
            failed = -np.expm1(after - (life.by_hours / scales) ** shapes)
            # A law under which it can't have failed there is next to impossible.
            each = -after + np.log(np.maximum(failed, 1e-300))
        total += many * each
    return [float(each) for each in total]


@dataclass(frozen=True)
class SoundPad:
    """A pad in a unit: where, of which lot, by which law, and what it has worked.

    law: its name among the laws. sound_hours: what it had worked when last known sound.
    hours: what it has worked by now, as far as known or planned.
    """

    side: str
    number: int
    lot: str
    law: str
    sound_hours: float
    hours: float

    def __post_init__(self) -> None:
        sound = not_negative("sound_hours", self.sound_hours, "h")
        hours = not_negative("hours", self.hours, "h")
        if hours < sound:
            raise ValueError(
                f"hours is {hours:g}, below sound_hours, {sound:g}: a pad works no hours back"
            )
        set_checked(self, sound_hours=sound, hours=hours)


@dataclass(frozen=True)
class Ahead:
    """A day ahead: in how many days, the hours worked till then, and which lots' rates lapse."""

    days: int
    hours: float
    lapsed: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        set_checked(self, hours=not_negative("hours", self.hours, "h"))
        if self.days < 0:
            raise ValueError(f"days is {self.days}: give 0 or more")


@dataclass(frozen=True)
class PadsLost:
    """How many pads are lost: on average, and the band in which nine in ten outcomes lie."""

    expected: float
    low: int
    high: int


@dataclass(frozen=True)
class Outlook:
    """How a unit is likely to stand on a day ahead if nobody fits a pad till then.

    Chances are from 0 to 1 and sum to 1. short_low, short_high: in which nine in ten of the
    likely laws have the chance that it does not meet its listing. lost: pads lost from now on.
    is_guessed: whether a pad will be older than any that was ever looked at. why_not: why the day
    can't be forecast, "" where it can; then the chances are 0 and nothing is lost.
    """

    ahead: Ahead
    meets: float = 0.0
    not_proven: float = 0.0
    below: float = 0.0
    short_low: float = 0.0
    short_high: float = 0.0
    lost: PadsLost | None = None
    lost_by_lot: tuple[tuple[str, PadsLost], ...] = ()
    is_guessed: bool = False
    why_not: str = ""

    @property
    def short(self) -> float:
        """The chance that it does not meet its listing."""
        return self.not_proven + self.below


_CODES = {Standing.MEETS_LISTING: 2, Standing.NOT_PROVEN: 1}


@dataclass(frozen=True)
class ForecastUnit:
    """A unit as it is rated now, and once it has lost a pad; its sound pads.

    once_lost: the same but for a proof pull that told only of the pads as they hung.
    """

    inputs: UnitInputs
    once_lost: UnitInputs
    pads: tuple[SoundPad, ...]


def outlooks(
    unit: ForecastUnit, laws: Mapping[str, LotLaw | NoLaw], days: Sequence[Ahead]
) -> tuple[Outlook, ...]:
    """Return how a unit is likely to stand on each of some days ahead.

    Raises ValueError where a pad's law is not among the laws, or a pad is not sound in the inputs.
    """
    sound = {(each.side, each.number) for each in unit.inputs.positions if each.condition == SOUND}
    for pad in unit.pads:
        if (pad.side, pad.number) not in sound:
            raise ValueError(f"pads has {pad.side}{pad.number}, which is not sound in the inputs")
        if pad.law not in laws:
            raise ValueError(f"laws lacks {pad.law!r}, the law of pad {pad.side}{pad.number}")
    standings = _Standings(unit)
    return tuple(_outlook(unit, laws, ahead, standings) for ahead in days)


def lost_pads(
    pads: Sequence[tuple[SoundPad, float]], laws: Mapping[str, LotLaw | NoLaw]
) -> PadsLost | str:
    """Return how many of some pads are lost, each after so many more hours; else why not known."""
    counts = None
    for name in sorted({pad.law for pad, _ in pads}):
        law = laws[name]
        mine = [(pad, more) for pad, more in pads if pad.law == name]
        if isinstance(law, NoLaw):
            return law.why
        why = _out_of_reach(law, max(pad.hours + more for pad, more in mine))
        if why:
            return why
        failing = law.chance_to_fail(
            [pad.sound_hours for pad, _ in mine], [pad.hours + more for pad, more in mine]
        )
        each = _how_many(failing)
        counts = each if counts is None else _both(counts, each)
    if counts is None:
        return PadsLost(0.0, 0, 0)
    return _pads_lost(counts.mean(axis=0))


def _outlook(
    unit: ForecastUnit,
    laws: Mapping[str, LotLaw | NoLaw],
    ahead: Ahead,
    standings: _Standings,
) -> Outlook:
    import numpy as np

    groups: dict[tuple[str, str], Any] = {}
    others: dict[tuple[str, str], Any] = {}
    is_guessed = False
    for key in sorted({(pad.lot, pad.side) for pad in unit.pads}):
        counts = None
        mine = [pad for pad in unit.pads if (pad.lot, pad.side) == key]
        for name in sorted({pad.law for pad in mine}):
            law = laws[name]
            of_law = [pad for pad in mine if pad.law == name]
            then = [pad.hours + ahead.hours for pad in of_law]
            why = law.why if isinstance(law, NoLaw) else _out_of_reach(law, max(then))
            if isinstance(law, NoLaw) or why:
                of_lot = f"pads of lot {key[0]}" if key[0] else "pads of a lot not on record"
                return Outlook(ahead, why_not=f"{of_lot}: {why}")
            is_guessed = is_guessed or max(then) > law.longest_hours
            each = _how_many(law.chance_to_fail([pad.sound_hours for pad in of_law], then))
            counts = each if counts is None else _both(counts, each)
        (groups if key[0] in standings.rated else others)[key] = counts
    found = standings.chances(groups, ahead.lapsed)
    short = 1.0 - found[:, 2]
    meets, not_proven, below = (float(found[:, code].mean()) for code in (2, 1, 0))
    by_lot: dict[str, Any] = {}
    for (lot, _), counts in (groups | others).items():
        by_lot[lot] = counts if lot not in by_lot else _both(by_lot[lot], counts)
    total = None
    for counts in by_lot.values():
        total = counts if total is None else _both(total, counts)
    return Outlook(
        ahead,
        meets,
        not_proven,
        below,
        short_low=float(np.quantile(short, LOW, method="inverted_cdf")),
        short_high=float(np.quantile(short, HIGH, method="inverted_cdf")),
        lost=PadsLost(0.0, 0, 0) if total is None else _pads_lost(total.mean(axis=0)),
        lost_by_lot=tuple(
            (lot, _pads_lost(counts.mean(axis=0))) for lot, counts in sorted(by_lot.items())
        ),
        is_guessed=is_guessed,
    )


def _out_of_reach(law: LotLaw, hours: float) -> str:
    if law.reaches(hours):
        return ""
    return (
        f"no Weibull law fits its failures, and no pad of it was looked at beyond "
        f"{law.longest_hours:,.0f} h, while one would have worked {hours:,.0f} h"
    )


def _how_many(failing: Any) -> Any:
    """Return the chances of each number lost under each law: the Poisson binomial, by recursion."""
    import numpy as np

    laws, pads = failing.shape
    counts = np.zeros((laws, pads + 1))
    counts[:, 0] = 1.0
    for pad in range(pads):
        chance = failing[:, pad : pad + 1]
        counts[:, 1 : pad + 2] = (
            counts[:, 1 : pad + 2] * (1.0 - chance) + counts[:, : pad + 1] * chance
        )
        counts[:, :1] *= 1.0 - chance
    return counts


def _both(one: Any, two: Any) -> Any:
    """Return the chances of each sum of two numbers lost, under each law."""
    import numpy as np

    total = np.zeros((one.shape[0], one.shape[1] + two.shape[1] - 1))
    for number in range(two.shape[1]):
        total[:, number : number + one.shape[1]] += one * two[:, number : number + 1]
    return total


def _pads_lost(chances: Any) -> PadsLost:
    import numpy as np

    passed = np.cumsum(chances)
    expected = float((chances * np.arange(len(chances))).sum())
    # A hair off, so that rounding in the sum moves no end of a band.
    low, high = (int(np.searchsorted(passed, each - 1e-12)) for each in (LOW, HIGH))
    return PadsLost(expected, low, min(high, len(chances) - 1))


class _Standings:
    """How a unit stands with so many pads of each lot and side lost, rated once for each way."""

    def __init__(self, unit: ForecastUnit) -> None:
        self.unit = unit
        self.rated = {rate.lot for rate in unit.inputs.lots}
        self._known: dict[tuple[Any, ...], int] = {}

    def chances(self, groups: Mapping[tuple[str, str], Any], lapsed: tuple[str, ...]) -> Any:
        """Return the chance of each standing (below, not proven, meets) under each law."""
        import numpy as np

        keys = list(groups)
        if not keys:
            found = np.zeros((LAWS, 3))
            found[:, self._code((), (), lapsed)] = 1.0
            return found
        counts = [self._cut(groups[key], _UNLIKELY) for key in keys]
        unlikely = _UNLIKELY
        while math.prod(each.shape[1] for each in counts) > _MOST_WAYS:
            unlikely *= 10.0
            counts = [self._cut(groups[key], unlikely) for key in keys]
        ways = counts[0]
        for each in counts[1:]:
            ways = (ways[:, :, None] * each[:, None, :]).reshape(ways.shape[0], -1)
        lost = np.stack(
            [each.ravel() for each in np.indices([each.shape[1] for each in counts])], axis=1
        )
        codes = self._codes(tuple(keys), lost, ways.mean(axis=0), lapsed)
        return np.stack([ways[:, codes == code].sum(axis=1) for code in range(3)], axis=1)

    @staticmethod
    def _cut(counts: Any, unlikely: float) -> Any:
        """Leave out the unlikely ends: who loses more counts among the most that are kept."""
        tail = counts.mean(axis=0)[::-1].cumsum()[::-1]
        most = max(1, int((tail > unlikely).sum()))
        kept = counts[:, :most].copy()
        kept[:, -1] += counts[:, most:].sum(axis=1)
        return kept

    def _codes(
        self, keys: tuple[tuple[str, str], ...], lost: Any, chances: Any, lapsed: tuple[str, ...]
    ) -> Any:
        """Return the standing of every way to lose pads, rating no more than it takes.

        No pad ever lowers a rating: a way that loses no more than one that meets the listing meets
        it too. A unit that has lost nothing may be held to a proof pull that tells no more later.
        """
        import numpy as np

        least, most = np.zeros(len(lost), dtype=int), np.full(len(lost), 2)
        for way in np.lexsort((lost.sum(axis=1), -chances)):
            if least[way] == most[way]:
                continue
            code = self._code(keys, tuple(int(each) for each in lost[way]), lapsed)
            if not lost[way].any():
                least[way] = most[way] = code
                continue
            above, under = (lost >= lost[way]).all(axis=1), (lost <= lost[way]).all(axis=1)
            under[~lost.any(axis=1)] = False
            most[above] = np.minimum(most[above], code)
            least[under] = np.maximum(least[under], code)
        return least

    def _code(
        self, keys: tuple[tuple[str, str], ...], lost: tuple[int, ...], lapsed: tuple[str, ...]
    ) -> int:
        known = (keys, lost, lapsed)
        if known not in self._known:
            self._known[known] = self._rated(keys, lost, lapsed)
        return self._known[known]

    def _rated(
        self, keys: tuple[tuple[str, str], ...], lost: tuple[int, ...], lapsed: tuple[str, ...]
    ) -> int:
        inputs = self.unit.once_lost if any(lost) else self.unit.inputs
        left = dict(zip(keys, lost, strict=True))
        positions = []
        for position in inputs.positions:
            key = (position.lot or "", position.side)
            if position.condition == SOUND and left.get(key, 0):
                left[key] -= 1
                positions.append(replace(position, condition=LOST))
            else:
                positions.append(position)
        lots = tuple(
            replace(rate, stale=rate.stale or LAPSED) if rate.lot in lapsed else rate
            for rate in inputs.lots
        )
        rating = rate_unit(replace(inputs, positions=tuple(positions), lots=lots))
        # Whether a rate that lapsed still counts, flagged, is the policy's: as the ledger has it.
        return _CODES.get(rating.standing, 0)


LOST = "cracked"
LAPSED = "its newest test is older than the policy lets a rate hold"
