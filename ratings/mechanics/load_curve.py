"""The force of one pad at a stretch: straight, or monotone through the readings."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from statistics import fmean

from ratings.mechanics.arguments import not_negative, positive, reading_pairs, set_checked

# Far below what any gauge shows, far above what rounding leaves between equal means.
HAIR = 1e-9


@dataclass(frozen=True)
class LinearCurve:
    """Force = rate × stretch, up to the tested stretch and no further.

    standard_error_lbf_in: standard uncertainty of the rate.
    """

    rate_lbf_in: float
    tested_stretch_in: float
    standard_error_lbf_in: float = 0.0

    def __post_init__(self) -> None:
        set_checked(
            self,
            rate_lbf_in=not_negative("rate_lbf_in", self.rate_lbf_in, "lbf/in"),
            tested_stretch_in=positive("tested_stretch_in", self.tested_stretch_in, "in"),
            standard_error_lbf_in=not_negative(
                "standard_error_lbf_in", self.standard_error_lbf_in, "lbf/in"
            ),
        )

    def force_lbf(self, stretch_in: float) -> float:
        """Return the force at a stretch, lbf. Raises ValueError beyond the tested stretch."""
        return self.rate_lbf_in * _within(stretch_in, self.tested_stretch_in)

    def slope_lbf_in(self, stretch_in: float) -> float:
        """Return force per inch at a stretch. Raises ValueError beyond the tested stretch."""
        _within(stretch_in, self.tested_stretch_in)
        return self.rate_lbf_in

    def standard_uncertainty_lbf(self, stretch_in: float) -> float:
        """Return u(k)·x, lbf. Raises ValueError beyond the tested stretch."""
        return self.standard_error_lbf_in * _within(stretch_in, self.tested_stretch_in)


@dataclass(frozen=True)
class CurveDoubt:
    """What a monotone curve is not sure of, each a standard uncertainty, of one pad.

    force_lbf: of the force, alike at every stretch, as from a gauge that is off throughout.
    stretch_in: of the stretch, as from a datum that is off.
    share: of the force, as a share of it, as from the area of the cylinder.
    scatter_lbf: of a mean of readings.
    """

    force_lbf: float = 0.0
    stretch_in: float = 0.0
    share: float = 0.0
    scatter_lbf: float = 0.0

    def __post_init__(self) -> None:
        set_checked(
            self,
            force_lbf=not_negative("doubt force_lbf", self.force_lbf, "lbf"),
            stretch_in=not_negative("doubt stretch_in", self.stretch_in, "in"),
            share=not_negative("doubt share", self.share, "of the force"),
            scatter_lbf=not_negative("doubt scatter_lbf", self.scatter_lbf, "lbf"),
        )

    def of_stand_lbf(self, force_lbf: float, slope_lbf_in: float) -> float:
        """Return the stand's part of it where the curve has this force and slope, lbf."""
        return math.hypot(self.force_lbf, slope_lbf_in * self.stretch_in, self.share * force_lbf)


@dataclass(frozen=True)
class Knot:
    """A point a monotone curve passes through, and its slope there."""

    stretch_in: float
    force_lbf: float
    slope_lbf_in: float


@dataclass(frozen=True)
class Course:
    """How a load curve runs between two stretches: its least and most slope, lbf/in.

    least_gap_lbf, most_gap_lbf: of the rise between the readings on either side that is unseen.
    steepens_lbf_in2: by how much the slope grows per inch at the most. widens_lbf_in: and the gap.
    """

    least_slope_lbf_in: float
    most_slope_lbf_in: float
    least_gap_lbf: float = 0.0
    most_gap_lbf: float = 0.0
    steepens_lbf_in2: float = 0.0
    widens_lbf_in: float = 0.0


