"""How many pads of each lot a yard is expected to lose until a day, by the hours planned."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from fleet import clock
from fleet.dates import day_words
from fleet.models import PadLot, Yard
from inspections.forecast.forecasting import Records, housings_in_use
from ratings.mechanics.pad_forecast import LotLaw, NoLaw, SoundPad, lost_pads


@dataclass(frozen=True)
class ExpectedPads:
    """Pads of one lot expected to fail, with the band in which nine in ten outcomes lie.

    Those that are unsound today are not among them. expected, low, high: None where it can't be
    forecast. reason: what it goes by, or why it can't be.
    """

    lot: PadLot
    expected: float | None
    low: int | None
    high: int | None
    reason: str


def expected_pads(yard: Yard | None, until: date) -> list[ExpectedPads]:
    """Return how many sound pads of each lot fitted in the units of a yard are to fail until a day.

    yard: None for all yards. A lot with any pad that can't be forecast is told with the reason,
    and no figure: a part would be taken for the whole. Raises ValueError for a day that is past.
    """
    today = clock.today()
    if until < today:
        raise ValueError(f"until is {until}, a day past: give today or later")
    units = [each for each in housings_in_use(today) if yard is None or each.yard_id == yard.pk]
    records = Records(units)
    pads: dict[str, list[tuple[SoundPad, float]]] = {}
    why_not: dict[str, str] = {}
    for key, unit in records.housings.items():
        entry = records.entries.get(key)
        if entry is None:
            continue
        fitted = {
            each["lot"] for each in entry.inputs["positions"] if each["condition"] == "sound"
        } - {None}
        ahead = records.ahead[key].by(until)
        sound = records.sound_pads(key)
        if isinstance(sound, str) or ahead is None:
            why = sound if isinstance(sound, str) else "how much it will work is not known"
            for mark in fitted:
                why_not.setdefault(mark, f"unit {unit.mark}: {why}")
            continue
        for pad in sound:
            if pad.lot:
                pads.setdefault(pad.lot, []).append((pad, ahead))
    lots = {each.mark: each for each in PadLot.objects.filter(mark__in={*pads, *why_not})}
    return [
        _expected(lots[mark], pads.get(mark, []), records, why_not.get(mark, ""), until)
        for mark in sorted(lots)
    ]


def _expected(
    lot: PadLot,
    pads: list[tuple[SoundPad, float]],
    records: Records,
    why_not: str,
    until: date,
) -> ExpectedPads:
    if why_not:
        return ExpectedPads(lot, None, None, None, f"cannot be forecast: {why_not}")
    laws: dict[str, LotLaw | NoLaw] = records.laws.by_name
    lost = lost_pads(pads, laws)
    if isinstance(lost, str):
        return ExpectedPads(lot, None, None, None, f"cannot be forecast, because {lost}")
    by = sorted({law.basis for pad, _ in pads if isinstance(law := laws[pad.law], LotLaw)})
    words = f"{len(pads)} sound pads until {day_words(until)}, by {'; '.join(by)}"
    return ExpectedPads(lot, lost.expected, lost.low, lost.high, words)
