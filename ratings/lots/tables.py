"""Lots, and what is on record of one of them, as tables."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import django_filters
from django.db.models import Count, F, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from fleet.dates import day_words
from fleet.models import LotCorrection, PadLot, PadPosition, PadPrice, StockMove, SuppressorHousing
from fleet.models.measured_fields import measured_field
from fleet.quantities import (
    Quantity,
    capacity_words,
    change_words,
    count_change_words,
    money,
    plain_number,
    pull_words,
)
from fleet.tables import (
    NONE,
    Column,
    DayColumn,
    MeasuredColumn,
    MomentColumn,
    PersonColumn,
    RecordsFilter,
    RecordsTable,
)
from ratings.lots.comparison import effects_of
from ratings.lots.correcting import BEFORE
from ratings.models import BenchTest, LedgerEntry, LotRating, RatingPolicy, RatingState
from ratings.models.policy import policy_in_force
from ratings.surveillance.words import softenings


def lots_with_rating() -> QuerySet[PadLot]:
    """Return every lot with the figures of its rating in force and how many pads are fitted."""
    in_force = LotRating.objects.in_force().filter(lot=OuterRef("pk")).order_by("-approval__pk")
    names = ("rate_lbf_in", "tested_stretch_in", "linearity_error_pct", "tested_at")
    lots: QuerySet[PadLot] = PadLot.objects.annotate(
        fitted=_fitted(Q()),
        sound=_fitted(Q(condition="sound")),
        **{name: Subquery(in_force.values(name)[:1]) for name in names},
    )
    return lots


def _fitted(which: Q) -> Coalesce:
    there = PadPosition.objects.filter(which, lot=OuterRef("pk")).order_by().values("lot")
    return Coalesce(Subquery(there.annotate(many=Count("pk")).values("many")), 0)


def of_each_pad(rating: LotRating, limit_pct: float, system: str) -> str:
    """Return the rate of a straight lot in words; of a bent one the force where it was tested to.

    limit_pct: the bend, % of its largest force, up to which a lot is called straight.
    """
    if rating.bend_pct <= limit_pct:
        return Quantity.RATE.words(rating.rate_lbf_in, system)
    stretch_in, force_lbf = rating.quarters[-1]
    return (
        f"{Quantity.FORCE.words(force_lbf, system)} at {Quantity.LENGTH.words(stretch_in, system)}"
    )


class LotTable(RecordsTable):
    """A row for each lot. The records come from lots_with_rating."""

    caption = "Pad lots"
    empty_words = "No lot is on record. Enter one, record what was received, then bench-test it."
    nothing_found = "No lot matches: clear the filters."

    mark = Column("Lot")
    rate_lbf_in = Column("Each pad", empty_values=())
    tested_stretch_in = MeasuredColumn(Quantity.LENGTH, "Tested to")
    linearity_error_pct = Column("Load curve")
    tested_at = DayColumn("Tested")
    in_stock = Column("In stock", css="number")
    fitted = Column("Fitted", css="number")

    def load_page(self, records: list[PadLot]) -> None:
        # The last of a lot is written last, and so stays.
        waiting = LotRating.objects.waiting().filter(lot__in=[lot.pk for lot in records])
        self.drafts = {draft.lot_id: draft for draft in waiting}
        self.limit_pct = policy_in_force(RatingPolicy.objects.first()).linearity_limit_pct
        in_force = LotRating.objects.in_force().filter(lot__in=[lot.pk for lot in records])
        # The one that counts last of its lot is written last, and so stays.
        self.ratings = {rating.lot_id: rating for rating in in_force}
        self.today = timezone.localdate()
        self.softening = {each.lot.pk for each in softenings([lot.pk for lot in records])}

    def render_mark(self, record: PadLot) -> SafeString:
        return format_html(
            '<a href="{}"><strong>{}</strong></a>{}',
            reverse("lot", args=[record.pk]),
            record.mark,
            format_html("<br><strong>out of use</strong> since {}", day_words(record.retired_on))
            if record.retired_on
            else _below(record.supplier),
        )

    def render_rate_lbf_in(self, record: Any, value: float | None) -> SafeString:
        draft = self.drafts.get(record.pk)
        link = reverse("lot-rating", args=[draft.pk]) if draft else ""
        if value is None:
            until = "it is bench-tested"
            if draft:
                until = format_html(
                    'a second person approves <a href="{}">the rating drafted</a>', link
                )
            return format_html("<strong>unrated</strong>: its pads add nothing until {}", until)
        newer = ""
        if draft:
            newer = format_html(
                '<br><a class="small" href="{}">a newer one waits for approval</a>', link
            )
        softer: SafeString | str = ""
        if record.pk in self.softening:
            page = reverse("lot", args=[record.pk])
            softer = format_html('<br><a class="error" href="{}#drawn">softens</a>', page)
        return format_html(
            "{}{}{}",
            of_each_pad(self.ratings[record.pk], self.limit_pct, self.system),
            softer,
            newer,
        )

    def render_linearity_error_pct(self, record: PadLot) -> str | SafeString:
        is_straight = self.ratings[record.pk].bend_pct <= self.limit_pct
        return "linear" if is_straight else format_html("<strong>{}</strong>", "not linear")

    def render_in_stock(self, record: PadLot) -> SafeString:
        warnings = []
        if record.needs_reorder:
            warnings.append(("order more",))
        if record.use_by and record.use_by < self.today and record.retired_on is None:
            warnings.append(("past use-by",))
        return format_html(
            "{}{}",
            record.in_stock,
            format_html_join("", '<br><strong class="error">{}</strong>', warnings),
        )

    def render_fitted(self, record: Any) -> str:
        all_sound = record.fitted == record.sound
        return str(record.fitted) if all_sound else f"{record.fitted} ({record.sound} sound)"


def _strong(words: str) -> SafeString:
    return format_html("<strong>{}</strong>", words)


def _below(words: str) -> SafeString | str:
    return format_html('<br><span class="small faint">{}</span>', words) if words else ""


class LotFilter(RecordsFilter):
    """Narrow the lots by a word, by whether they are rated, or by what must be done."""

    hint = "mark or supplier"
    searched = ("mark", "supplier")

    state = django_filters.ChoiceFilter(
        label="State",
        empty_label="any in use",
        choices=[
            ("rated", "rated"),
            ("unrated", "unrated"),
            ("draft", "draft to approve"),
            ("order", "order more"),
            ("old", "past use-by"),
            ("gone", "out of use"),
        ],
        method="filter_state",
    )

    @property
    def qs(self) -> QuerySet[Any]:
        """Those asked for; of the lots out of use only where they are asked for, or one by name."""
        lots: QuerySet[Any] = super().qs
        asked = self.form.cleaned_data if self.form.is_valid() else {}
        is_shown = asked.get("state") == "gone" or asked.get("search")
        return lots if is_shown else lots.filter(retired_on__isnull=True)

    def filter_state(self, lots: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        return lots.filter(
            {
                "rated": Q(rate_lbf_in__isnull=False),
                "unrated": Q(rate_lbf_in__isnull=True),
                "draft": Q(pk__in=LotRating.objects.waiting().order_by().values("lot")),
                "order": Q(in_stock__lte=F("reorder_point")),
                "old": Q(use_by__lt=timezone.localdate()),
                "gone": Q(retired_on__isnull=False),
            }[value]
        )


class LotRatingTable(RecordsTable):
    """The ratings of one lot. in_use: the key of the one in force."""

    caption = "Ratings"
    anchor = "ratings"
    own_prefix = "ratings-"
    empty_words = (
        "No rating yet. Record a bench test; a second person approves the rating it drafts."
    )
    dated_by = ("recorded_at",)

    pk = Column("Rating")
    rate_lbf_in = Column("Each pad")
    state = Column("State", orderable=False)
    recorded_at = DayColumn("Drafted")
    by = PersonColumn("By")

    def __init__(self, *args: Any, in_use: int | None, **kwargs: Any) -> None:
        self.in_use = in_use
        self.limit_pct = policy_in_force(RatingPolicy.objects.first()).linearity_limit_pct
        super().__init__(*args, **kwargs)

    def render_rate_lbf_in(self, record: LotRating) -> str:
        return of_each_pad(record, self.limit_pct, self.system)

    def render_pk(self, record: LotRating) -> SafeString:
        url = reverse("lot-rating", args=[record.pk])
        return format_html('<a href="{}">Rating {}</a>', url, record.pk)

    def render_state(self, record: LotRating, value: RatingState) -> SafeString | str:
        if record.pk == self.in_use:
            return format_html("{}, <strong>in use</strong>", value)
        if value == RatingState.DRAFT:
            return format_html("{}, <strong>{}</strong>", value, "waits for approval")
        return format_html('<span class="faint">{}</span>', value) if value.is_dead_draft else value


class LotTestTable(RecordsTable):
    """The bench tests of one lot."""

    caption = "Bench tests"
    anchor = "tests"
    own_prefix = "tests-"
    empty_words = (
        "No bench test yet. Until there is one, pads of this lot add nothing to any unit’s "
        "line pull."
    )
    dated_by = ("tested_at",)

    pk = Column("Test")
    tested_at = DayColumn("Tested")
    pads_in_test = Column("Pads", css="number")
    stand = Column("Stand", accessor="stand__name")
    by = PersonColumn("By")
    remark = Column("Remark", empty_values=(), orderable=False)

    def render_pk(self, record: BenchTest) -> SafeString:
        url = reverse("bench-test", args=[record.pk])
        return format_html('<a href="{}">Bench test {}</a>', url, record.pk)

    def render_remark(self, record: BenchTest) -> SafeString:
        remarks: list[str] = [] if record.is_for_rating else [_strong("not for rating")]
        if hasattr(record, "corrected_by"):
            remarks.append("corrected since")
        return format_html_join(", ", "{}", ((each,) for each in remarks))


class WhereaboutsTable(RecordsTable):
    """Where the pads of one lot are, from fleet.stock.whereabouts."""

    caption = "Where its pads are"
    anchor = "pads"
    own_prefix = "pads-"
    empty_words = "Nowhere on record: none is in stock or fitted."

    place = Column("Place")
    pads = Column("Pads", css="number")
    state = Column("State")
    positions = Column("Positions", orderable=False)

    def render_place(self, record: dict[str, Any], value: str) -> SafeString | str:
        if record["kind"] == "shelf":
            return f"Shelf of {value}"
        url = reverse("unit", args=[record["housing"]])
        return format_html('<a href="{}">Housing {}</a>', url, value)


class StockMoveTable(RecordsTable):
    """The stock moves of one lot."""

    caption = "Stock moves"
    anchor = "moves"
    own_prefix = "moves-"
    empty_words = "No move yet. Record what was received."
    dated_by = ("occurred_at",)

    occurred_at = DayColumn("When")
    kind = Column("What")
    change = Column("Pads", css="number")
    by = PersonColumn("By")
    note = Column("Note", default="")

    def render_kind(self, record: StockMove) -> str:
        return f"{record.get_kind_display()}{f' ({record.yard})' if record.yard else ''}"

    def render_change(self, value: int) -> str:
        return count_change_words(value)


class LotCorrectionTable(RecordsTable):
    """What was put right of what is on record of one lot's rubber."""

    caption = "Corrections of its rubber"
    anchor = "corrections"
    own_prefix = "corrections-"
    empty_words = "None: its rubber is on record as first entered."
    dated_by = ("recorded_at",)

    recorded_at = MomentColumn("When")
    changes = Column("What", empty_values=(), orderable=False)
    reason = Column("Why")
    by = PersonColumn("By")

    def render_changes(self, record: LotCorrection) -> SafeString:
        changes = []
        for name, before in BEFORE.items():
            figures = [getattr(record, each) for each in (before, name)]
            if figures[0] != figures[1]:
                changes.append((_RUBBER[name], *(self._words(name, each) for each in figures)))
        return format_html_join(
            SafeString("<br>"),
            "{}: {}, not {}",
            [(label, after, before) for label, before, after in changes],
        )

    def _words(self, name: str, figure: float | None) -> str:
        quantity = measured_field(LotCorrection, name).quantity
        if figure is None:
            return "not on record"
        return plain_number(figure, 1) if quantity is None else quantity.words(figure, self.system)


