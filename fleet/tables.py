"""Tables of records: sorted, filtered and paged, and written in the reader's units."""

from __future__ import annotations

import operator
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from functools import reduce
from typing import Any, ClassVar
from urllib.parse import urlencode

import django_filters
import django_tables2 as tables
from django import forms
from django.db import models
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django_tables2 import RequestConfig
from django_tables2.data import TableQuerysetData

from fleet.context import system_of
from fleet.dates import day_words, moment_words, start_of_day
from fleet.fields import DayField
from fleet.quantities import Quantity, listed_words
from fleet.roles import PLAN, RECORD
from fleet.signers import signer_words

NONE = "–"
ROWS_ON_A_PAGE = 25
NEWEST_SHOWN = 10


class Column(tables.Column):  # type: ignore[misc]  # the library carries no types
    """A column of plain words. css: the class of its cells and its heading."""

    def __init__(self, *args: Any, css: str = "", **kwargs: Any) -> None:
        self.css = css
        super().__init__(*args, **{"default": NONE} | kwargs)


class MeasuredColumn(Column):
    """A number with its unit, in the reader's system; stored in US customary units."""

    def __init__(self, quantity: Quantity, *args: Any, **kwargs: Any) -> None:
        self.quantity = quantity
        super().__init__(*args, **kwargs)

    def render(self, value: float, table: RecordsTable) -> str:
        return self.quantity.words(value, table.system)


class ListedColumn(Column):
    """A listed rating, lbf, as it is read aloud."""

    def render(self, value: float, table: RecordsTable) -> str:
        return listed_words(value, table.system)


class DayColumn(Column):
    """The day of a date or a moment."""

    def render(self, value: date) -> SafeString:
        return format_html('<span class="nowrap">{}</span>', day_words(value))


class MomentColumn(Column):
    """A moment to the minute."""

    def render(self, value: datetime) -> SafeString:
        return format_html('<span class="nowrap">{}</span>', moment_words(value))


class PersonColumn(Column):
    """Who recorded it, by the name of that moment; sorted by name."""

    def __init__(self, *args: Any, accessor: str = "recorded_by", **kwargs: Any) -> None:
        parts = ("first_name", "last_name", "username")
        names = tuple(f"{accessor}__{part}" for part in parts)
        super().__init__(*args, **{"accessor": accessor, "order_by": names} | kwargs)

    def render(self, record: Any) -> str:
        return signer_words(record)


class TemplateColumn(Column):
    """A cell written by a template, which finds its row as `record` and also what `extra` says."""

    def __init__(self, template: str, *args: Any, **kwargs: Any) -> None:
        self.template = template
        super().__init__(*args, **{"empty_values": ()} | kwargs)

    def render(self, record: Any, table: RecordsTable) -> SafeString:
        return render_to_string(self.template, table.cell_context(record), table.request)


class RecordsTable(tables.Table):  # type: ignore[misc]  # the library carries no types
    """A table of records, made by `table_of`.

    caption: what it holds, said to whoever can't see it. anchor: its id on the page. empty_words:
    what to say where there is no record; nothing_found, where filters leave none. own_prefix: of
    its sort and page in the address, where a page has several.
    """

    caption: ClassVar[str] = ""
    anchor: ClassVar[str] = "records"
    own_prefix: ClassVar[str] = ""
    empty_words: str = "None recorded."
    nothing_found: ClassVar[str] = "Nothing matches: clear the filters."
    rows_on_a_page: ClassVar[int] = ROWS_ON_A_PAGE
    css: ClassVar[str] = ""
    dated_by: ClassVar[Sequence[str]] = ()

    def __init__(
        self, *args: Any, request: HttpRequest, all_url: str = "", system: str = "", **kwargs: Any
    ) -> None:
        """all_url: where all of it is, if only the newest are shown here. system: not its own."""
        self.request, self.all_url = request, all_url
        self.system = system or system_of(request)
        # None where no days can be asked of it.
        self.days: DaysOfPage | None = None
        # What is said below its rows.
        self.note = ""
        super().__init__(*args, **{"prefix": self.own_prefix} | kwargs)

    def read_page(self) -> None:
        """Read the rows of the page, and what they show."""
        self.load_page([row.record for row in self.page.object_list])

    def load_page(self, records: list[Any]) -> None:
        """Look up, in a fixed number of queries, what the rows of a page show beside themselves."""

    def cell_context(self, record: Any) -> dict[str, Any]:
        """Return what a cell's template finds."""
        return {"record": record}

    @property
    def has_headings_that_sort(self) -> bool:
        return len(self.rows) > 1 and any(column.orderable for column in self.columns)

    @property
    def asks_days(self) -> bool:
        """Whether the days of its rows are asked, above the first such table of a page."""
        return self.days is not None and (self.days.is_bound or len(self.rows) > 1)

    @property
    def fragment(self) -> str:
        """Where a link of it leads on its page, which is the top unless it is one of several."""
        return f"#{self.anchor}" if self.prefix else ""

    @property
    def sort_given(self) -> str:
        return str(self.request.GET.get(self.prefixed_order_by_field, ""))

    @property
    def may_record(self) -> bool:
        return bool(self.request.user.has_perm(RECORD))

    @property
    def may_plan(self) -> bool:
        return bool(self.request.user.has_perm(PLAN))


