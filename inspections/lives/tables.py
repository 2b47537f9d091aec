from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.dates import day_words
from fleet.models import PadLot, SuppressorHousing
from fleet.quantities import plain_number
from fleet.tables import Column, DayColumn, RecordsTable, TemplateColumn
from inspections.count.submission import position_name
from inspections.lives.history import FOUND_GONE, Ending
from inspections.lives.lot_lives import OtherLot, PadRecord
from ratings.mechanics.survival import LotLife

# Shares failed of which the life is told.
TENTH, HALF = 0.1, 0.5
DIFFER = 0.05


def is_guessed(life: LotLife, share: float) -> bool:
    """Say whether a life lies beyond what any look reached, so that only the law tells it."""
    return life.weibull is not None and life.weibull.life_hours(share) > life.longest_hours


def life_words(life: LotLife, share: float) -> str:
    """Say after how many hours a share has failed, with its band; "" where no law was fitted.

    A life beyond what any look reached is the law's guess, and is called so.
    """
    if life.weibull is None:
        return ""
    hours = life.weibull.life_hours(share)
    low, high = (plain_number(each, 0) for each in life.weibull.life_band(share))
    words = f"{plain_number(hours, 0)} h ({low} to {high})"
    if not is_guessed(life, share):
        return words
    return f"{words}; only guessed, beyond the {plain_number(life.longest_hours, 0)} h seen"


def ageing_words(life: LotLife) -> str:
    """Say whether pads fail oftener as they age, where so many failures tell it."""
    if life.weibull is None:
        return ""
    low, high = life.weibull.shape_band()
    if low > 1.0:
        return "they fail oftener as they age"
    if high < 1.0:
        return "they fail less often as they age"
    return "whether they fail oftener as they age can’t be told yet"


class PadRow:
    """A pad as a row: where it is or was, since when, what it worked and how it ended."""

    def __init__(
        self, record: PadRecord, lots: dict[int, PadLot], housings: dict[int, SuppressorHousing]
    ) -> None:
        time = record.time
        self.record, self.time = record, time
        self.housing = housings[time.housing_id]
        self.lot = None if time.lot_id is None else lots.get(time.lot_id)
        self.position = position_name(time.key)
        self.place = (time.key, time.since)
        self.mark = self.housing.mark
        self.lot_mark = self.lot.mark if self.lot else ""
        self.since = time.since
        self.worked = record.worked.high_hours if record.worked else None
        self.looks = len(time.looks)
        self.ended = time.ending.label


def pad_rows(records: Iterable[PadRecord]) -> list[PadRow]:
    """Return a row for each pad. Two queries."""
    listed = list(records)
    lots = PadLot.objects.in_bulk({each.time.lot_id for each in listed if each.time.lot_id})
    housings = SuppressorHousing.objects.in_bulk({each.time.housing_id for each in listed})
    return [PadRow(each, lots, housings) for each in listed]


class PadTimeTable(RecordsTable):
    """Every pad that was ever in a housing."""

    caption = "Pads over time"
    anchor = "pads-over-time"
    own_prefix = "pads-"
    empty_words = "None on record: the pads of this housing were never counted."
    dated_by = ("since", "time__ended_at")

    position = Column("Position", order_by=("place",))
    lot = Column("Lot", accessor="lot_mark")
    since = DayColumn("Since")
    worked = Column("Hours since", css="number", empty_values=())
    looks = TemplateColumn("lives/looks.html", "Looks")
    ended = Column("How it ended")

    def render_lot(self, record: PadRow) -> SafeString | str:
        if record.lot is None:
            return "not known"
        return format_html(
            '<a class="nowrap" href="{}">{}</a>', reverse("lot", args=[record.lot.pk]), record.lot
        )

    def render_since(self, record: PadRow) -> SafeString:
        words = "fitted" if record.time.fitted_at else "first counted"
        return format_html('{} <span class="nowrap">{}</span>', words, day_words(record.since))

    def render_worked(self, record: PadRow) -> str:
        return record.record.worked.words if record.record.worked else "not known"

    def render_ended(self, record: PadRow) -> SafeString | str:
        return ending_words(record.record)

    def cell_context(self, record: PadRow) -> dict[str, Any]:
        return {"row": record}


class LotPadTable(PadTimeTable):
    """Every pad of one lot that was ever in a housing."""

    caption = "Its pads over time"
    empty_words = "None on record: none of its pads was ever fitted or counted."

    housing = Column("Housing", accessor="mark")

    class Meta:
        sequence = ("housing", "...")
        exclude = ("lot",)

    def render_housing(self, record: PadRow) -> SafeString:
        url = reverse("unit-pads", args=[record.housing.pk])
        return format_html('<a href="{}">{}</a>', url, record.housing)


def ending_words(record: PadRecord) -> str:
    """Say how the time of a pad in its place ended."""
    time = record.time
    if time.ended_at is None:
        return "still in, sound"
    day = day_words(time.ended_at)
    if time.ending in FOUND_GONE:
        after = time.last_sound_at
        between = f", last known sound {day_words(after)}" if after else " by its first count"
        still = "; not replaced" if time.is_in else ""
        unknown = "; failed or taken out is not on record"
        why = unknown if time.ending is Ending.MISSING else ""
        return f"found {time.condition} {day}{between}{why}{still}"
    if time.ending is Ending.DOUBTFUL:
        return f"found {time.condition} {day}, then sound with no new pad on record"
    return f"{time.ending.label}, {day}"


class OtherLotTable(RecordsTable):
    """Other lots whose life can be told, beside this one."""

    caption = "Beside other lots"
    anchor = "other-lots"
    empty_words = "No other lot has had enough failures."

    lot = Column("Lot", orderable=False)
    failed = Column("Failed", empty_values=(), orderable=False)
    tenth = Column("One in ten failed after", empty_values=(), orderable=False)
    half = Column("Half failed after", empty_values=(), orderable=False)
    differs = Column("Does it last alike?", empty_values=(), orderable=False)

    def render_lot(self, record: OtherLot) -> SafeString:
        url = reverse("lot-life", args=[record.lot.pk])
        return format_html('<a class="nowrap" href="{}">{}</a>', url, record.lot)

    def render_failed(self, record: OtherLot) -> str:
        return f"{record.told.failed} of {record.told.pads}"

    def render_tenth(self, record: OtherLot) -> str:
        return life_words(record.told, TENTH) or "not told"

    def render_half(self, record: OtherLot) -> str:
        return life_words(record.told, HALF) or "not told"

    def render_differs(self, record: OtherLot) -> str:
        chance = record.comparison.p_value
        odds = "below 0.1 %" if chance < 0.001 else f"{plain_number(100 * chance, 1)} %"
        if chance < DIFFER:
            return f"no: alike lots would differ so with a chance of {odds}"
        return f"no difference shown: alike lots would differ so with a chance of {odds}"
