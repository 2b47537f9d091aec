"""Drawings for pages: records in, SVG out."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from typing import Any

from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe

from fleet.quantities import listed_words, pull_words
from ratings.drawing.calibration_graph import CalibrationPoint, draw_calibration
from ratings.drawing.control_chart import ChartPoint, draw_control_chart
from ratings.drawing.curve_comparison import CurveComparison, draw_curve_comparison
from ratings.drawing.load_graph import LoadGraphFigures, draw_load_graph
from ratings.drawing.proof_graph import ProofGraphFigures, draw_proof_graph
from ratings.drawing.pull_graph import PullGraphFigures, draw_pull_graph
from ratings.drawing.pull_history import HistoryPoint, draw_pull_history
from ratings.drawing.pull_rule import Detail, RuleFigures, draw_pull_rule
from ratings.drawing.surface import Surface
from ratings.drawing.survival_graph import SurvivalFigures, draw_survival
from ratings.drawing.svg import SvgSurface
from ratings.drawing.trend_graph import TrendFigures, draw_trend
from ratings.mechanics.record import read_inputs
from ratings.mechanics.unit_rating import load_line
from ratings.models import LedgerEntry

Draw = Callable[[Surface, float, float], None]
Sizes = dict[str, tuple[float, float]]

GRAPH_SIZES: Sizes = {"wide": (720.0, 320.0), "phone": (360.0, 280.0)}
RULE_SIZES: Sizes = {"wide": (720.0, 170.0), "phone": (360.0, 170.0)}
SMALL_RULE_SIZE: Sizes = {"small": (220.0, 40.0)}


def pictures(sizes: Sizes, title: str, description: str, draw: Draw) -> dict[str, SafeString]:
    """Return a drawing in each size. draw: given the surface, its width and height."""
    drawn = {}
    for name, size in sizes.items():
        surface = SvgSurface(*size, title, description)
        draw(surface, *size)
        drawn[name] = mark_safe(surface.render())
    return drawn


def rule_figures(entry: LedgerEntry | None, system: str) -> RuleFigures:
    """Return what the pull rule of a ledger entry shows."""
    if entry is None or entry.pull_lbf is None or entry.working_capacity_lbf is None:
        return RuleFigures(units=system, listed_lbf=entry.listed_lbf if entry else None)
    inputs = read_inputs(entry.inputs)
    usable_travel_in = entry.usable_travel_in or 0.0
    return RuleFigures(
        load_line=load_line(inputs, usable_travel_in),
        travel_in=inputs.travel_in,
        usable_travel_in=usable_travel_in,
        limited_by=entry.results["limited_by"],
        pull_lbf=entry.pull_lbf,
        working_capacity_lbf=entry.working_capacity_lbf,
        upper_bound_lbf=2.0 * entry.pull_lbf - entry.working_capacity_lbf,
        listed_lbf=entry.listed_lbf,
        units=system,
    )


def small_rule(entry: LedgerEntry | None, mark: str, system: str) -> SafeString:
    """Return the pull rule as it stands in a row of the board."""
    return _rules(SMALL_RULE_SIZE, entry, mark, system, Detail.SMALL)["small"]


def large_rules(entry: LedgerEntry | None, mark: str, system: str) -> dict[str, SafeString]:
    """Return the pull rule for a wide page and for a phone."""
    return _rules(RULE_SIZES, entry, mark, system, Detail.LARGE)


# An entry never changes, and nor does its drawing: those drawn last are kept, by its hash.
MOST_RULES_KEPT = 2_000
_kept_rules: OrderedDict[tuple[Any, ...], dict[str, SafeString]] = OrderedDict()


def _rules(
    sizes: Sizes, entry: LedgerEntry | None, mark: str, system: str, detail: Detail
) -> dict[str, SafeString]:
    if entry is None:
        return _drawn_rules(sizes, entry, mark, system, detail)
    # With what is drawn of the columns beside the document, should one not be what that says.
    columns = (
        entry.pull_lbf,
        entry.working_capacity_lbf,
        entry.listed_lbf,
        entry.usable_travel_in,
    )
    key = (entry.hash, *columns, mark, system, detail)
    drawn = _kept_rules.get(key)
    if drawn is None:
        drawn = _kept_rules[key] = _drawn_rules(sizes, entry, mark, system, detail)
        while len(_kept_rules) > MOST_RULES_KEPT:
            _kept_rules.popitem(last=False)
    return drawn


def _drawn_rules(
    sizes: Sizes, entry: LedgerEntry | None, mark: str, system: str, detail: Detail
) -> dict[str, SafeString]:
    figures = rule_figures(entry, system)
    pull = pull_words(figures.pull_lbf, system, listed_lbf=figures.listed_lbf)
    words = f"Line pull {pull}; listed {listed_words(figures.listed_lbf, system)}."
    return pictures(
        sizes,
        f"Pull rule of {mark}",
        words,
        lambda surface, width, height: draw_pull_rule(surface, figures, width, height, detail),
    )


def load_graphs(figures: LoadGraphFigures, title: str) -> dict[str, SafeString]:
    """Return a bench test's load–stretch graph for a wide page and for a phone."""
    words = "Force of one pad against stretch."
    return pictures(
        GRAPH_SIZES, title, words, lambda surface, *size: draw_load_graph(surface, figures, *size)
    )