@dataclass(frozen=True)
class MonotoneCurve:
    """Cubic pieces between knots (Hermite form), from the origin to the tested stretch.

    The slopes are kept with the knots, so a stored curve gives the same digits whatever
    library found them. Raises ValueError unless the first knot is the origin, stretch rises
    from knot to knot, and neither force nor any slope ever falls below.
    """

    knots: tuple[Knot, ...]
    doubt: CurveDoubt = CurveDoubt()

    def __post_init__(self) -> None:
        if len(self.knots) < 2:
            raise ValueError(f"knots has {len(self.knots)} knots: give two or more")
        first = self.knots[0]
        if first.stretch_in != 0.0 or first.force_lbf != 0.0:
            raise ValueError(f"knots begins at {first}: give the origin first")
        set_checked(self, knots=tuple(_checked(knot) for knot in self.knots))
        for left, right in pairwise(self.knots):
            if not right.stretch_in > left.stretch_in:
                raise ValueError(f"knots has {right} after {left}: give rising stretch")
            if right.force_lbf < left.force_lbf:
                raise ValueError(f"knots has {right} after {left}: force must not fall")

    @property
    def tested_stretch_in(self) -> float:
        """The largest stretch a reading reached, in; the curve holds no further."""
        return self.knots[-1].stretch_in

    def force_lbf(self, stretch_in: float) -> float:
        """Return the force at a stretch, lbf. Raises ValueError beyond the tested stretch."""
        left, right, share = self._piece(stretch_in)
        if share == 0.0:
            return left.force_lbf
        if share == 1.0:
            return right.force_lbf
        width = right.stretch_in - left.stretch_in
        square, cube = share * share, share * share * share
        force = math.fsum(
            (
                (2.0 * cube - 3.0 * square + 1.0) * left.force_lbf,
                (cube - 2.0 * square + share) * width * left.slope_lbf_in,
                (3.0 * square - 2.0 * cube) * right.force_lbf,
                (cube - square) * width * right.slope_lbf_in,
            )
        )
        # Rounding alone could take it a hair past a knot.
        return min(max(force, left.force_lbf), right.force_lbf)

    def slope_lbf_in(self, stretch_in: float) -> float:
        """Return force per inch at a stretch. Raises ValueError beyond the tested stretch."""
        left, right, share = self._piece(stretch_in)
        width = right.stretch_in - left.stretch_in
        rise = (right.force_lbf - left.force_lbf) / width
        square = share * share
        slope = math.fsum(
            (
                6.0 * (share - square) * rise,
                (3.0 * square - 4.0 * share + 1.0) * left.slope_lbf_in,
                (3.0 * square - 2.0 * share) * right.slope_lbf_in,
            )
        )
        return max(slope, 0.0)

    def standard_uncertainty_lbf(self, stretch_in: float) -> float:
        """Return the standard uncertainty of the force at a stretch, lbf.

        u² = u_force² + (slope·u_stretch)² + (share·f)² + u_scatter²: what a constant error of
        the gauge, one of the datum and one of the area would do there, and the scatter of the
        readings. Between two knots the scatter stays as it is at one, though the curve there
        rests on both. Raises ValueError beyond the tested stretch.
        """
        doubt = self.doubt
        return math.hypot(
            doubt.force_lbf,
            self.slope_lbf_in(stretch_in) * doubt.stretch_in,
            doubt.share * self.force_lbf(stretch_in),
            doubt.scatter_lbf,
        )

    def stand_uncertainty_lbf(self, stretch_in: float) -> float:
        """Return the part of it that is the stand's, lbf: all but the scatter of the readings.

        Raises ValueError beyond the tested stretch.
        """
        force_lbf, slope_lbf_in = self.force_lbf(stretch_in), self.slope_lbf_in(stretch_in)
        return self.doubt.of_stand_lbf(force_lbf, slope_lbf_in)

    def gap_lbf(self, stretch_in: float) -> float:
        """Return the rise between the readings on either side, lbf, as far as it is unseen here.

        All of it half-way between them, nothing at a reading: 4·p·(1 − p) of the rise, p the
        share of the way. Raises ValueError beyond the tested stretch.
        """
        left, right, share = self._piece(stretch_in)
        return 4.0 * share * (1.0 - share) * (right.force_lbf - left.force_lbf)

    def steepens_lbf_in2(self, stretch_in: float) -> float:
        """Return by how much the slope grows per inch just short of a stretch, lbf/in².

        Below 0 where the curve flattens. Raises ValueError beyond the tested stretch.
        """
        left, right, share = self._piece_before(stretch_in)
        width = right.stretch_in - left.stretch_in
        rise = (right.force_lbf - left.force_lbf) / width
        return (
            6.0 * (1.0 - 2.0 * share) * rise
            + (6.0 * share - 4.0) * left.slope_lbf_in
            + (6.0 * share - 2.0) * right.slope_lbf_in
        ) / width

    def gap_slope_lbf_in(self, stretch_in: float) -> float:
        """Return by how much gap_lbf grows per inch just short of a stretch, lbf/in.

        Raises ValueError beyond the tested stretch.
        """
        left, right, share = self._piece_before(stretch_in)
        width = right.stretch_in - left.stretch_in
        return 4.0 * (1.0 - 2.0 * share) * (right.force_lbf - left.force_lbf) / width

    def course(self, low_in: float, high_in: float) -> Course:
        """Return how the curve runs between two stretches of one piece.

        Raises ValueError beyond the tested stretch.
        """
        left, right, end = self._piece_before(high_in)
        width = right.stretch_in - left.stretch_in
        start = (low_in - left.stretch_in) / width
        rise = (right.force_lbf - left.force_lbf) / width
        # The slope is a·p² + b·p + c, p the share of the way.
        bend = 3.0 * (left.slope_lbf_in + right.slope_lbf_in) - 6.0 * rise
        turn = 6.0 * rise - 4.0 * left.slope_lbf_in - 2.0 * right.slope_lbf_in
        shares = [start, end]
        if bend and start < -turn / (2.0 * bend) < end:
            shares.append(-turn / (2.0 * bend))
        slopes = [(bend * each + turn) * each + left.slope_lbf_in for each in shares]
        steepens = [(2.0 * bend * each + turn) / width for each in (start, end)]
        gaps = [4.0 * each * (1.0 - each) * rise * width for each in (start, end)]
        return Course(
            least_slope_lbf_in=max(0.0, min(slopes)),
            most_slope_lbf_in=max(slopes),
            least_gap_lbf=max(0.0, min(gaps)),
            most_gap_lbf=rise * width if start < 0.5 < end else max(gaps),
            steepens_lbf_in2=max(0.0, *steepens),
            widens_lbf_in=max(0.0, 4.0 * (1.0 - 2.0 * start) * rise),
        )

    def _piece_before(self, stretch_in: float) -> tuple[Knot, Knot, float]:
        """Return the knots on either side of a stretch, of the piece that ends at a knot."""
        left, right, share = self._piece(stretch_in)
        if share == 0.0 and left is not self.knots[0]:
            return self.knots[self.knots.index(left) - 1], left, 1.0
        return left, right, share

    def _piece(self, stretch_in: float) -> tuple[Knot, Knot, float]:
        at = _within(stretch_in, self.tested_stretch_in)
        stretches = [knot.stretch_in for knot in self.knots]
        index = min(bisect_right(stretches, at), len(self.knots) - 1)
        left, right = self.knots[index - 1], self.knots[index]
        return left, right, (at - left.stretch_in) / (right.stretch_in - left.stretch_in)