class PadPriceTable(RecordsTable):
    """What pads of one lot cost, the newest first."""

    caption = "What a pad costs"
    anchor = "prices"
    own_prefix = "prices-"
    empty_words = "No price is on record: plans by cost leave this lot out."
    dated_by = ("valid_from",)

    valid_from = DayColumn("Valid from")
    amount = Column("Price")
    yard = Column("Paid by", empty_values=())
    lead_days = Column("Comes in, days")
    source = Column("By")
    by = PersonColumn("Recorded by")

    def render_amount(self, record: PadPrice) -> str:
        return money(record.amount, record.currency)

    def render_yard(self, record: PadPrice) -> str:
        return str(record.yard or "all yards")


_RUBBER = {
    "hardness_shore_a": "hardness, Shore A",
    "bonded_area_in2": "bonded area",
    "rubber_thickness_in": "rubber between plates",
}


class EffectTable(RecordsTable):
    """What approving a draft would do to each unit that holds its lot."""

    caption = "What it would do to units that hold the lot"
    anchor = "effects"
    own_prefix = "effects-"
    empty_words = "No unit holds a pad of this lot: nothing changes until one does."

    mark = Column("Unit")
    standing = Column("Standing", empty_values=(), orderable=False)
    pull = Column("Line pull", empty_values=(), orderable=False)
    capacity = Column("Working capacity", empty_values=(), orderable=False)
    travel = Column("Usable travel", empty_values=(), orderable=False)

    def __init__(self, *args: Any, draft: LotRating, **kwargs: Any) -> None:
        self.draft = draft
        super().__init__(*args, **kwargs)

    def load_page(self, records: list[SuppressorHousing]) -> None:
        self.effects = effects_of(
            self.draft, records, policy_in_force(RatingPolicy.objects.first())
        )

    def render_mark(self, record: SuppressorHousing) -> SafeString:
        return format_html('<a href="{}">{}</a>', reverse("unit", args=[record.pk]), record.mark)

    def render_standing(self, record: SuppressorHousing) -> SafeString | str:
        effect = self.effects[record.pk]
        now, then = effect.now.standing.value, effect.then.standing.value
        return now if now == then else format_html("{}, then <strong>{}</strong>", now, then)

    def render_pull(self, record: SuppressorHousing) -> SafeString | str:
        return self._now_and_then(record, "pull_lbf", pull_words)

    def render_capacity(self, record: SuppressorHousing) -> SafeString | str:
        return self._now_and_then(record, "working_capacity_lbf", capacity_words)

    def render_travel(self, record: SuppressorHousing) -> str:
        effect = self.effects[record.pk]
        now, then = (
            NONE if each is None else Quantity.LENGTH.words(each, self.system)
            for each in (effect.now.usable_travel_in, effect.then.usable_travel_in)
        )
        return now if now == then else f"{now}, then {then}"

    def _now_and_then(
        self, record: SuppressorHousing, name: str, words: Callable[..., str]
    ) -> SafeString | str:
        effect = self.effects[record.pk]
        figures = [getattr(each, name) for each in (effect.now, effect.then)]
        now, then = (
            words(figure, self.system, listed_lbf=each.listed_lbf)
            for figure, each in zip(figures, (effect.now, effect.then), strict=True)
        )
        if now == then:
            return now
        change = ""
        if None not in figures:
            change = f" ({change_words(figures[1] - figures[0], self.system)})"
        return format_html("{},<br>then <strong>{}</strong>{}", now, then, change)


class CausedEntryTable(RecordsTable):
    """The ledger entries that the approval or withdrawal of a rating caused."""

    caption = "Ledger entries it caused"
    anchor = "entries"
    empty_words = "None yet."

    housing = Column("Entry", accessor="housing__mark", order_by=("housing__mark", "sequence"))
    cause = Column("Cause")
    hash = Column("Hash", css="mono", orderable=False)

    def render_housing(self, record: LedgerEntry) -> SafeString:
        return format_html(
            '<a href="{}?entry={}">Housing {}, entry {}</a>',
            reverse("unit-records", args=[record.housing_id, "ledger"]),
            record.sequence,
            record.housing.mark,
            record.sequence,
        )