def trend_graphs(figures: TrendFigures, title: str) -> dict[str, SafeString]:
    """Return the rates of a lot's pads against years or hours, for a wide page and for a phone."""
    words = "The table and the sentences beside it say the same."
    return pictures(
        GRAPH_SIZES, title, words, lambda surface, *size: draw_trend(surface, figures, *size)
    )


def survival_graphs(figures: SurvivalFigures, title: str) -> dict[str, SafeString]:
    """Return the share of a lot's pads still sound against hours, for a wide page and a phone."""
    words = "The table below it says the same."
    return pictures(
        GRAPH_SIZES, title, words, lambda surface, *size: draw_survival(surface, figures, *size)
    )


def calibration_graphs(points: tuple[CalibrationPoint, ...], title: str) -> dict[str, SafeString]:
    """Return how often what was forecast came, for a wide page and for a phone."""
    words = "The table beside it says the same."
    return pictures(
        GRAPH_SIZES, title, words, lambda surface, *size: draw_calibration(surface, points, *size)
    )


def curve_graphs(figures: CurveComparison, title: str) -> dict[str, SafeString]:
    """Return a drafted load curve over the one in force for a wide page and for a phone."""
    words = "Force of one pad against stretch, of the draft and of the rating in force."
    return pictures(
        GRAPH_SIZES,
        title,
        words,
        lambda surface, *size: draw_curve_comparison(surface, figures, *size),
    )


def proof_graphs(figures: ProofGraphFigures, title: str) -> dict[str, SafeString]:
    """Return a proof pull, measured against expected, for a wide page and for a phone."""
    words = "Pull of the whole unit against stretch, and what its pads should give."
    return pictures(
        GRAPH_SIZES, title, words, lambda surface, *size: draw_proof_graph(surface, figures, *size)
    )


def pull_graphs(figures: PullGraphFigures) -> dict[str, SafeString]:
    """Return what pulls measured against what was calculated, for a wide page and a phone."""
    words = "Each pull by the resistance calculated of its ground and the one measured."
    return pictures(
        GRAPH_SIZES,
        "Pulls, measured against calculated",
        words,
        lambda surface, *size: draw_pull_graph(surface, figures, *size),
    )


def control_charts(
    points: list[ChartPoint], title: str, description: str, system: str
) -> dict[str, SafeString]:
    """Return the control chart of a piece on a stand for a wide page and for a phone."""
    return pictures(
        GRAPH_SIZES,
        title,
        description,
        lambda surface, width, height: draw_control_chart(surface, points, width, height, system),
    )


def history_graphs(entries: list[LedgerEntry], mark: str, system: str) -> dict[str, SafeString]:
    """Return line pull over the life of a unit for a wide page and for a phone."""
    points, until = history_points(entries), timezone.now()
    return pictures(
        GRAPH_SIZES,
        f"Line pull of {mark} over time",
        "The ledger below holds it all.",
        lambda surface, width, height: draw_pull_history(
            surface, points, width, height, until, system
        ),
    )


def history_points(entries: list[LedgerEntry]) -> list[HistoryPoint]:
    """Return what the graph over time is drawn from, in the order things were recorded."""
    return [
        HistoryPoint(
            at=entry.recorded_at,
            pull_lbf=entry.pull_lbf,
            working_capacity_lbf=entry.working_capacity_lbf,
            listed_lbf=entry.listed_lbf,
        )
        for entry in entries
    ]
