"""The life of one unit as tables: the newest on its page, all of it on pages of their own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import django_filters
from django.db.models import (
    BooleanField,
    ExpressionWrapper,
    F,
    FloatField,
    Q,
    QuerySet,
    Value,
)
from django.db.models.functions import Cast, Coalesce
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from fleet.dates import moment_words
from fleet.models import MachineSort, Mounting, OutOfService, SuppressorHousing
from fleet.outages import named
from fleet.quantities import Quantity, capacity_words, change_words, pull_words
from fleet.signers import name_then_of, signer_words
from fleet.tables import (
    Column,
    DatedFilter,
    DayColumn,
    MomentColumn,
    RecordsTable,
    TemplateColumn,
    records_page,
    since_day,
    table_of,
    until_day,
)
from inspections.models import Finding, MovedRecords
from inspections.schedule.due import findings_with_gravity
from inspections.schedule.tables import FindingTable, machine_url
from inspections.service.recording import RELEASE
from ratings.guides import GuideTable, guides_of
from ratings.ledger.differences import differences, pull_change_lbf
from ratings.ledger.posting import Cause
from ratings.mechanics.standing import Standing
from ratings.models import LedgerEntry
from ratings.proof.tables import ProofPullTable, proof_pulls_of
from ratings.proposals.recording import confirmers, confirmers_of
from ratings.pulls.tables import UnitPullTable, pulls_of_unit


class LedgerTable(RecordsTable):
    """Ledger entries of one housing, each beside the one before it."""

    caption = "Ledger"
    anchor = "ledger"
    empty_words = "The ledger begins when the pads are first counted."
    nothing_found = "No entry matches: clear the filters."

    sequence = Column("Entry")
    occurred_at = MomentColumn("Happened")
    cause = TemplateColumn("units/ledger_cause.html", "Cause")
    differs = Column("What differs", empty_values=(), orderable=False)
    pull_lbf = Column("Line pull", empty_values=())
    working_capacity_lbf = Column("Working capacity", empty_values=())
    standing = Column("Standing")

    class Meta:
        row_attrs = {"id": lambda record: f"entry-{record.sequence}"}

    def load_page(self, records: list[LedgerEntry]) -> None:
        self.here = {entry.sequence for entry in records}
        earlier = LedgerEntry.objects.filter(
            housing__in={entry.housing_id for entry in records},
            sequence__in=[entry.sequence - 1 for entry in records],
        )
        self.before = {entry.sequence + 1: entry for entry in earlier}
        self.confirmers = confirmers_of(records)

    def link(self, entry: LedgerEntry) -> SafeString:
        """Return a link to another entry of the same ledger, wherever it stands."""
        number = entry.sequence
        there = "" if number in self.here else ledger_url(entry.housing_id, number)
        return format_html('<a href="{}#entry-{}">entry {}</a>', there, number, number)

    def cell_context(self, record: LedgerEntry) -> dict[str, Any]:
        return {
            "entry": record,
            "corrects": self.link(record.corrects) if record.corrects else "",
            "corrected_by": [self.link(each) for each in record.corrections.all()],
        }

    def render_occurred_at(self, record: LedgerEntry) -> SafeString:
        second = self.confirmers.get(record.pk)
        confirmed = f", confirmed by {signer_words(second)}" if second else ""
        return format_html(
            '<span class="nowrap">{}</span><br><span class="faint small">recorded {} by {}</span>',
            moment_words(record.occurred_at),
            moment_words(record.recorded_at),
            f"{signer_words(record)}{confirmed}",
        )

    def render_differs(self, record: LedgerEntry) -> SafeString:
        changes = differences(self.before.get(record.sequence), record, self.system)
        return format_html_join(SafeString("<br>"), "{}", ((each,) for each in changes))

    def render_pull_lbf(self, record: LedgerEntry) -> SafeString | str:
        pull = pull_words(record.pull_lbf, self.system, listed_lbf=record.listed_lbf)
        change_lbf = pull_change_lbf(self.before.get(record.sequence), record)
        if not change_lbf:
            return pull
        return format_html(
            '{}<br><span class="small faint nowrap">{}</span>',
            pull,
            change_words(change_lbf, self.system),
        )

    def render_working_capacity_lbf(self, record: LedgerEntry) -> str:
        return capacity_words(
            record.working_capacity_lbf, self.system, listed_lbf=record.listed_lbf
        )

    def render_standing(self, record: LedgerEntry) -> SafeString:
        return render_to_string("ratings/standing.html", {"standing": record.judged})


def ledger_url(housing_id: int, sequence: int) -> str:
    """Return the address of one entry alone in its housing's full ledger."""
    return f"{reverse('unit-records', args=[housing_id, 'ledger'])}?entry={sequence}"


