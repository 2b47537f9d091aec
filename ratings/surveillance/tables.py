from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.quantities import Quantity, plain_number
from fleet.tables import ChangesTable, Column, DayColumn, MeasuredColumn, RecordsTable
from ratings.models import BenchPad, SurveillancePlan
from ratings.surveillance.draws import DrawsDue
from ratings.surveillance.trends import LotTrend, PadTest


class PlanTable(ChangesTable):
    """Every plan there was, of one lot or of all."""

    anchor = "plans"
    own_prefix = "plans-"
    caption = "Earlier plans"
    empty_words = "None: no plan was ever made."

    pads_a_year = Column("Pads a year", css="number", empty_values=(), orderable=False)

    def render_pads_a_year(self, record: SurveillancePlan) -> str:
        return "as for all" if record.pads_a_year is None else str(record.pads_a_year)


@dataclass(frozen=True)
class DrawnRow:
    """One pad of a test of pads from service."""

    pad: BenchPad
    made: PadTest

    @property
    def mark(self) -> str:
        return self.pad.mark

    @property
    def housing(self) -> str:
        return self.pad.housing.mark if self.pad.housing else ""

    @property
    def hours(self) -> float | None:
        hours: float | None = self.pad.hours
        return hours

    @property
    def fate(self) -> str:
        return self.pad.fate

    @property
    def tested(self) -> date:
        return self.made.day

    @property
    def age_years(self) -> float:
        return self.made.age_years

    @property
    def rate_lbf_in(self) -> float:
        return self.made.rate_lbf_in


def drawn_rows(trend: LotTrend) -> list[DrawnRow]:
    """Return every pad from service of a lot, the last tested first."""
    return [
        DrawnRow(pad, made)
        for made in reversed(trend.tests)
        for pad in made.pads
        if pad.origin == BenchPad.Origin.FROM_SERVICE
    ]


class DrawnPadTable(RecordsTable):
    """A row for each pad of a lot that was tested from service."""

    caption = "Pads drawn from service"
    anchor = "drawn"
    own_prefix = "drawn-"
    empty_words = "None yet. Draw a pad, bench-test it, and say there that it came from service."
    dated_by = ("tested",)

    mark = Column("Pad", empty_values=())
    housing = Column("Out of", empty_values=())
    hours = Column("Hours", css="number", default="not read")
    age_years = Column("Age, years", css="number")
    rate_lbf_in = MeasuredColumn(Quantity.RATE, "Rate", css="number")
    tested = DayColumn("Tested")
    fate = Column("Then", empty_values=())

    def render_mark(self, record: DrawnRow) -> str:
        return record.mark or "no mark"

    def render_housing(self, record: DrawnRow) -> SafeString | str:
        if record.pad.housing_id is None:
            return "not said"
        url = reverse("unit", args=[record.pad.housing_id])
        return format_html('<a href="{}">{}</a> {}', url, record.housing, record.pad.place)

    def render_hours(self, value: float) -> str:
        return plain_number(value, 0)

    def render_age_years(self, value: float) -> str:
        return f"{value:.1f}"

    def render_rate_lbf_in(self, record: DrawnRow, value: float) -> str:
        many = record.made.test.pads_in_test
        words = Quantity.RATE.words(value, self.system)
        return words if many == 1 else f"{words} (mean of {many})"

    def render_tested(self, record: DrawnRow) -> SafeString:
        test = record.made.test
        return format_html(
            '<a href="{}"><span class="nowrap">{}</span></a>{}',
            reverse("bench-test", args=[test.pk]),
            DayColumn().render(record.tested),
            "" if test.is_for_rating else format_html("<br><strong>{}</strong>", "not for rating"),
        )

    def render_fate(self, record: DrawnRow) -> str:
        return record.fate or "not said"


class DrawsDueTable(RecordsTable):
    """A row for each lot of which pads are to be drawn. The records come from draws_due."""

    caption = "Pads to draw from service"
    anchor = "draws"
    own_prefix = "draws-"
    empty_words = "None within a month."

    lot = Column("Lot", accessor="lot__mark")
    stands = Column("How it stands", accessor="due_on")
    fitted = Column("Fitted", css="number")
    a_year = Column("Pads a year", css="number", accessor="plan__pads_a_year")

    def render_lot(self, record: DrawsDue) -> SafeString:
        return format_html(
            '<a href="{}#drawn"><strong>{}</strong></a>',
            reverse("lot", args=[record.lot.pk]),
            record.lot.mark,
        )

    def render_stands(self, record: DrawsDue) -> SafeString | str:
        if not record.is_overdue:
            return record.words
        return format_html('<strong class="error">overdue</strong>: {}', record.words)
