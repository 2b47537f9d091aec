"""Values as the text of a spreadsheet's cells, such that none of it runs as a formula."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from datetime import date, datetime, tzinfo
from io import StringIO
from typing import Any

from django.http import HttpResponse
from django.utils import timezone

from fleet.numbers import PLAIN

# A spreadsheet takes a cell that begins with one of these for a formula, some the wide ones too.
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
GUARD = "'"


def written(value: Any, zone: tzinfo | None = None) -> str:
    """Return a value as the text of a cell, moments by the yard's clock unless a zone is given."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        # A spreadsheet's own times name no zone: they are as they stand there.
        return timezone.localtime(value, zone).isoformat() if value.tzinfo else value.isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return repr(value)
    return str(value)


def guarded(text: str) -> str:
    """Return text so that no spreadsheet runs it: a formula's beginning gets an apostrophe.

    So does text that had apostrophes before one, for `unguarded` to give back what it was.
    """
    is_number = bool(PLAIN.fullmatch(text))
    is_like_one = text.lstrip(GUARD).startswith(FORMULA)
    return GUARD + text if is_like_one and not is_number else text


def unguarded(text: str) -> str:
    """Take the apostrophe of `guarded` away again."""
    is_guarded = text.startswith(GUARD) and text.lstrip(GUARD).startswith(FORMULA)
    return text[1:] if is_guarded else text


def csv_download(name: str, header: Sequence[str], rows: Iterable[Sequence[Any]]) -> HttpResponse:
    """Return rows under a header as a CSV file in UTF-8 to be kept by this name and of today."""
    text = StringIO()
    writer = csv.writer(text)
    writer.writerow(header)
    writer.writerows([guarded(written(value)) for value in row] for row in rows)
    kept_as = f"{name}-{timezone.localdate():%Y-%m-%d}.csv"
    return HttpResponse(
        text.getvalue(),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{kept_as}"'},
    )