def _checked(knot: Knot) -> Knot:
    return Knot(
        not_negative("knots stretch", knot.stretch_in, "in"),
        not_negative("knots force", knot.force_lbf, "lbf"),
        not_negative("knots slope", knot.slope_lbf_in, "lbf/in"),
    )


LoadCurve = LinearCurve | MonotoneCurve


def monotone_curve(stretch_in: Sequence[float], force_lbf: Sequence[float]) -> MonotoneCurve:
    """Return the monotone curve through rest and the mean force at each stretch.

    Knot slopes by the rule of Fritsch and Butland (PCHIP), which never overshoots its knots.
    Raises ValueError for unequal lengths, no stretch at all, and means that fall.
    """
    means = mean_forces(*reading_pairs(stretch_in, force_lbf))
    if len(means) < 2:
        raise ValueError("stretch_in is 0 in every reading: give at least one with stretch")
    stretches = [x for x, _ in means]
    # Equal means may differ by rounding: the later is then taken at the earlier's force.
    forces = list(accumulate((f for _, f in means), max))
    for x0, f0, (x1, f1) in zip(stretches, forces, means[1:], strict=False):
        if falls(f0, f1):
            raise ValueError(
                f"force_lbf falls from {f0:g} at {x0:g} in to {f1:g} at {x1:g} in: "
                "give forces that rise with stretch"
            )
    slopes = _slopes(stretches, forces)
    return MonotoneCurve(tuple(map(Knot, stretches, forces, slopes)))


