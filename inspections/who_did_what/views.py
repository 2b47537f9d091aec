from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.cells import csv_stream, xlsx_download
from fleet.context import system_of
from fleet.models import Leaf
from fleet.signers import names_read_once
from fleet.tables import records_page, table_of
from inspections.who_did_what.doings import Telling, with_before
from inspections.who_did_what.tables import DoingFilter, DoingTable

AT_ONCE = 500
HEADER = ("line", "at", "who", "kind", "record_key", "what", "leaf_hash", "page")


def who_did_what(request: HttpRequest) -> HttpResponse:
    """Show every write, sign-in and refusal, narrowed as asked."""
    filters = _asked(request)
    table = table_of(request, DoingTable, filters.newest)
    table.note = filters.cut_words(table.paginator.count)
    return records_page(
        request,
        "who_did_what/list.html",
        table,
        filters,
        {"section": "record", "asked": request.GET.urlencode()},
    )


@require_safe
def who_did_what_list(request: HttpRequest, form: str) -> HttpResponseBase:
    """Send all that the page would list, as CSV or as a workbook, the newest first."""
    filters = _asked(request)
    if form not in ("csv", "xlsx"):
        raise Http404("The list goes out as CSV and XLSX.")
    if filters.refusals:
        return who_did_what(request)
    name = f"who-did-what-{timezone.localdate():%Y-%m-%d}"
    rows = _rows(request, filters)
    return csv_stream(name, HEADER, rows) if form == "csv" else xlsx_download(name, HEADER, rows)


def _asked(request: HttpRequest) -> DoingFilter:
    return DoingFilter(request.GET, queryset=Leaf.objects.order_by("-pk"))


def _rows(request: HttpRequest, filters: DoingFilter) -> Iterator[list[Any]]:
    """Yield the rows of an export, few held at once."""
    system = system_of(request)
    with names_read_once():
        telling = Telling(system)
        lines = with_before(filters.qs).iterator(AT_ONCE)
        while some := list(islice(lines, AT_ONCE)):
            for doing in telling.tell(some):
                leaf = doing.leaf
                yield [
                    leaf.place,
                    leaf.recorded_at,
                    doing.who,
                    doing.kind,
                    leaf.row_key,
                    doing.what,
                    leaf.leaf_hash,
                    request.build_absolute_uri(doing.page) if doing.page else "",
                ]


def leaf(request: HttpRequest, leaf_id: int) -> HttpResponse:
    """Show one line of the journal whole: what it says, what the one before said, its hash."""
    found = get_object_or_404(with_before(Leaf.objects.all()), pk=leaf_id)
    telling = Telling(system_of(request))
    (doing,) = telling.tell([found])
    earlier = Leaf.objects.filter(model=found.model, row_key=found.row_key)
    return render(
        request,
        "who_did_what/leaf.html",
        {
            "section": "record",
            "doing": doing,
            "columns": telling.columns(found, whole=True),
            "before": earlier.filter(pk__lt=found.pk).order_by("-pk").only("pk", "place").first(),
            "after": earlier.filter(pk__gt=found.pk).order_by("pk").only("pk", "place").first(),
        },
    )
