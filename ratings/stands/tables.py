"""Stands, their instruments, and what is on record of each, as tables."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import OuterRef, Subquery
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.dates import day_words
from fleet.models import SuppressorHousing
from fleet.quantities import Quantity, plain_number
from fleet.tables import (
    NONE,
    Column,
    DayColumn,
    MeasuredColumn,
    MomentColumn,
    PersonColumn,
    RecordsTable,
)
from ratings.bench.stand_warnings import StandCheck, stand_checks
from ratings.lots.tables import of_each_pad
from ratings.mechanics.agreement import disagree
from ratings.models import (
    BenchTest,
    Gauge,
    GaugeCalibration,
    LotRating,
    RatingPolicy,
    ReferenceCheck,
    ReferencePiece,
    TestStand,
)
from ratings.models.policy import policy_in_force


def strong(words: str) -> SafeString:
    """Return words that must not be overlooked."""
    return format_html("<strong>{}</strong>", words)


def link(name: str, key: int, words: object) -> SafeString:
    """Return a link to the page of a record."""
    return format_html('<a href="{}">{}</a>', reverse(name, args=[key]), words)


def due_words(calibrated_on: date | None, due_on: date | None) -> SafeString | str:
    """Return how an instrument's calibration stands today."""
    if calibrated_on is None or due_on is None:
        return strong("none on record")
    if due_on < timezone.localdate():
        return strong(f"overdue since {day_words(due_on)}")
    return f"due {day_words(due_on)}"


def judged_words(check: StandCheck) -> SafeString | str:
    """Return how a check is judged."""
    if check.judged.is_out:
        return strong("out of its limits")
    return "within its limits" if check.judged.limits else "no limits yet"


class StandTable(RecordsTable):
    """A row for each stand, with its newest check."""

    caption = "Test stands"
    anchor = "stands"
    own_prefix = "stands-"
    empty_words = "No stand is on record. Enter one under Set-up."

    name = Column("Stand")
    yard = Column("Yard", accessor="yard__name")
    bore_measured_on = DayColumn("Bore measured", default="not on record")
    last_check = Column("Last check", empty_values=(), orderable=False)

    def load_page(self, records: list[TestStand]) -> None:
        self.checks = stand_checks({stand.pk for stand in records})

    def render_name(self, record: TestStand) -> SafeString:
        return link("stand", record.pk, record.name)

    def render_last_check(self, record: TestStand) -> SafeString:
        checks = self.checks[record.pk]
        if not checks:
            return strong("never checked by a reference piece")
        return format_html("{}: {}", day_words(checks[-1].at), judged_words(checks[-1]))


class GaugeTable(RecordsTable):
    """A row for each gauge, with how its calibration stands and whether it was found off."""

    caption = "Gauges"
    anchor = "gauges"
    own_prefix = "gauges-"
    empty_words = "No gauge is on record. Enter one under Set-up."

    mark = Column("Gauge")
    yard = Column("Yard", accessor="yard__name")
    span_psi = MeasuredColumn(Quantity.PRESSURE, "Span")
    grade = Column("Grade")
    due_on = Column("Calibration", empty_values=())
    found = Column("As found last", empty_values=(), orderable=False)

    def load_page(self, records: list[Gauge]) -> None:
        standing = GaugeCalibration.objects.standing().filter(gauge__in=records)
        newest: dict[int, GaugeCalibration] = {}
        for each in standing.select_related("gauge").order_by("calibrated_on", "pk"):
            newest[each.gauge_id] = each
        self.newest = newest

    def render_mark(self, record: Gauge) -> SafeString:
        return link("gauge", record.pk, record.mark)

    def render_due_on(self, record: Gauge) -> SafeString | str:
        return due_words(record.calibrated_on, record.due_on)

    def render_found(self, record: Gauge) -> SafeString | str:
        newest = self.newest.get(record.pk)
        return NONE if newest is None else found_words(newest)


def found_words(calibration: GaugeCalibration) -> SafeString | str:
    """Return what a calibration found, with the way to what that touches."""
    if calibration.is_found_off:
        return format_html(
            "<strong>found off</strong>: {}", link("recall", calibration.pk, "what it touched")
        )
    return "not read" if calibration.found_error_psi is None else "within its grade"


@dataclass(frozen=True)
class Tool:
    """A tape or thermometer."""

    kind: str
    mark: str
    yard: str
    certificate: str
    calibrated_on: date | None
    due_on: date | None


