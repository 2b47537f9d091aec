"""Drawings of an answer for pages: mechanics in, SVG out."""

from __future__ import annotations

from django.utils.safestring import SafeString, mark_safe

from ratings.drawing.curvefigures import curve_words
from ratings.drawing.demandcurve import DemandFigures, draw_demand_curve
from ratings.drawing.loadpath import Part, PathFigures, Supply, draw_load_path, load_path_height
from ratings.drawing.pathfigures import path_words
from ratings.drawing.svg import SvgSurface
from ratings.extraction.answer import UnitAnswer
from ratings.mechanics.extraction.verdict import Check, CheckKey

WIDTHS = {"wide": 720.0, "phone": 360.0}
CURVE_HEIGHTS = {"wide": 320.0, "phone": 280.0}


def path_figures(answer: UnitAnswer, system: str) -> PathFigures:
    """Return the load path of one unit from the hook down, supplies where they bear."""
    parts = {
        step.name: Part(step.name, step.force_lbf, step.total_lbf) for step in answer.path.steps
    }
    legs = answer.job.crane.leg_factor
    shaken = "with shaking" if answer.job.is_vibrating else "in all"
    rows: list[Part | Supply] = [
        _supply("Crane’s chart allows", answer, CheckKey.CRANE),
        parts["hook block"],
        # A leg's figures, as the whole load the legs bear together.
        _supply("Rigging good for", answer, CheckKey.RIGGING, share=1.0 / legs),
        parts["rigging"],
        parts["housing"],
        _supply("Pads good for", answer, CheckKey.LINE_PULL),
        parts["exciter"],
        parts["clamp"],
        _supply("Clamp grips with", answer, CheckKey.CLAMP, borne=shaken),
        _supply("Pile may be pulled with", answer, CheckKey.TENSION, borne=shaken),
        *([parts["plug"]] if "plug" in parts else []),
        parts["pile"],
        parts["ground"],
    ]
    return PathFigures(tuple(rows), system)


def load_path_svgs(answer: UnitAnswer, system: str) -> dict[str, SafeString]:
    """Return the load path for a wide page and for a phone."""
    figures = path_figures(answer, system)
    return {name: _load_path(figures, answer, width) for name, width in WIDTHS.items()}


def demand_curve_svgs(answer: UnitAnswer, system: str) -> dict[str, SafeString]:
    """Return demand against embedment for a wide page and for a phone; none where not known."""
    if not answer.curve:
        return {}
    supply = _check(answer, CheckKey.LINE_PULL)
    points = tuple(
        (each.embedment_ft, each.low_lbf, each.expected_lbf, each.high_lbf) for each in answer.curve
    )
    figures = DemandFigures(points, supply.supply if supply else None, system)
    return {
        name: _curve(figures, answer, width, CURVE_HEIGHTS[name]) for name, width in WIDTHS.items()
    }


def _supply(
    label: str, answer: UnitAnswer, key: CheckKey, share: float = 1.0, borne: str = "in all"
) -> Supply:
    check = _check(answer, key)
    if check is None:
        return Supply(label, None, None, borne)
    demand, supply = (
        None if value is None else value * share for value in (check.demand, check.supply)
    )
    return Supply(label, demand, supply, borne)


def _check(answer: UnitAnswer, key: CheckKey) -> Check | None:
    return answer.verdict.check(key)


def _load_path(figures: PathFigures, answer: UnitAnswer, width: float) -> SafeString:
    height = load_path_height(figures)
    surface = SvgSurface(
        width,
        height,
        f"Load path of {answer.candidate.housing.mark}",
        f"From the hook down to the ground. {path_words(figures)}",
    )
    draw_load_path(surface, figures, width)
    return mark_safe(surface.render())


def _curve(figures: DemandFigures, answer: UnitAnswer, width: float, height: float) -> SafeString:
    surface = SvgSurface(
        width,
        height,
        f"Demand on {answer.candidate.housing.mark} as the pile comes out",
        curve_words(figures),
    )
    draw_demand_curve(surface, figures, width, height)
    return mark_safe(surface.render())
