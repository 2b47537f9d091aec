"""What a lot's page shows of the pads drawn from service."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from django.utils.safestring import SafeString

from fleet.context import system_of
from fleet.models import PadLot
from fleet.tables import table_of
from ratings.drawing.trend_graph import TrendFigures
from ratings.mechanics.surveillance import Trend
from ratings.pictures import trend_graphs
from ratings.surveillance.draws import DrawsDue, draws_due
from ratings.surveillance.plans import promise_words
from ratings.surveillance.tables import DrawnPadTable, drawn_rows
from ratings.surveillance.trends import BAND, LotTrend, Occasion, Origin, lot_trends
from ratings.surveillance.words import caveats, limit_words, newest_words, softening_words
from ratings.surveillance.words import trend_words as words_of_trend

PIECES = 24
# The line is drawn on to where it crosses the limit, but no further beyond the pads than this.
FARTHEST = 1.6


@dataclass(frozen=True)
class Section:
    """All that is said of a lot's surveillance. softening: "" where nothing softens."""

    draws: DrawsDue
    promise: str
    softening: str
    trend_words: tuple[str, ...]
    newest: str
    caveats: tuple[str, ...]
    graphs: tuple[dict[str, SafeString], ...]
    table: Any


def section_of(request: HttpRequest, lot: PadLot) -> Section:
    """Return the section of one lot."""
    system = system_of(request)
    [draws] = draws_due([lot])
    trend = lot_trends([lot]).get(lot.pk)
    return Section(
        draws=draws,
        promise=promise_words(draws.plan.pads_a_year) if draws.plan else "",
        softening=softening_words(trend) if trend else "",
        trend_words=tuple(words_of_trend(trend)) if trend else (),
        newest=newest_words(trend, system) if trend else "",
        caveats=tuple(caveats(trend, system)) if trend else (),
        graphs=tuple(_graphs(trend, system)) if trend else (),
        table=table_of(request, DrawnPadTable, drawn_rows(trend) if trend else []),
    )


def _graphs(trend: LotTrend, system: str) -> list[dict[str, SafeString]]:
    mark = trend.lot.mark
    drawn = []
    if trend.by_age is not None:
        by_age = [(each, each.age_years) for each in trend.of_age]
        figures = _figures(trend, trend.by_age, by_age, "age of the lot, years", system)
        drawn.append(trend_graphs(figures, f"Rate of pads of lot {mark} against age"))
    if trend.by_hours is not None:
        by_hours = [(each, each.hours) for each in trend.of_hours if each.hours is not None]
        figures = _figures(trend, trend.by_hours, by_hours, "hours worked", system)
        drawn.append(trend_graphs(figures, f"Rate of pads of lot {mark} against hours worked"))
    return drawn


def _figures(
    trend: LotTrend,
    line: Trend,
    points: list[tuple[Occasion, float]],
    along: str,
    system: str,
) -> TrendFigures:
    new, drawn = (
        tuple(
            (at, each.rate_lbf_in)
            for each, at in points
            if (each.first.origin is Origin.SERVICE) is is_drawn
        )
        for is_drawn in (False, True)
    )
    limit = trend.limit_lbf_in
    farthest = line.first_at + FARTHEST * (line.last_at - line.first_at)
    crossing = line.line_reaches(limit, farthest) if limit is not None else None
    end = max(crossing or 0.0, line.last_at + 0.1 * (line.last_at - line.first_at))
    ats = [line.first_at + (end - line.first_at) * piece / PIECES for piece in range(PIECES + 1)]
    bands = [line.band_at(at, BAND) for at in ats]
    return TrendFigures(
        along=along,
        new=new,
        drawn=drawn,
        line=tuple((at, line.rate_at(at)) for at in ats),
        low=tuple((at, low) for at, (low, _) in zip(ats, bands, strict=True)),
        high=tuple((at, high) for at, (_, high) in zip(ats, bands, strict=True)),
        limit_lbf_in=limit,
        limit_words=limit_words(trend),
        units=system,
    )