def falls(before: float, after: float) -> bool:
    """Say whether `after` lies below `before` (both 0 or more) by more than rounding can."""
    return after < before * (1.0 - HAIR)


def mean_forces(stretches: list[float], forces: list[float]) -> list[tuple[float, float]]:
    """Return the origin and (stretch, mean force) at each stretch read, in their order."""
    groups = by_stretch(stretches, forces).items()
    # Rest is where the curve begins, whatever a gauge showed there.
    return [(0.0, 0.0)] + [(x, fmean(group)) for x, group in groups if x > 0.0]


def by_stretch(stretches: Sequence[float], forces: Sequence[float]) -> dict[float, list[float]]:
    """Return the forces (lbf) read at each stretch (in), in the order of both."""
    groups: dict[float, list[float]] = {}
    for stretch, force in sorted(zip(stretches, forces, strict=True)):
        groups.setdefault(stretch, []).append(force)
    return groups


def _slopes(stretches: list[float], forces: list[float]) -> list[float]:
    if len(stretches) == 2:
        return [forces[1] / stretches[1]] * 2
    from scipy.interpolate import PchipInterpolator

    found = PchipInterpolator(stretches, forces).derivative()(stretches)
    return [max(float(slope), 0.0) for slope in found]


def _within(stretch_in: float, tested_stretch_in: float) -> float:
    at = not_negative("stretch_in", stretch_in, "in")
    if at > tested_stretch_in:
        raise ValueError(
            f"stretch_in is {at:g}: give no more than the tested stretch of "
            f"{tested_stretch_in:g} in"
        )
    return at


def rising_means(
    stretch_in: Sequence[float], force_lbf: Sequence[float]
) -> tuple[list[float], list[float]]:
    """Return each stretch (in) once with its mean force (lbf), none below the one before.

    Least squares under that order (isotonic regression), each mean weighing as many readings as
    it holds. Readings of different tests need it: the pads of one may be softer than those of
    another. Raises ValueError as reading_pairs does.
    """
    groups = by_stretch(*reading_pairs(stretch_in, force_lbf))
    if not groups:
        return [], []
    from scipy.optimize import isotonic_regression

    means = [fmean(forces) for forces in groups.values()]
    rising = isotonic_regression(means, weights=[len(forces) for forces in groups.values()])
    return list(groups), rising.x.tolist()


# Stretches this close are one: a tape is not read finer.
SAME_STRETCH_IN = 0.01


def mean_curve(curves: Sequence[MonotoneCurve], weights: Sequence[float]) -> MonotoneCurve:
    """Return the weighted mean of load curves, monotone, as far as the furthest of them goes.

    At the stretches any of them was read at. A curve that ends before the others goes on by
    their shape, f(x) = f(x₀)·m(x)/m(x₀) with m the mean of those that go on: softer pads tested
    further, or less far, make no step. Its doubt is left at none.
    Raises ValueError with no curve, and for weights that don't match or are not above 0.
    """
    if not curves or len(curves) != len(weights):
        raise ValueError(
            f"weights has {len(weights)} of {len(curves)} curves: give one for each, of one or more"
        )
    shares = [positive("weights", weight, "") for weight in weights]
    stretches = _union_of_stretches(curves)
    extended = [[0.0] * len(stretches) for _ in curves]
    # From the furthest to the shortest, so that whatever a curve goes on by is there.
    order = sorted(range(len(curves)), key=lambda i: -curves[i].tested_stretch_in)
    for place, i in enumerate(order):
        further = [(shares[j], extended[j]) for j in order[:place]]
        extended[i] = _extended(curves[i], stretches, further)
    whole = math.fsum(shares)
    forces = [
        math.fsum(share * forces[at] for share, forces in zip(shares, extended, strict=True))
        / whole
        for at in range(len(stretches))
    ]
    return monotone_curve(stretches[1:], list(accumulate(forces[1:], max)))