CAUSES = (
    Cause.PAD_COUNT,
    Cause.PAD_REPLACEMENT,
    Cause.SECOND_LOOK,
    Cause.LOT_RATED,
    Cause.RATE_WITHDRAWN,
    Cause.RATE_STALE,
    Cause.LOT_CORRECTED,
    Cause.LISTING,
    Cause.POLICY,
    Cause.MOUNTING,
    Cause.GUIDE,
    Cause.PROOF_PULL,
    Cause.PROOF_PULL_SET_ASIDE,
)


class LedgerFilter(DatedFilter):
    """Narrow a ledger by days, entry, cause or standing."""

    search = None
    begins = "occurred_at"
    entry = django_filters.NumberFilter(label="Entry", field_name="sequence", min_value=1)
    cause = django_filters.ChoiceFilter(
        label="Cause", empty_label="any", choices=[(cause, cause) for cause in CAUSES]
    )
    standing = django_filters.ChoiceFilter(
        label="Standing", empty_label="any", choices=[(each.value, each.value) for each in Standing]
    )


class InspectionTable(RecordsTable):
    """Inspections and pad replacements of one housing, from inspections_and_replacements."""

    caption = "Inspections and replacements"
    anchor = "inspections"
    empty_words = "Never inspected. Count the pads and tape the travel to rate it."

    at = MomentColumn("When")
    what = Column("What")
    travel = Column("Travel", empty_values=(), orderable=False)
    by = Column("By", accessor="username", order_by=("first_name", "last_name", "username"))

    def render_what(self, record: dict[str, Any]) -> SafeString:
        is_inspection = record["what"] == "inspection"
        corrected = format_html(", <strong>{}</strong>", "corrected since")
        return format_html(
            '<a href="{}">{} {}</a>{}{}',
            reverse(record["what"], args=[record["key"]]),
            "Inspection" if is_inspection else "Pad replacement",
            record["key"],
            f", {record['kind_words']}" if is_inspection else "",
            corrected if record["is_corrected"] else "",
        )

    def render_travel(self, record: dict[str, Any]) -> str:
        if record["what"] == "replacement":
            return "–"
        travel_in = record["travel"]
        return "not taped" if travel_in is None else Quantity.LENGTH.words(travel_in, self.system)

    def render_by(self, record: dict[str, Any]) -> str:
        now = f"{record['first_name']} {record['last_name']}".strip() or str(record["username"])
        return name_then_of(record["person"], now, record["recorded"])


def inspections_and_replacements(
    housing: SuppressorHousing,
    of_days: Callable[[QuerySet[Any], str], QuerySet[Any]] = lambda found, _: found,
) -> QuerySet[Any]:
    """Return both in one query, the newest first, as dictionaries.

    of_days: narrows a query by the field of when each was, since none narrows both together.
    """
    common: dict[str, Any] = {
        "key": F("pk"),
        "is_corrected": ExpressionWrapper(Q(corrected_by__isnull=False), BooleanField()),
        "person": F("recorded_by"),
        "recorded": F("recorded_at"),
        "first_name": F("recorded_by__first_name"),
        "last_name": F("recorded_by__last_name"),
        "username": F("recorded_by__username"),
    }
    inspections = of_days(housing.inspections.order_by(), "seen_at").values(
        at=F("seen_at"),
        what=Value("inspection"),
        kind_words=Coalesce("own_kind__name", "kind"),
        travel=F("travel_in"),
        **common,
    )
    replacements = of_days(housing.replacements.order_by(), "fitted_at").values(
        at=F("fitted_at"),
        what=Value("replacement"),
        kind_words=Value(""),
        travel=Cast(Value(None), FloatField()),
        **common,
    )
    both: QuerySet[Any, Any] = inspections.union(replacements, all=True)
    return both.order_by("-at", "-key")


