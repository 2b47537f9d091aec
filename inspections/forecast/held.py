"""How good forecasts were: those kept, and those made again of past months, by what came."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from inspections.forecast.came import came_record, kept_pasts, what_came
from inspections.forecast.forecasting import HORIZONS
from inspections.forecast.replay import Row
from inspections.models import Forecast
from ratings.mechanics.forecast_scores import (
    Bin,
    Counted,
    Score,
    Scored,
    brier_score,
    calibration,
    pads_ratio,
    without_skill,
)


@dataclass(frozen=True)
class Held:
    """Forecasts of one number of days ahead, held to what came.

    told: days whose count tells of pads. scored: those of units that met their listing at first and
    of which it is known whether they still did. short: of them, how many did not. expected, found:
    pads of all told.
    """

    days: int
    told: int
    scored: int
    short: int
    predicted: float
    brier: Score | None
    without_skill: float | None
    expected: float
    found: int
    ratio: Score | None


def kept_rows(
    until: date | None = None,
    since: date | None = None,
    housing_ids: Collection[int] | None = None,
) -> list[Row]:
    """Return every day that kept forecasts looked ahead to, with what came; the newest first.

    since, until: of the days looked ahead to; housing_ids: of which units. None for all.
    """
    kept = Forecast.objects.order_by("-made_on", "-pk")
    if housing_ids is not None:
        kept = kept.filter(housing__in=housing_ids)
    forecasts = list(kept)
    days = [
        past
        for past in kept_pasts(forecasts)
        if (since is None or past.day >= since) and (until is None or past.day <= until)
    ]
    return [
        Row(
            past.mark,
            past.housing_id,
            timezone.localtime(past.made_at).date(),
            past.days,
            past.short,
            past.expected,
            past.low,
            past.high,
            past.is_short_at_once,
            came if isinstance(came, str) else came_record(came),
        )
        for past, came in zip(days, what_came(days), strict=True)
    ]


def scored_rows(rows: Iterable[Row]) -> list[Scored]:
    """Return the chances that can be held to what came: of units that met their listing at first.

    One that was short already when it was forecast tells nothing of how good the forecast was.
    """
    return [
        Scored(min(1.0, max(0.0, row.short)), bool(row.is_short), row.mark)
        for row in rows
        if row.is_short is not None and not row.is_short_at_once
    ]


def counted_rows(rows: Iterable[Row]) -> list[Counted]:
    """Return pads expected to fail beside those found to, of every day that a count tells of."""
    return [
        Counted(row.expected, row.came["failed"], row.mark)
        for row in rows
        if not isinstance(row.came, str)
    ]


def held_by_days(rows: Sequence[Row]) -> list[Held]:
    """Return how good the forecasts of each number of days ahead were."""
    found = []
    for days in HORIZONS:
        mine = [row for row in rows if row.days == days]
        scored, counted = scored_rows(mine), counted_rows(mine)
        found.append(
            Held(
                days,
                len(counted),
                len(scored),
                sum(each.came for each in scored),
                sum(each.chance for each in scored),
                brier_score(scored) if scored else None,
                without_skill(scored) if scored else None,
                sum(each.expected for each in counted),
                sum(each.found for each in counted),
                pads_ratio(counted) if counted else None,
            )
        )
    return found


def bins(rows: Sequence[Row]) -> tuple[Bin, ...]:
    """Return how often units fell short, of forecasts of about one chance each."""
    return calibration(scored_rows(rows))


def season_words(
    first_day: date, last_day: date, housing_ids: Collection[int] | None = None
) -> str:
    """Say in a line how good the forecasts were whose days fell within a span."""
    rows = kept_rows(last_day, first_day, housing_ids)
    counted = counted_rows(rows)
    if not counted:
        return (
            "No forecast that was kept has a day in this span and a count of the pads to hold it "
            "to."
        )
    scored = scored_rows(rows)
    found = sum(each.found for each in counted)
    expected = sum(each.expected for each in counted)
    words = (
        f"{len(counted)} days that were forecast are held to counts of the pads: {expected:,.1f} "
        f"pads were expected to fail, {found:,} were found failed{_band(pads_ratio(counted))}."
    )
    if not scored:
        return words
    score = brier_score(scored)
    short = sum(each.came for each in scored)
    said = sum(each.chance for each in scored)
    return (
        f"{words} Of {len(scored)} days of units that met their listing, {said:,.1f} were "
        f"expected to be short and {short:,} were; Brier score {score.value:.2f}"
        f"{'' if score.low is None else f' ({score.low:.2f} to {score.high:.2f})'}, where 0 is "
        "perfect and 0.25 says nothing."
    )


def _band(ratio: Score | None) -> str:
    # Where none failed every drawing anew gives none: that is no band, only too little seen.
    if ratio is None or ratio.low is None or not ratio.high:
        return ""
    value, low, high = (f"{100.0 * each:.0f} %" for each in (ratio.value, ratio.low, ratio.high))
    return f", {value} of them ({low} to {high})"
