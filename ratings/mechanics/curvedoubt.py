"""What a monotone load curve is not sure of, from the test it was read in."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ratings.mechanics.bench import BenchSetUp
from ratings.mechanics.budget import Instruments, largest_gauge_error_psi
from ratings.mechanics.loadcurve import CurveDoubt, mean_forces
from ratings.mechanics.readingpairs import reading_pairs
from ratings.mechanics.uncertainty import rectangular, resolution


def curve_doubt(
    stretch_in: Sequence[float],
    force_lbf: Sequence[float],
    set_up: BenchSetUp,
    instruments: Instruments,
) -> CurveDoubt:
    """Return the doubt of the curve through the means of these readings of one pad.

    The gauge's largest error and its rounding move the force, the datum and the tape's rounding
    the stretch, the bore (and the rod at the rod end) the force as a share of it; all type B,
    rectangular. Rounding is taken as of one reading, however many there are. The scatter is
    type A, see mean_scatter_lbf.
    Raises ValueError as rate_budget does.
    """
    per_psi = set_up.cylinder.area_in2(set_up.end) / set_up.pads_in_test
    stretches, forces = reading_pairs(stretch_in, force_lbf)
    error_psi = largest_gauge_error_psi(forces, set_up, instruments)
    return CurveDoubt(
        force_lbf=per_psi
        * math.hypot(rectangular(error_psi), resolution(instruments.gauge_resolution_psi)),
        stretch_in=math.hypot(
            rectangular(instruments.datum_within_in), resolution(instruments.tape_resolution_in)
        ),
        share=_of_area(set_up, instruments),
        scatter_lbf=mean_scatter_lbf(stretches, forces),
    )


def mean_scatter_lbf(stretch_in: Sequence[float], force_lbf: Sequence[float]) -> float:
    """Return the standard deviation of a mean of readings at one stretch, lbf.

    With several readings at some stretch: their deviations from their means, pooled, over the
    root of the fewest readings that any stretch has. With one at each: by how much a mean
    departs from the straight line between its neighbours (Gasser, Sroka and
    Jennen-Steinmetz 1986), which takes the bend of the curve for scatter too, never too little.
    0 where there is a single stretch and a single reading: nothing can be seen.
    """
    stretches, forces = reading_pairs(stretch_in, force_lbf)
    groups: dict[float, list[float]] = {}
    for stretch, force in zip(stretches, forces, strict=True):
        if stretch > 0.0:
            groups.setdefault(stretch, []).append(force)
    freedom = sum(len(group) - 1 for group in groups.values())
    if freedom == 0:
        return _from_neighbours(mean_forces(stretches, forces))
    squares = math.fsum(
        (force - mean) * (force - mean)
        for group in groups.values()
        for mean in [math.fsum(group) / len(group)]
        for force in group
    )
    return math.sqrt(squares / freedom / min(map(len, groups.values())))


def _from_neighbours(means: list[tuple[float, float]]) -> float:
    squares = []
    for (x0, f0), (x1, f1), (x2, f2) in zip(means, means[1:], means[2:], strict=False):
        near, far = (x2 - x1) / (x2 - x0), (x1 - x0) / (x2 - x0)
        departure = near * f0 + far * f2 - f1
        squares.append(departure * departure / (near * near + far * far + 1.0))
    return math.sqrt(math.fsum(squares) / len(squares)) if squares else 0.0


def _of_area(set_up: BenchSetUp, instruments: Instruments) -> float:
    bore, rod = set_up.cylinder.bore_in, set_up.cylinder.rod_in
    if set_up.end == "blind":
        return 2.0 * rectangular(instruments.bore_tolerance_in) / bore
    ring = bore * bore - rod * rod
    return math.hypot(
        2.0 * bore * rectangular(instruments.bore_tolerance_in) / ring,
        2.0 * rod * rectangular(instruments.rod_tolerance_in) / ring,
    )
