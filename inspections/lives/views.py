"""Pages of pads over time: those of one unit, and how long those of a lot last."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.safestring import SafeString

from fleet.models import PadLot, SuppressorHousing
from fleet.quantities import plain_number
from fleet.tables import table_of
from inspections.lives.lot_lives import (
    LivesOfLot,
    Since,
    fleet_records,
    lives_by_lot,
    other_lots,
    pad_records,
)
from inspections.lives.tables import (
    HALF,
    TENTH,
    LotPadTable,
    OtherLotTable,
    PadTimeTable,
    ageing_words,
    is_guessed,
    life_words,
    pad_rows,
)
from ratings.drawing.survival_graph import SurvivalFigures
from ratings.mechanics.survival import LEAST_FAILURES, LotLife, Method, Told
from ratings.pictures import survival_graphs

PIECES = 40
ALONG = {Since.FITTED: "hours worked since fitted", Since.SEEN: "hours worked since first counted"}


def unit_pads(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Show every pad that was ever in a housing: since when, what it worked, how it ended."""
    housing = get_object_or_404(SuppressorHousing, pk=housing_id)
    table = table_of(request, PadTimeTable, pad_rows(pad_records([housing.pk])))
    context = {"section": "board", "housing": housing, "table": table}
    return render(request, "lives/unit_pads.html", context)


def lot_life(request: HttpRequest, lot_id: int) -> HttpResponse:
    """Show how long the pads of a lot last, beside other lots, and every pad of it."""
    lot = get_object_or_404(PadLot, pk=lot_id)
    records = fleet_records()
    own = [record for record in records if record.time.lot_id == lot.pk]
    return render(
        request,
        "lives/lot_life.html",
        {
            "section": "lots",
            "lot": lot,
            "least": LEAST_FAILURES,
            "parts": [
                part_of(request, lot, since, lives_by_lot(records, since)) for since in Since
            ],
            "table": table_of(request, LotPadTable, pad_rows(own)),
        },
    )


@dataclass(frozen=True)
class Part:
    """What is told of a lot's life, its hours counted in one way."""

    since: Since
    words: str
    left_out: tuple[str, ...]
    life: LotLife
    tenth: str
    half: str
    is_tenth_guessed: bool
    is_half_guessed: bool
    ageing: str
    graphs: Mapping[str, SafeString] | None
    others: Any


def part_of(
    request: HttpRequest, lot: PadLot, since: Since, lives: Mapping[int, LivesOfLot]
) -> Part:
    """Return what is told of the life of a lot's pads from new, or from their first count."""
    own = lives.get(lot.pk) or LivesOfLot((), {})
    life = own.told
    is_told = life.told is Told.LIFE
    title = f"Pads of lot {lot.mark} still sound, {since.label}"
    return Part(
        since=since,
        words=told_words(life),
        left_out=tuple(
            f"{many} pad{'' if many == 1 else 's'}: {why.label}"
            for why, many in sorted(own.left_out.items())
        ),
        life=life,
        tenth=life_words(life, TENTH),
        half=life_words(life, HALF),
        is_tenth_guessed=is_guessed(life, TENTH),
        is_half_guessed=is_guessed(life, HALF),
        ageing=ageing_words(life),
        graphs=survival_graphs(figures_of(life, ALONG[since]), title) if is_told else None,
        others=table_of(request, OtherLotTable, other_lots(lot, lives)) if is_told else None,
    )


def told_words(life: LotLife) -> str:
    """Say what can be told of a lot's life, or why nothing can."""
    pads = f"{life.pads} pad{'' if life.pads == 1 else 's'}"
    hours = plain_number(life.longest_hours, 0)
    more = f"The life of a lot is told once {LEAST_FAILURES} of its pads have failed."
    if life.told is Told.NO_PADS:
        return "No pad of it tells anything yet."
    if life.told is Told.NO_FAILURE:
        seen = f", the longest for {hours} h" if life.longest_hours else ""
        return f"None of {pads} was found unsound{seen}. {more}"
    if life.told is Told.FAILED_AT_FIRST_LOOK:
        return (
            f"All of {pads} had failed by the first look at them: they last less than that, and "
            "how much less is not known. Look at the next ones sooner."
        )
    failed = f"{life.failed} of {pads} {'was' if life.failed == 1 else 'were'} found unsound"
    if life.told is Told.TOO_FEW_FAILED:
        return f"{failed}, the longest sound for {hours} h. {more}"
    still = life.pads - life.failed
    return f"{failed}; {still} {'was' if still == 1 else 'were'} sound when last seen."


def figures_of(life: LotLife, along: str) -> SurvivalFigures:
    """Return what the drawing of a life shows, in percent."""
    assert life.curve is not None
    places, law = life.curve.places, life.weibull
    last_hours = places[-1].hours
    return SurvivalFigures(
        along=along,
        # Beyond, all that is known of the share is its band: a line down to nothing would mislead.
        line=tuple(
            (place.hours, 100.0 * place.share)
            for place in places
            if place.hours <= life.longest_hours
        ),
        low=tuple((place.hours, 100.0 * place.low) for place in places),
        high=tuple((place.hours, 100.0 * place.high) for place in places),
        law=tuple(
            (hours, 100.0 * law.share_after(hours))
            for hours in (last_hours * piece / PIECES for piece in range(PIECES + 1))
        )
        if law
        else (),
        holds=life.curve.method is Method.KAPLAN_MEIER,
    )
