"""How many pads of each lot a yard is expected to lose until a day, by the hours planned."""

from __future__ import annotations

from collections.abc import Iterable
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


def expected_by_yard(yards: Iterable[Yard], until: date) -> dict[int, list[ExpectedPads]]:
    """Return how many sound pads of each lot fitted in the units of each yard are to fail until a
    day, by the key of the yard.

    What that rests on is read once for all yards: the lives of a lot are those of the whole fleet.
    A lot with any pad that can't be forecast is told with the reason, and no figure: a part would
    be taken for the whole. Raises ValueError for a day that is past.
    """
    today = clock.today()
    if until < today:
        raise ValueError(f"until is {until}, a day past: give today or later")
    keys: dict[int, list[int]] = {each.pk: [] for each in yards}
    units = [each for each in housings_in_use(today) if each.yard_id in keys]
    for unit in units:
        keys[unit.yard_id].append(unit.pk)
    records = Records(units)
    return {yard: _expected_of(records, each, until) for yard, each in keys.items()}


def _expected_of(records: Records, keys: Iterable[int], until: date) -> list[ExpectedPads]:
    """Return what pads of some of the units of these records are expected to fail."""
    pads: dict[str, list[tuple[SoundPad, float]]] = {}
    why_not: dict[str, str] = {}
    for key in keys:
        unit, entry = records.housings[key], records.entries.get(key)
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
    return [
        _expected(lot, pads.get(lot.mark, []), records, why_not.get(lot.mark, ""), until)
        for lot in records.lots_in_order
        if lot.mark in pads or lot.mark in why_not
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