class ToolTable(RecordsTable):
    """Tapes and thermometers, with how their calibration stands."""

    caption = "Tapes and thermometers"
    anchor = "tools"
    own_prefix = "tools-"
    empty_words = "None is on record. Enter them under Set-up."

    mark = Column("Mark")
    kind = Column("What")
    yard = Column("Yard")
    certificate = Column("Certificate", default=NONE)
    calibrated_on = DayColumn("Calibrated")
    due_on = Column("Calibration", empty_values=())

    def render_due_on(self, record: Tool) -> SafeString | str:
        return due_words(record.calibrated_on, record.due_on)


class PieceTable(RecordsTable):
    """The reference pieces."""

    caption = "Reference pieces"
    anchor = "pieces"
    own_prefix = "pieces-"
    empty_words = (
        "None is on record. Set a pad or a steel spring aside for nothing else, and enter it under "
        "Set-up."
    )

    mark = Column("Mark")
    kind = Column("Kind", accessor="get_kind_display", order_by="kind")
    yard = Column("Yard", accessor="yard__name")
    note = Column("Note", default="")
    last = DayColumn("Last pulled")

    @classmethod
    def records(cls) -> Any:
        """Return every piece with the moment of its newest check."""
        newest = ReferenceCheck.objects.standing().filter(piece=OuterRef("pk"))
        return ReferencePiece.objects.select_related("yard").annotate(
            last=Subquery(newest.order_by("-checked_at").values("checked_at")[:1])
        )


class CheckTable(RecordsTable):
    """The checks of one stand. judged: each that counts, by its key."""

    caption = "Checks by reference pieces"
    anchor = "checks"
    own_prefix = "checks-"
    empty_words = "None yet: until there is one, every test on this stand says so."
    dated_by = ("checked_at",)

    checked_at = MomentColumn("When")
    piece = Column("Piece", accessor="piece__mark")
    rate_lbf_in = MeasuredColumn(Quantity.RATE, "Rate found")
    limits = Column("Limits", empty_values=(), orderable=False)
    judgement = Column("Judged", empty_values=(), orderable=False)
    temperature_f = MeasuredColumn(Quantity.TEMPERATURE, "Temperature")
    by = PersonColumn("By")

    def __init__(self, *args: Any, judged: dict[int, StandCheck], **kwargs: Any) -> None:
        self.judged = judged
        super().__init__(*args, **kwargs)

    def render_checked_at(self, record: ReferenceCheck) -> SafeString:
        local = timezone.localtime(record.checked_at)
        return link("reference-check", record.pk, f"{local:%-d %b %Y %H:%M}")

    def render_rate_lbf_in(self, value: float) -> str:
        return Quantity.RATE.words(value, self.system, 1)

    def render_limits(self, record: ReferenceCheck) -> str:
        check = self.judged.get(record.pk)
        if check is None or check.judged.limits is None:
            return NONE
        limits, scale = check.judged.limits, Quantity.RATE.scale(self.system)
        bounds = (plain_number(scale.shown(each), 1) for each in (limits.lower, limits.upper))
        return " to ".join(bounds)

    def render_judgement(self, record: ReferenceCheck) -> SafeString | str:
        check = self.judged.get(record.pk)
        return "corrected since" if check is None else judged_words(check)


@dataclass(frozen=True)
class Comparison:
    """The newest checks of one piece on two stands, and their E_n."""

    piece: str
    other: ReferenceCheck
    e_n: float
    shares_gauge: bool


class ComparisonTable(RecordsTable):
    """One stand against the others, by the newest checks of the pieces they share."""

    caption = "Against other stands"
    anchor = "others"
    own_prefix = "others-"
    empty_words = (
        "No reference piece was pulled on this stand and on another. Carry one between them."
    )

    piece = Column("Piece")
    stand = Column("Other stand", accessor="other__stand__name")
    checked_at = DayColumn("Checked there", accessor="other__checked_at")
    rate = MeasuredColumn(Quantity.RATE, "Rate there", accessor="other__rate_lbf_in")
    e_n = Column("E_n", css="number")
    words = Column("Agreement", empty_values=(), orderable=False)

    def render_stand(self, record: Comparison) -> SafeString:
        return link("stand", record.other.stand_id, record.other.stand.name)

    def render_e_n(self, value: float) -> str:
        return f"{value:+.2f}"

    def render_words(self, record: Comparison) -> SafeString | str:
        words = strong("they disagree") if disagree(record.e_n) else "they agree"
        if record.shares_gauge:
            return format_html("{}, but read on one gauge: its error does not show", words)
        return words


