"""The load curve of a lot that is not linear, by its knots."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.platypus import Flowable

from ratings.certificate.facts import Certificate
from ratings.certificate.layout import FORMULA, SECTION, folded
from ratings.certificate.units import significant
from ratings.paper.style import paragraph


def curve_section(certificate: Certificate) -> Iterator[Flowable]:
    if certificate.is_linear:
        return
    units, doubt = certificate.units, certificate.rating.curve_doubt
    yield paragraph("Load curve of one pad", SECTION)
    yield paragraph(
        "Monotone through rest and the mean force at each stretch (PCHIP: Fritsch and Butland). "
        "Between knots 0 and 1, with h = x₁ − x₀ and t = (x − x₀)/h: f = (2t³ − 3t² + 1)·f₀ + "
        "(t³ − 2t² + t)·h·d₀ + (3t² − 2t³)·f₁ + (t³ − t²)·h·d₁, d being the slopes. "
        "Its shared uncertainty at a stretch is the larger of u·x, with u of the rate, which the "
        "departure from the line makes wide, and u(f) = √(u_f² + (slope·u_x)² + (c·f)² + u_s²): "
        f"u_f = {significant(units.force(doubt['force_lbf']))} {units.force_symbol} from gauge, "
        f"u_x = {significant(units.length(doubt['stretch_in']))} {units.length_symbol} from tape "
        f"and datum, c = {significant(doubt['share'])} from the cylinder, "
        f"u_s = {significant(units.force(doubt['scatter_lbf']))} {units.force_symbol} from the "
        "scatter of the readings.",
        FORMULA,
    )
    yield folded(
        (
            f"Stretch x, {units.length_symbol}",
            f"Force f, {units.force_symbol}",
            f"Slope d, {units.rate_symbol}",
        ),
        [
            (
                significant(units.length(stretch), 6),
                significant(units.force(force)),
                significant(units.rate(slope)),
            )
            for stretch, force, slope in certificate.rating.curve
        ],
        (80.0, 80.0, 80.0),
        most=4,
    )
