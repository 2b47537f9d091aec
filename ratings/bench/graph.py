"""What the graph of a bench test is drawn from."""

from __future__ import annotations

from ratings.bench.reduction import Reduction
from ratings.drawing.load_graph import LoadGraphFigures

CURVE_PIECES = 48


def load_graph_figures(
    reduction: Reduction, linearity_limit_pct: float, system: str
) -> LoadGraphFigures:
    """Return the readings of a test, the line fitted to them, and its curve where it is bent."""
    fit = reduction.fit
    tested_in = fit.tested_stretch_in
    # Rounding must not take the last point a hair beyond the tested stretch.
    stretches = [
        min(tested_in * piece / CURVE_PIECES, tested_in) for piece in range(CURVE_PIECES + 1)
    ]
    return LoadGraphFigures(
        points=tuple((each.stretch_in, each.force_lbf) for each in reduction.readings),
        rate_lbf_in=fit.rate_lbf_in,
        tested_stretch_in=fit.tested_stretch_in,
        curve_points=(
            ()
            if fit.is_linear
            else tuple((stretch, reduction.curve.force_lbf(stretch)) for stretch in stretches)
        ),
        band_lbf=linearity_limit_pct / 100.0 * max(each.force_lbf for each in reduction.readings),
        units=system,
    )