class CalibrationTable(RecordsTable):
    """The certificates of one gauge."""

    caption = "Certificates"
    anchor = "certificates"
    own_prefix = "certificates-"
    empty_words = "None on record: its grade counts, by the dates in the set-up."
    dated_by = ("calibrated_on",)

    calibrated_on = DayColumn("Calibrated")
    certificate_number = Column("Certificate")
    due_on = DayColumn("Due")
    points = Column("Points", empty_values=(), css="number", orderable=False)
    found = Column("As found", empty_values=(), orderable=False)
    by = PersonColumn("Recorded by")

    def render_certificate_number(self, record: GaugeCalibration) -> SafeString:
        return link("gauge-calibration", record.pk, record.certificate_number)

    def render_points(self, record: GaugeCalibration) -> str:
        return str(len(record.points))

    def render_found(self, record: GaugeCalibration) -> SafeString | str:
        return "corrected since" if hasattr(record, "corrected_by") else found_words(record)


class TouchedTestTable(RecordsTable):
    """The bench tests that a gauge touched."""

    caption = "Bench tests"
    anchor = "tests"
    own_prefix = "tests-"
    empty_words = "None: nothing was tested on it since the calibration before."
    dated_by = ("tested_at",)

    pk = Column("Test")
    lot = Column("Lot", accessor="lot__mark")
    tested_at = DayColumn("Tested")
    stand = Column("Stand", accessor="stand__name")
    remark = Column("Remark", empty_values=(), orderable=False)

    def render_pk(self, record: BenchTest) -> SafeString:
        return link("bench-test", record.pk, f"Bench test {record.pk}")

    def render_lot(self, record: BenchTest) -> SafeString:
        return link("lot", record.lot_id, record.lot.mark)

    def render_remark(self, record: BenchTest) -> str:
        remarks = [] if record.is_for_rating else ["rates nothing"]
        if hasattr(record, "corrected_by"):
            remarks.append("corrected since")
        return ", ".join(remarks)


class TouchedCheckTable(RecordsTable):
    """The checks by reference pieces that a gauge touched."""

    caption = "Checks by reference pieces"
    anchor = "checks"
    own_prefix = "checks-"
    empty_words = "None: no reference piece was pulled on it since the calibration before."
    dated_by = ("checked_at",)

    checked_at = MomentColumn("When")
    piece = Column("Piece", accessor="piece__mark")
    stand = Column("Stand", accessor="stand__name")
    rate_lbf_in = MeasuredColumn(Quantity.RATE, "Rate found")
    remark = Column("Remark", empty_values=(), orderable=False)

    def render_checked_at(self, record: ReferenceCheck) -> SafeString:
        local = timezone.localtime(record.checked_at)
        return link("reference-check", record.pk, f"{local:%-d %b %Y %H:%M}")

    def render_rate_lbf_in(self, value: float) -> str:
        return Quantity.RATE.words(value, self.system, 1)

    def render_remark(self, record: ReferenceCheck) -> str:
        return "corrected since" if hasattr(record, "corrected_by") else ""


class TouchedRatingTable(RecordsTable):
    """The ratings that rest on tests a gauge touched."""

    caption = "Ratings of lots"
    anchor = "ratings"
    own_prefix = "ratings-"
    empty_words = "None rests on these tests."

    pk = Column("Rating")
    lot = Column("Lot", accessor="lot__mark")
    rate_lbf_in = Column("Each pad")
    state = Column("State", orderable=False)

    def load_page(self, records: list[LotRating]) -> None:
        lots = {record.lot_id for record in records}
        self.in_force = {each.pk for each in LotRating.objects.in_force_by_lot(lots).values()}
        self.limit_pct = policy_in_force(RatingPolicy.objects.first()).linearity_limit_pct

    def render_rate_lbf_in(self, record: LotRating) -> str:
        return of_each_pad(record, self.limit_pct, self.system)

    def render_pk(self, record: LotRating) -> SafeString:
        return link("lot-rating", record.pk, f"Rating {record.pk}")

    def render_lot(self, record: LotRating) -> SafeString:
        return link("lot", record.lot_id, record.lot.mark)

    def render_state(self, record: LotRating, value: str) -> SafeString | str:
        if record.pk not in self.in_force:
            return value
        return format_html("{}, <strong>in use</strong>", value)


class TouchedUnitTable(RecordsTable):
    """The units that a touched rating has rated, or that hold pads of such a lot."""

    caption = "Units"
    anchor = "units"
    own_prefix = "units-"
    empty_words = "None was rated by it or holds such pads."

    mark = Column("Housing")
    yard = Column("Yard", accessor="yard__name")
    holds = Column("Now", empty_values=(), orderable=False)

    def render_mark(self, record: SuppressorHousing) -> SafeString:
        return link("unit", record.pk, record.mark)

    def render_holds(self, record: Any) -> SafeString | str:
        return strong("holds such pads") if record.holds else "holds none of them any more"