class InspectionFilter(DatedFilter):
    """Narrow inspections and replacements by days: each kind by itself, as `of_days` has it."""

    search = None

    def filter_since(self, records: QuerySet[Any], name: str, value: Any) -> QuerySet[Any]:
        return records

    def filter_until(self, records: QuerySet[Any], name: str, value: Any) -> QuerySet[Any]:
        return records

    def of_days(self, records: QuerySet[Any], name: str) -> QuerySet[Any]:
        """Return those of which a field falls on the days asked."""
        asked = self.form.cleaned_data if self.form.is_valid() else {}
        if asked.get("since"):
            records = since_day(records, name, asked["since"])
        return until_day(records, name, asked["until"]) if asked.get("until") else records


def by_days(begins: str, ends: str = "") -> type[DatedFilter]:
    """Return a filter by days alone, of records that begin and end by these fields."""
    told = {"search": None, "begins": begins, "ends": ends, "__module__": __name__}
    made: type[DatedFilter] = type("ByDays", (DatedFilter,), told)
    return made


class UnitFindingTable(FindingTable):
    """Findings of one unit, those still open first."""

    caption = "Findings"
    own_prefix = ""
    empty_words = "None recorded."


class MountingTable(RecordsTable):
    """Which hammers one housing hung on, the last first."""

    caption = "Mountings"
    anchor = "mountings"
    empty_words = "Never mounted on a hammer on record."

    hammer = Column("Hammer", accessor="hammer__mark")
    mounted_at = DayColumn("From")
    removed_at = DayColumn("To", default="until now")


class OutageTable(RecordsTable):
    """Times one unit was out of service, the last first."""

    caption = "Times out of service"
    anchor = "service"
    empty_words = "None recorded."

    since = MomentColumn("From")
    released_at = MomentColumn("To", default=format_html("<strong>{}</strong>", "until now"))
    reason = Column("Why")
    release_reason = Column("Release")

    def load_page(self, records: list[OutOfService]) -> None:
        self.confirmers = confirmers(RELEASE, [each.pk for each in records if each.released_at])

    def render_since(self, record: OutOfService) -> SafeString:
        return format_html(
            '<span class="nowrap">{}</span>{}',
            moment_words(record.since),
            format_html('<br><span class="small">{}</span>', record.reached_back_words)
            if record.reached_back_words
            else "",
        )

    def render_reason(self, record: OutOfService) -> str:
        of = "" if record.housing_id else f"{named(record.machine)}: "
        return f"{of}{record.reason} (taken out by {signer_words(record)})"

    def render_release_reason(self, record: OutOfService) -> str:
        name = signer_words(record, "released_by", "released_at")
        fit = f"; found fit by {record.qualified_person}" if record.qualified_person else ""
        second = self.confirmers.get(record.pk)
        confirmed = f", confirmed by {signer_words(second)}" if second else ""
        return f"released by {name}{confirmed}: {record.release_reason}{fit}"


class MovedRecordsTable(RecordsTable):
    """Which records were put to a machine from the unit they had been kept at."""

    caption = "Records put to their machine"
    anchor = "moved"
    own_prefix = "moved-"
    empty_words = "None: its records were never moved."
    dated_by = ("recorded_at",)

    recorded_at = DayColumn("When")
    machine = Column("Machine", orderable=False)
    records = Column("What", empty_values=(), orderable=False)
    why = Column("Why")

    def render_machine(self, value: Any) -> SafeString:
        return format_html('<a href="{}">{}</a>', machine_url(value), named(value))

    def render_records(self, record: MovedRecords) -> SafeString:
        parts: list[Any] = []
        if record.inspections:
            links = format_html_join(
                ", ",
                '<a href="{}">{}</a>',
                ((reverse("inspection", args=[pk]), pk) for pk in record.inspections),
            )
            parts.append(format_html("inspections {}", links))
        if record.findings:
            parts.append(f"findings {', '.join(str(pk) for pk in record.findings)}")
        if record.outages:
            parts.append(f"times out of service {', '.join(str(pk) for pk in record.outages)}")
        return format_html_join("; ", "{}", ((part,) for part in parts))


