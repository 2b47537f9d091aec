"""Drawings for pages: records in, SVG out."""

from __future__ import annotations

from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe

from fleet.units import pull_words
from ratings.drawing.load_graph import LoadGraphFigures, draw_load_graph
from ratings.drawing.pull_history import HistoryPoint, draw_pull_history
from ratings.drawing.pull_rule import Detail, RuleFigures, draw_pull_rule
from ratings.drawing.svg import SvgSurface
from ratings.mechanics.record import read_inputs
from ratings.mechanics.unit_rating import load_line
from ratings.models import LedgerEntry

GRAPH_SIZE = (720.0, 320.0)
PHONE_GRAPH_SIZE = (360.0, 280.0)
RULE_SIZE = (720.0, 170.0)
PHONE_RULE_SIZE = (360.0, 170.0)
SMALL_RULE_SIZE = (220.0, 40.0)


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
    return _rule(entry, mark, system, SMALL_RULE_SIZE, Detail.SMALL)


def large_rules(entry: LedgerEntry | None, mark: str, system: str) -> dict[str, SafeString]:
    """Return the pull rule for a wide page and for a phone."""
    return {
        "wide": _rule(entry, mark, system, RULE_SIZE, Detail.LARGE),
        "phone": _rule(entry, mark, system, PHONE_RULE_SIZE, Detail.LARGE),
    }


def load_graphs(figures: LoadGraphFigures, title: str) -> dict[str, SafeString]:
    """Return a bench test's load–stretch graph for a wide page and for a phone."""
    return {
        name: _load_graph(figures, title, size)
        for name, size in (("wide", GRAPH_SIZE), ("phone", PHONE_GRAPH_SIZE))
    }


def history_graphs(entries: list[LedgerEntry], mark: str, system: str) -> dict[str, SafeString]:
    """Return line pull over the life of a unit for a wide page and for a phone."""
    return {
        name: _history(entries, mark, system, size)
        for name, size in (("wide", GRAPH_SIZE), ("phone", PHONE_GRAPH_SIZE))
    }


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


def _rule(
    entry: LedgerEntry | None,
    mark: str,
    system: str,
    size: tuple[float, float],
    detail: Detail,
) -> SafeString:
    pull = pull_words(entry.pull_lbf if entry else None, system)
    listed = pull_words(entry.listed_lbf if entry else None, system)
    surface = SvgSurface(*size, f"Pull rule of {mark}", f"Line pull {pull}; listed {listed}.")
    draw_pull_rule(surface, rule_figures(entry, system), *size, detail)
    return mark_safe(surface.render())


def _load_graph(figures: LoadGraphFigures, title: str, size: tuple[float, float]) -> SafeString:
    surface = SvgSurface(*size, title, "Force of one pad against stretch.")
    draw_load_graph(surface, figures, *size)
    return mark_safe(surface.render())


def _history(
    entries: list[LedgerEntry], mark: str, system: str, size: tuple[float, float]
) -> SafeString:
    surface = SvgSurface(*size, f"Line pull of {mark} over time", "The ledger below holds it all.")
    draw_pull_history(surface, history_points(entries), *size, until=timezone.now(), units=system)
    return mark_safe(surface.render())
