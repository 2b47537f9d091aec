from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.dates import day_words
from fleet.models import SuppressorHousing
from fleet.quantities import chance_words, plain_number
from fleet.tables import (
    Column,
    DayColumn,
    MomentColumn,
    PersonColumn,
    RecordsTable,
    TemplateColumn,
)
from inspections.forecast.forecasting import HORIZONS, NEAR, Made
from inspections.forecast.replay import Row
from inspections.models import Forecast, PlannedHours
from ratings.mechanics.standing import Standing


def percent_words(chance: float) -> str:
    """Return a chance in whole percent, never rounded to none or to all."""
    if chance <= 0.0:
        return "0 %"
    if chance < 0.005:
        return "below 1 %"
    # A hair below one is one: the sums are of floats.
    if 0.995 < chance < 1.0 - 1e-9:
        return "over 99 %"
    return f"{plain_number(100.0 * chance, 0)} %"


def lost_words(lost: Sequence[Any] | None) -> str:
    """Return how many pads are lost, with the band."""
    if lost is None:
        return ""
    expected, low, high = lost
    words = "below 0.1" if 0.0 < expected < 0.05 else plain_number(expected, 1)
    return f"{words} ({low} to {high})"


def horizon_rows(document: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the days a forecast looks ahead to, in words."""
    return [horizon_row(each) for each in document["horizons"]]


def days_ahead(document: Mapping[str, Any]) -> list[str]:
    """Say of each day a forecast looks ahead to how likely the unit is to stand, and pads lost."""
    return [
        f"within {each['days']} days can’t be told, because {each['why_not']}"
        if each["why_not"]
        else f"within {each['days']} days: meets its listing {each['meets']}, not proven "
        f"{each['not_proven']}, below {each['below']}; pads lost {each['lost']}"
        for each in horizon_rows(document)
    ]


def horizon_row(each: Mapping[str, Any]) -> dict[str, Any]:
    """Return one day ahead, in words."""
    short = each["not_proven"] + each["below"]
    day = date.fromisoformat(each["day"])
    made_on = day - timedelta(days=each["days"])
    return {
        "days": each["days"],
        "day": day_words(day),
        "hours": plain_number(each["hours"], 0),
        "by": each["by"],
        "why_not": each["why_not"],
        "meets": percent_words(each["meets"]),
        "not_proven": percent_words(each["not_proven"]),
        "below": percent_words(each["below"]),
        "short": chance_words(short),
        "short_band": f"{percent_words(each['short_low'])} to {percent_words(each['short_high'])}",
        "is_in_doubt": each["short_high"] - each["short_low"] > 0.005,
        "is_guessed": each["is_guessed"],
        "lost": lost_words(each["lost"]),
        "lost_by_lot": [(lot, lost_words(lost)) for lot, *lost in each["lost_by_lot"]],
        "lapsed": [
            (lot, day_words(lapse_on), lapse_on <= made_on)
            for lot, lapse_on in ((lot, date.fromisoformat(day)) for lot, day in each["lapsed"])
        ],
    }


@dataclass(frozen=True)
class UnitRow:
    """A unit in the list of the fleet's forecasts.

    is_out: out of service today. is_spare: its housing hangs on no hammer today.
    """

    housing: SuppressorHousing
    made: Made
    is_out: bool = False
    is_spare: bool = False

    @property
    def mark(self) -> str:
        return str(self.housing.mark)

    @property
    def is_short(self) -> bool:
        return bool(self.made.document["standing"] != Standing.MEETS_LISTING.value)

    @property
    def near(self) -> float:
        """By which the list goes: the chance to fall short; those that can't be told come last."""
        short = self.made.short(NEAR)
        return -1.0 if short is None else short

    @property
    def order(self) -> tuple[bool, bool, float, str]:
        return self.near < 0.0, self.is_short, -self.near, self.housing.mark

    def horizon(self, days: int) -> Mapping[str, Any] | None:
        for each in self.made.document["horizons"]:
            if each["days"] == days and not each["why_not"]:
                found: Mapping[str, Any] = each
                return found
        return None


class UnitForecastTable(RecordsTable):
    """The units, those likeliest to fall short soon first, then those short already."""

    caption = "Units by their chance to fall short"
    anchor = "units"
    empty_words = "No unit is in use here."

    unit = Column("Unit", empty_values=(), order_by=("mark",))
    now = TemplateColumn("forecast/now.html", "Now", orderable=False)
    short_30 = Column("Short within 30 days", css="number", empty_values=(), orderable=False)
    short_90 = Column("Within 90 days", css="number", empty_values=(), order_by=("near",))
    short_180 = Column("Within 180 days", css="number", empty_values=(), orderable=False)
    lost = Column("Pads lost in 90 days", css="number", empty_values=(), orderable=False)
    note = Column("To know", empty_values=(), orderable=False)

    def render_unit(self, record: UnitRow) -> SafeString:
        url = reverse("unit-forecast", args=[record.housing.pk])
        return format_html('<a class="nowrap" href="{}">{}</a>', url, record.housing)

    def cell_context(self, record: UnitRow) -> dict[str, Any]:
        return {"row": record, "standing": Standing(record.made.document["standing"])}

    def _short(self, record: UnitRow, days: int) -> str:
        short = record.made.short(days)
        if short is None:
            return "not told"
        return "short today" if record.is_short else percent_words(short)

    def render_short_30(self, record: UnitRow) -> str:
        return self._short(record, HORIZONS[0])

    def render_short_90(self, record: UnitRow) -> str:
        return self._short(record, HORIZONS[1])

    def render_short_180(self, record: UnitRow) -> str:
        return self._short(record, HORIZONS[2])

    def render_lost(self, record: UnitRow) -> str:
        horizon = record.horizon(NEAR)
        return "not told" if horizon is None else lost_words(horizon["lost"])

    def render_note(self, record: UnitRow) -> str:
        document = record.made.document
        if document["why_not"]:
            return f"can’t be forecast, because {document['why_not']}"
        horizon = record.horizon(HORIZONS[-1])
        lapsed = [] if horizon is None else horizon_row(horizon)["lapsed"]
        notes = [
            f"the rate of lot {lot} lapse{'d' if is_past else 's'} {day}"
            for lot, day, is_past in lapsed
        ]
        return "; ".join([*notes, *filter(None, [document["over"]])]) or "–"


class PlannedHoursTable(RecordsTable):
    """Hours planned for a unit, the newest record first."""

    caption = "Hours planned"
    anchor = "planned"
    own_prefix = "planned-"
    empty_words = "None: the hours of the last year count."
    dated_by = ("first_day", "last_day")

    first_day = DayColumn("From")
    last_day = DayColumn("To")
    hours = Column("Hours", css="number")
    reason = Column("How it is known")
    recorded_at = MomentColumn("Recorded")
    by = PersonColumn("By")

    def render_hours(self, record: PlannedHours) -> str:
        if not record.hours:
            return "stands still"
        return f"{plain_number(record.hours, 1)} h {record.get_per_display()}"


class KeptForecastTable(RecordsTable):
    """Forecasts kept of a unit, the newest first."""

    caption = "Forecasts kept"
    anchor = "kept"
    own_prefix = "kept-"
    empty_words = "None yet."
    dated_by = ("made_on",)

    made_on = Column("Made", linkify=lambda record: reverse("forecast", args=[record.pk]))
    short = Column("Short within 90 days", css="number", empty_values=(), orderable=False)
    lost = Column("Pads lost in 90 days", css="number", empty_values=(), orderable=False)
    how = Column("Kept", empty_values=(), orderable=False)
    by = PersonColumn("By")

    def render_made_on(self, record: Forecast) -> str:
        return day_words(record.made_on)

    def _near(self, record: Forecast) -> Mapping[str, Any] | None:
        for each in record.document["horizons"]:
            if each["days"] == NEAR and not each["why_not"]:
                found: Mapping[str, Any] = each
                return found
        return None

    def render_short(self, record: Forecast) -> str:
        near = self._near(record)
        return "not told" if near is None else percent_words(near["not_proven"] + near["below"])

    def render_lost(self, record: Forecast) -> str:
        near = self._near(record)
        return "not told" if near is None else lost_words(near["lost"])

    def render_how(self, record: Forecast) -> str:
        return "by the daily job" if record.month else "by a person"


class HeldTable(RecordsTable):
    """Days that were forecast, beside what came."""

    caption = "Forecast and what came"
    anchor = "held"
    own_prefix = "held-"
    empty_words = "None yet: no day that was forecast is over."
    dated_by = ("made_on",)

    mark = Column("Unit")
    made_on = DayColumn("Made")
    days = Column("Days ahead", css="number")
    short = Column("Chance to be short", css="number")
    came = Column("Came", empty_values=(), orderable=False)
    expected = Column("Pads expected to fail", css="number", empty_values=(), orderable=False)
    failed = Column("Found failed", css="number", empty_values=(), orderable=False)
    counted = Column("By the count of", empty_values=(), orderable=False)

    def render_mark(self, record: Row) -> SafeString:
        url = reverse("unit-forecast", args=[record.housing_id])
        return format_html('<a class="nowrap" href="{}">{}</a>', url, record.mark)

    def render_short(self, record: Row) -> str:
        return "short already" if record.is_short_at_once else percent_words(record.short)

    def render_came(self, record: Row) -> str:
        if isinstance(record.came, str):
            return record.came
        if record.came["standing"] is None:
            return "can’t be told: pads that were taken out would decide it"
        return str(record.came["standing"])

    def render_expected(self, record: Row) -> str:
        return lost_words((record.expected, record.low, record.high))

    def render_failed(self, record: Row) -> str:
        return "–" if isinstance(record.came, str) else str(record.came["failed"])

    def render_counted(self, record: Row) -> str:
        if isinstance(record.came, str):
            return "–"
        return day_words(date.fromisoformat(record.came["counted_on"]))