def _moved(housing: SuppressorHousing) -> QuerySet[MovedRecords]:
    moved: QuerySet[MovedRecords] = MovedRecords.objects.of_unit(housing)
    return moved.select_related(*(sort.column for sort in MachineSort))


def _ledger(housing: SuppressorHousing) -> QuerySet[LedgerEntry]:
    return (
        LedgerEntry.objects.filter(housing=housing)
        .select_related("recorded_by", "corrects")
        .prefetch_related("corrections")
        .order_by("-sequence")
    )


def _findings(housing: SuppressorHousing) -> QuerySet[Any]:
    is_closed = ExpressionWrapper(Q(closing__isnull=False), BooleanField())
    found = findings_with_gravity(Finding.objects.of_units([housing.pk]))
    found = found.annotate(is_closed=is_closed)
    return found.order_by("is_closed", "-pk")


def _mountings(housing: SuppressorHousing) -> QuerySet[Mounting]:
    return housing.mountings.select_related("hammer")


def _outages(housing: SuppressorHousing) -> QuerySet[OutOfService]:
    outages: QuerySet[OutOfService] = OutOfService.objects.of_units([housing.pk])
    return outages.select_related(
        "recorded_by", "released_by", "hammer", "housing", "clamp", "power_pack"
    ).prefetch_related("reaches")


@dataclass(frozen=True)
class UnitRecords:
    """One kind of record of a unit: its table, where its rows come from, and its filters."""

    table: type[RecordsTable]
    records: Callable[[SuppressorHousing], QuerySet[Any]]
    filters: type[DatedFilter]


RECORDS_OF_A_UNIT = {
    "ledger": UnitRecords(LedgerTable, _ledger, LedgerFilter),
    "findings": UnitRecords(
        UnitFindingTable, _findings, by_days("inspection__seen_at", "closing__closed_at")
    ),
    "inspections": UnitRecords(InspectionTable, inspections_and_replacements, InspectionFilter),
    "proofs": UnitRecords(ProofPullTable, proof_pulls_of, by_days("pulled_at")),
    "pulls": UnitRecords(UnitPullTable, pulls_of_unit, by_days("pulled_at")),
    "mountings": UnitRecords(MountingTable, _mountings, by_days("mounted_at", "removed_at")),
    "guides": UnitRecords(GuideTable, guides_of, by_days("occurred_at")),
    "service": UnitRecords(OutageTable, _outages, by_days("since", "released_at")),
    "moved": UnitRecords(MovedRecordsTable, _moved, by_days("recorded_at")),
}


def newest_records(request: HttpRequest, housing: SuppressorHousing) -> dict[str, Any]:
    """Return a table of the newest of each kind of record of a unit, by what it is called."""
    return {
        what: table_of(
            request,
            each.table,
            each.records(housing),
            all_url=reverse("unit-records", args=[housing.pk, what]),
        )
        for what, each in RECORDS_OF_A_UNIT.items()
    }


def unit_records(request: HttpRequest, housing_id: int, what: str) -> HttpResponse:
    """Show all records of one kind of a unit, page by page."""
    kind = RECORDS_OF_A_UNIT.get(what)
    if kind is None:
        raise Http404("A unit has no such records.")
    housing = get_object_or_404(SuppressorHousing, pk=housing_id)
    records = kind.records(housing)
    filters = kind.filters(request.GET, queryset=records)
    found = filters.qs
    if isinstance(filters, InspectionFilter) and not filters.refusals:
        found = inspections_and_replacements(housing, filters.of_days)
    table = table_of(request, kind.table, found)
    context = {"section": "board", "housing": housing}
    return records_page(request, "units/records.html", table, filters, context)
