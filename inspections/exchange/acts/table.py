"""Which act puts a row of which table on record."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError

from inspections.exchange.acts import bench, owned, stock, units
from inspections.exchange.rows import Row

Act = Callable[[Row, User], str]


def put_on_record(row: Row, by: User) -> str:
    """Put a row on record and return its fate: new, or on record already.

    Raises ValidationError or ValueError in words where it can't be.
    """
    return ACTS[row.table](row, by)


def _stray(row: Row, by: User) -> str:
    raise ValidationError("It belongs to nothing in this file.")


ACTS: dict[str, Act] = {
    "yards": owned.yard,
    "hammers": owned.hammer,
    "housings": owned.housing,
    "lots": owned.lot,
    "stands": owned.stand,
    "gauges": owned.gauge,
    "tapes": owned.tape,
    "bench_tests": bench.bench_test,
    "readings": _stray,
    "stock_moves": stock.stock_move,
    "shelf_counts": stock.shelf_count,
    "mountings": units.mounting,
    "listings": units.listing,
    "meter_changes": units.meter_change,
    "kinds": owned.kind,
    "counts": units.count,
    "pads": _stray,
    "replacements": units.replacement,
    "fitted_pads": _stray,
    "out_of_service": units.out_of_service,
    "releases": units.release,
}