def continued(curve: MonotoneCurve, by: MonotoneCurve) -> MonotoneCurve:
    """Return a load curve at its own and another's stretches, beyond its end by that one's shape.

    Its doubt is left at none. Where the other goes no further nothing is added but its stretches.
    """
    stretches = _union_of_stretches([curve, by])
    ends_at = min(by.tested_stretch_in, stretches[-1])
    shape = [by.force_lbf(min(at, ends_at)) for at in stretches]
    forces = _extended(curve, stretches, [(1.0, shape)])
    return monotone_curve(stretches[1:], list(accumulate(forces[1:], max)))


def _union_of_stretches(curves: Sequence[MonotoneCurve]) -> list[float]:
    """Return every stretch read, one of those that lie together; rest and the furthest for sure."""
    last = max(curve.tested_stretch_in for curve in curves)
    found = [0.0]
    for stretch in sorted({knot.stretch_in for curve in curves for knot in curve.knots}):
        if stretch - found[-1] >= SAME_STRETCH_IN and last - stretch >= SAME_STRETCH_IN:
            found.append(stretch)
    return [*found, last]


def _extended(
    curve: MonotoneCurve,
    stretches: Sequence[float],
    further: Sequence[tuple[float, Sequence[float]]],
) -> list[float]:
    """Return a curve's force at each stretch, beyond its own end by the shape of those further.

    further: the weight of each and its force at each of the stretches.
    """
    end = curve.tested_stretch_in
    # Stretches that lie together were read as one.
    inside = [at for at in stretches if at < end + SAME_STRETCH_IN]
    forces = [curve.force_lbf(min(at, end)) for at in inside]
    if len(inside) == len(stretches):
        return forces
    mean = [math.fsum(share * each[i] for share, each in further) for i in range(len(stretches))]
    at_end = _between(stretches, mean, end)
    for i in range(len(inside), len(stretches)):
        ratio = mean[i] / at_end if at_end > 0.0 else 1.0
        forces.append(curve.force_lbf(end) * max(ratio, 1.0))
    return forces


def _between(stretches: Sequence[float], forces: Sequence[float], at: float) -> float:
    """Return the force at a stretch by the straight line between its neighbours."""
    right = min(bisect_right(stretches, at), len(stretches) - 1)
    x0, x1 = stretches[right - 1], stretches[right]
    return forces[right - 1] + (forces[right] - forces[right - 1]) * (at - x0) / (x1 - x0)


def bend_pct(curve: LoadCurve, rate_lbf_in: float, to_in: float) -> float:
    """Return how far a load curve departs from rate × stretch at the stretches used, %.

    The largest |rate·x − f(x)| as a share of the force there, not of full scale, at the readings
    from a quarter of `to_in` up to it: below that a pad carries next to nothing. Straight
    curves have none. Raises ValueError beyond the tested stretch.
    """
    rate, to = positive("rate_lbf_in", rate_lbf_in, "lbf/in"), positive("to_in", to_in, "in")
    if isinstance(curve, LinearCurve):
        return 100.0 * abs(rate - curve.rate_lbf_in) / curve.rate_lbf_in
    at = [to, *(k.stretch_in for k in curve.knots if to / 4.0 <= k.stretch_in < to)]
    departures = [(abs(rate * x - curve.force_lbf(x)), curve.force_lbf(x)) for x in at]
    return max((100.0 * off / force for off, force in departures if force > 0.0), default=0.0)


def forces_at_quarters(curve: MonotoneCurve) -> tuple[tuple[float, float], ...]:
    """Return (stretch in, force lbf of one pad) at each quarter of the tested stretch."""
    end = curve.tested_stretch_in
    return tuple((end * part, curve.force_lbf(end * part)) for part in (0.25, 0.5, 0.75, 1.0))
