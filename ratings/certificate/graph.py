"""The load–stretch graph of a test, small enough to leave room for figures."""

from __future__ import annotations

from reportlab.platypus import Flowable

from ratings.certificate.facts import Certificate
from ratings.drawing.loadgraph import LoadGraphFigures, draw_load_graph
from ratings.drawing.pdf import DrawingFlowable, PdfSurface
from ratings.mechanics.load_curve import Knot, MonotoneCurve
from ratings.reduction import Reduction

# Its lettering is made for a screen: drawn larger and brought down to the paper.
SCALE = 0.6
CURVE_PIECES = 48


class ScaledDrawing(DrawingFlowable):
    """A drawing brought down to the size it has on paper."""

    def draw(self) -> None:
        self.canv.saveState()
        self._draw(PdfSurface(self.canv, 0.0, self.height, SCALE))
        self.canv.restoreState()


def load_graph(
    certificate: Certificate, reduction: Reduction, width: float, height: float
) -> Flowable:
    """Return the graph of one test with its line, its band and the lot's curve if it has one."""
    shown = LoadGraphFigures(
        points=tuple((each.stretch_in, each.force_lbf) for each in reduction.readings),
        rate_lbf_in=reduction.fit.rate_lbf_in,
        tested_stretch_in=reduction.fit.tested_stretch_in,
        curve_points=() if certificate.is_linear else _curve_points(certificate),
        band_lbf=certificate.policy.linearity_limit_pct
        / 100.0
        * max(force for _, force in reduction.points),
        units=certificate.units.system,
    )
    drawn = (width / SCALE, height / SCALE)
    return ScaledDrawing(width, height, lambda surface: draw_load_graph(surface, shown, *drawn))


def _curve_points(certificate: Certificate) -> tuple[tuple[float, float], ...]:
    curve = MonotoneCurve(tuple(Knot(*map(float, knot)) for knot in certificate.rating.curve))
    end_in = curve.tested_stretch_in
    # Rounding must not take the last point a hair beyond the tested stretch.
    stretches = [min(end_in * piece / CURVE_PIECES, end_in) for piece in range(CURVE_PIECES + 1)]
    return tuple((stretch, curve.force_lbf(stretch)) for stretch in stretches)
