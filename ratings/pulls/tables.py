from __future__ import annotations

from collections.abc import Callable
from operator import attrgetter
from typing import Any

import django_filters
from django.db.models import Q, QuerySet
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.quantities import Quantity
from fleet.signers import signer_words
from fleet.tables import (
    NONE,
    Column,
    DatedFilter,
    MeasuredColumn,
    MomentColumn,
    PersonColumn,
    RecordsTable,
)
from ratings.models import PullRecord
from ratings.models.choices import PILE_KINDS
from ratings.pulls.judging import Within, within_range

COUNTS = [("yes", "those that count"), ("no", "those that don’t")]


class PullTable(RecordsTable):
    """What became of pulls, the last first."""

    caption = "Pulls"
    anchor = "pulls"
    empty_words = "None yet: they are recorded on the page of a commitment, by phone too."
    nothing_found = "No pull matches: clear the filters."

    pk = Column("Pull", css="nowrap")
    pulled_at = MomentColumn("Pulled")
    site = Column("Job", accessor="commitment__job__site", order_by=("commitment__job__site",))
    unit = Column(
        "Unit",
        accessor="commitment__housing__mark",
        order_by=("commitment__housing__mark",),
        css="nowrap",
    )
    pile = Column("Pile", accessor="pile_mark")
    outcome = Column("Did it come", accessor="outcome")
    measured_lbf = Column("Measured", css="number", empty_values=())
    expected_lbf = MeasuredColumn(Quantity.FORCE, "Calculated", css="number")
    ratio = Column("Of calculated", css="number", empty_values=(), orderable=False)
    soil = Column("Soil that holds most", accessor="soil", css="small")
    by = PersonColumn("By")

    class Meta:
        attrs = {"class": "cards"}

    def render_pk(self, record: PullRecord) -> SafeString:
        url = reverse("pull-record", args=[record.pk])
        fate = " (corrected)" if hasattr(record, "corrected_by") else ""
        return format_html('<a href="{}">Pull {}</a>{}', url, record.pk, fate)

    def render_site(self, record: PullRecord) -> SafeString:
        made = record.commitment
        return format_html(
            '<a href="{}">{}</a>', reverse("commitment", args=[made.pk]), made.job.site
        )

    def render_unit(self, record: PullRecord) -> SafeString:
        housing = record.commitment.housing
        return format_html('<a href="{}">{}</a>', reverse("unit", args=[housing.pk]), housing.mark)

    def render_pile(self, record: PullRecord) -> str:
        return f"{record.pile_mark}, {record.get_pile_kind_display()}"

    def render_outcome(self, record: PullRecord) -> str:
        return record.outcome

    def render_measured_lbf(self, record: PullRecord) -> str:
        if record.measured_lbf is None:
            return "not read" if record.hook_load_lbf is None else "weights not known"
        words = Quantity.FORCE.words(record.measured_lbf, self.system)
        return f"more than {words}" if record.is_lower_bound else words

    def render_ratio(self, record: PullRecord) -> str:
        ratio = record.ratio
        if ratio is None:
            return NONE
        place = within_range(record)
        outside = {Within.BELOW: ", below its range", Within.ABOVE: ", above its range"}
        more = "more than " if record.is_lower_bound else ""
        return f"{more}{ratio:.2f}{outside.get(place, '')}"

    def render_soil(self, record: PullRecord) -> str:
        if not record.soil or record.soil_share is None:
            return NONE
        return f"{record.soil}, {100 * record.soil_share:.0f} %"


class UnitPullTable(PullTable):
    """The pulls of one unit, the last first."""

    caption = "Piles pulled"
    empty_words = "None recorded."

    class Meta(PullTable.Meta):
        exclude = ("unit",)


class JobPullTable(PullTable):
    """The pulls of one job, the last first."""

    caption = "Piles pulled"
    own_prefix = "pulls-"
    empty_words = "None recorded yet."
    dated_by = ("pulled_at",)

    class Meta(PullTable.Meta):
        exclude = ("site",)


def _field(name: str) -> Callable[[PullRecord], Any]:
    return attrgetter(name)


# What a file of pulls has, by its heading; figures in the units they are kept in.
CSV_COLUMNS: dict[str, Callable[[PullRecord], Any]] = {
    "pull": _field("pk"),
    "pulled_at": _field("pulled_at"),
    "job": _field("commitment.job.site"),
    "commitment": _field("commitment_id"),
    "unit": _field("commitment.housing.mark"),
    "hammer": _field("commitment.hammer.mark"),
    "pile_group": _field("pile_group"),
    "pile": _field("pile_mark"),
    "pile_kind": _field("pile_kind"),
    "did_it_come": _field("outcome"),
    "method": _field("method"),
    "hook_load_lbf": _field("hook_load_lbf"),
    "tare_lbf": _field("tare_lbf"),
    "weights_lb": _field("weights_lb"),
    "measured_lbf": _field("measured_lbf"),
    "expected_lbf": _field("expected_lbf"),
    "low_lbf": _field("low_lbf"),
    "high_lbf": _field("high_lbf"),
    "stretch_in": _field("stretch_in"),
    "minutes": _field("minutes"),
    "toe_depth_ft": _field("toe_depth_ft"),
    "soil": _field("soil"),
    "soil_share": _field("soil_share"),
    "watched_by": _field("watched_by"),
    "in_the_way": _field("in_the_way"),
    "doubts": lambda pull: "; ".join(pull.doubts),
    "corrects": _field("corrects_id"),
    "corrected_by": lambda pull: getattr(getattr(pull, "corrected_by", None), "pk", None),
    "correction_reason": _field("correction_reason"),
    "recorded_at": _field("recorded_at"),
    "recorded_by": lambda pull: signer_words(pull),
}


class PullFilter(DatedFilter):
    """Pulls by words, outcome, soil, pile and unit."""

    searched = (
        "pile_mark",
        "in_the_way",
        "commitment__job__site",
        "commitment__housing__mark",
        "commitment__hammer__mark",
    )
    hint = "site, unit, pile"
    begins = "pulled_at"

    outcome = django_filters.ChoiceFilter(
        label="Did it come", choices=PullRecord.Outcome.choices, empty_label="all"
    )
    method = django_filters.ChoiceFilter(
        label="How", choices=PullRecord.Method.choices, empty_label="all"
    )
    pile_kind = django_filters.ChoiceFilter(
        label="Pile", choices=list(PILE_KINDS.items()), empty_label="all"
    )
    soil = django_filters.AllValuesFilter(label="Soil that holds most", empty_label="all")
    standing = django_filters.ChoiceFilter(
        label="Corrected", method="filter_standing", choices=COUNTS, empty_label="all"
    )

    class Meta(DatedFilter.Meta):
        model = PullRecord
        fields: list[str] = []

    def filter_standing(self, records: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        return records.filter(Q(corrected_by__isnull=value == "yes"))


def pulls_of_unit(housing: Any) -> QuerySet[PullRecord]:
    """Return a unit's pulls with all that a row says."""
    return PullRecord.objects.with_all().filter(commitment__housing=housing)
