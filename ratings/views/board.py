from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django_tables2 import RequestConfig

from fleet.context import system_of
from ratings.board.filter import BoardFilter
from ratings.board.holds import holds_now, open_findings
from ratings.board.table import BoardTable
from ratings.board.units import (
    board_units,
    hammers_without_housing,
    out_of_service_count,
    standing_counts,
)

UNITS_PER_PAGE = 25


def board(request: HttpRequest) -> HttpResponse:
    """Show every unit, worst first; to htmx only the table, as filters change."""
    units = board_units()
    narrowed = BoardFilter(request.GET, queryset=units)
    table = BoardTable(
        narrowed.qs, system=system_of(request), holds=holds_now(), findings=open_findings()
    )
    # Not by RequestConfig: it would let the query say how many units make a page, even -1.
    RequestConfig(request, paginate=False).configure(table)
    table.paginate(per_page=UNITS_PER_PAGE)
    table.page = table.paginator.get_page(request.GET.get(table.prefixed_page_field))
    context = {
        "section": "board",
        "table": table,
        "filter": narrowed,
        "counts": standing_counts(units),
        "out_count": out_of_service_count(units),
        "has_units": units.exists(),
        "bare_hammers": hammers_without_housing(),
    }
    template = "board_table.html" if getattr(request, "htmx", False) else "board.html"
    return render(request, f"ratings/{template}", context)