class ChangesTable(RecordsTable):
    """Who put something in force, when and why, the newest first."""

    caption = "Earlier changes"
    anchor = "earlier"
    own_prefix = "earlier-"
    empty_words = "None: the defaults are in force."
    dated_by = ("recorded_at",)

    recorded_at = MomentColumn("When")
    by = PersonColumn("By")
    reason = Column("Why")


class RecordsFilter(django_filters.FilterSet):  # type: ignore[misc]  # the library carries no types
    """Narrow a table by a word, looked for in the fields `searched` names."""

    searched: ClassVar[Sequence[str]] = ()
    hint: ClassVar[str] = ""

    search = django_filters.CharFilter(
        label="Search", method="filter_search", widget=forms.TextInput(attrs={"type": "search"})
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if "search" in self.form.fields:
            self.form.fields["search"].widget.attrs["placeholder"] = self.hint

    def filter_search(self, records: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        return records.filter(
            reduce(operator.or_, (Q(**{f"{field}__icontains": value}) for field in self.searched))
        )

    @property
    def is_narrowing(self) -> bool:
        """Whether anything is asked of it."""
        return bool(self.form.is_valid() and any(self.form.cleaned_data.values()))

    @property
    def refusals(self) -> list[str]:
        """Why nothing is listed, where what is asked can't be; [] where it can."""
        return []


class DaysAsked(forms.Form):
    """The days that records are asked of: the last is not before the first."""

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        since, until = cleaned.get("since"), cleaned.get("until")
        if since and until and until < since:
            self.add_error(
                "until", f"This is before the first day, {day_words(since)}: give it later."
            )
        return cleaned


class DaysOfPage(DaysAsked):
    """The days asked of all lists of a page at once, where it has no filters of its own for them.

    A list is narrowed by them if its table says by what its rows are dated.
    """

    since = DayField(label="From", required=False)
    until = DayField(label="Until", required=False)

    def __init__(self, asked: Any) -> None:
        is_asked = any(asked.get(name) for name in ("since", "until"))
        super().__init__(asked if is_asked else None, auto_id="days_%s")
        # What else the address asks of the page goes on being asked, from the first page of it.
        self.kept = [
            (name, value)
            for name, values in asked.lists()
            for value in values
            if name not in self.fields and not name.endswith("page")
        ]
        self.is_shown = False

    @classmethod
    def of(cls, request: HttpRequest) -> DaysOfPage:
        """Return the days that an address asks, read once."""
        days = getattr(request, "days_of_page", None)
        if not isinstance(days, cls):
            days = cls(request.GET)
            request.days_of_page = days  # type: ignore[attr-defined]  # kept for the next table
        return days

    @property
    def all_days(self) -> str:
        """How an address asks the same of all days."""
        return f"?{urlencode(self.kept)}"

    @property
    def nothing_found(self) -> str:
        """What a list says that they leave nothing of."""
        return "None of the days asked." if self.is_valid() else "Nothing can be shown."

    def narrow(self, records: Any, dated_by: Sequence[str]) -> Any:
        """Return those of a query or a list that any of falls on the days asked."""
        if not self.is_bound:
            return records
        is_query = isinstance(records, QuerySet)
        if not self.is_valid():
            return records.none() if is_query else []
        since, until = self.cleaned_data["since"], self.cleaned_data["until"]
        begins, ends, may_last = dated_by[0], dated_by[-1], len(dated_by) > 1
        if not is_query:
            return [
                each
                for each in records
                if _is_of(_day(each, begins), _day(each, ends), may_last, since, until)
            ]
        if since:
            records = since_day(records, ends, since, may_last=may_last)
        return until_day(records, begins, until) if until else records


def _day(row: Any, name: str) -> date | None:
    """Return the day of a row's moment or date, where the yard is."""
    value = tables.A(name).resolve(row, quiet=True)
    return timezone.localdate(value) if isinstance(value, datetime) else value


def _is_of(
    begun: date | None, ended: date | None, may_last: bool, since: date | None, until: date | None
) -> bool:
    if since and (not may_last if ended is None else ended < since):
        return False
    return not until or (begun is not None and begun <= until)


class OfDays(django_filters.DateFilter):  # type: ignore[misc]  # the library carries no types
    """One end of the days that records are asked of."""

    field_class = DayField


class DatedFilter(RecordsFilter):
    """Narrow a table by the days its records are of as well.

    begins: the field of the day or moment a record is of. ends: of its last, of one that lasts;
    it lasts yet where that is blank. A record is listed where any of it falls on the days asked.
    """

    begins: ClassVar[str]
    ends: ClassVar[str] = ""

    since = OfDays(label="From", method="filter_since")
    until = OfDays(label="Until", method="filter_until")

    class Meta:
        form = DaysAsked

    def filter_since(self, records: QuerySet[Any], name: str, value: date) -> QuerySet[Any]:
        return since_day(records, self.ends or self.begins, value, may_last=bool(self.ends))

    def filter_until(self, records: QuerySet[Any], name: str, value: date) -> QuerySet[Any]:
        return until_day(records, self.begins, value)

    @property
    def qs(self) -> QuerySet[Any]:
        """Those asked for; none where the days asked can't be."""
        records: QuerySet[Any] = super().qs
        return records.none() if self.refusals else records

    @property
    def refusals(self) -> list[str]:
        """What is wrong with the days asked, each by the name of its field."""
        return [
            f"{self.form.fields[name].label}: {words}"
            for name in ("since", "until")
            for words in self.form.errors.get(name, ())
        ]


def since_day(
    records: QuerySet[Any], name: str, day: date, *, may_last: bool = False
) -> QuerySet[Any]:
    """Return those of which a field is of a day or later. may_last: or blank."""
    found = Q(**{f"{name}__gte": _bound(records, name, day)})
    return records.filter(found | Q(**{f"{name}__isnull": True}) if may_last else found)


def until_day(records: QuerySet[Any], name: str, day: date) -> QuerySet[Any]:
    """Return those of which a field is of a day or earlier."""
    return records.filter(**{f"{name}__lt": _bound(records, name, day + timedelta(days=1))})


def _bound(records: QuerySet[Any], name: str, day: date) -> date:
    """Return a day as a field is compared with it: of a moment, as the day begins in the yard."""
    meta: Any = records.model._meta
    *way, last = name.split("__")
    for step in way:
        meta = meta.get_field(step).related_model._meta
    is_moment = isinstance(meta.get_field(last), models.DateTimeField)
    return start_of_day(day) if is_moment else day


class OrderedRecords(TableQuerysetData):  # type: ignore[misc]  # the library carries no types
    """A query of records whose order is known, by their keys: only those of a page are asked for.

    keys: of all of them, as the query would order them. Sorted otherwise, the query is asked.
    """

    def __init__(self, records: QuerySet[Any], keys: Sequence[Any]) -> None:
        super().__init__(records)
        self._keys, self._is_sorted = keys, False

    def keys_of(self, page: Any) -> tuple[Any, ...] | None:
        """Return the keys of the records of a page; None where they are sorted otherwise."""
        if self._is_sorted:
            return None
        end = page.number * page.paginator.per_page
        return tuple(self._keys[end - page.paginator.per_page : end])

    def __len__(self) -> int:
        return len(self._keys)

    def order_by(self, aliases: Any) -> None:
        self._is_sorted = True
        super().order_by(aliases)

    def __getitem__(self, key: Any) -> Any:
        if self._is_sorted or not isinstance(key, slice):
            return super().__getitem__(key)
        return self.data.filter(pk__in=self._keys[key])


def table_of(
    request: HttpRequest, table_class: type[RecordsTable], records: Any, **given: Any
) -> Any:
    """Return one page of a table of records, sorted and turned to as the address asks.

    records: a query, OrderedRecords, or what was worked out, in a list. given: what the table's
    class takes. With all_url, the newest few in the order given, whatever days are asked.
    """
    is_part = bool(given.get("all_url"))
    if is_part:
        given["orderable"] = False
    days = None
    if table_class.dated_by and not is_part:
        days = DaysOfPage.of(request)
        records = days.narrow(records, table_class.dated_by)
    table = table_class(records, request=request, **given)
    table.days = days
    if days is not None and days.is_bound:
        table.empty_words = days.nothing_found
    # Not by RequestConfig: it would let the address say how many rows make a page, even -1.
    RequestConfig(request, paginate=False).configure(table)
    _break_ties(table)
    table.paginate(per_page=NEWEST_SHOWN if is_part else table.rows_on_a_page)
    asked = None if is_part else request.GET.get(table.prefixed_page_field)
    table.page = table.paginator.get_page(asked)
    table.read_page()
    return table


def _break_ties(table: RecordsTable) -> None:
    # Records alike in what they are sorted by would else stand on two pages, or on none.
    records = table.data.data
    if not isinstance(records, QuerySet) or records.query.is_sliced:
        return
    if records.query.order_by and not records.query.combinator:
        table.data.data = records.order_by(*records.query.order_by, "pk")


def records_page(
    request: HttpRequest,
    template: str,
    table: RecordsTable,
    filters: RecordsFilter | None,
    context: dict[str, Any],
) -> HttpResponse:
    """Show a table under its filters; to htmx only the table, as filters change."""
    if filters is not None and filters.is_narrowing:
        table.empty_words = table.nothing_found
    # Where the browser restores a page it forgot, htmx asks too, and needs all of it.
    htmx: Any = getattr(request, "htmx", False)
    is_part = bool(htmx) and not htmx.history_restore_request
    response = render(
        request,
        "fleet/table.html" if is_part else template,
        {"table": table, "filters": filters, "refusals": filters.refusals if filters else []}
        | context,
    )
    patch_vary_headers(response, ["HX-Request"])
    return response
