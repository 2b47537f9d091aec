from __future__ import annotations

import hashlib
import json
import logging
from typing import Any

from django import forms
from django.contrib import messages
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from fleet.aside import NoRoom, is_full
from fleet.cells import WORKBOOK
from fleet.fields import PlainText, note_refusal
from fleet.models import SuppressorHousing
from fleet.numbers import Decimals
from fleet.roles import manager_required, signed_in
from inspections.exchange.incoming import Refused, Trial, try_register
from inspections.exchange.outgoing import register_rows, write_csvs, write_workbook
from inspections.exchange.reading import MOST_BYTES, BadFile, Lines, read_file
from inspections.exchange.rows import parsed
from inspections.exchange.taken import take_and_keep
from ratings.models import LotRating, ProofPull


class ImportForm(PlainText, forms.Form):
    """A register as a workbook, a CSV file named like its table, or a ZIP of them."""

    file = forms.FileField(
        label="Register",
        help_text="An XLSX workbook with a sheet for each table, a CSV file named like its table, "
        "or a ZIP of such files.",
    )

    def clean_file(self) -> Any:
        sent = self.cleaned_data["file"]
        if sent.size > MOST_BYTES:
            raise forms.ValidationError(
                f"This file is larger than {MOST_BYTES // 1024**2} MB: send it in parts."
            )
        try:
            self.lines: Lines = read_file(sent.name, sent.read())
        except BadFile as bad:
            raise forms.ValidationError(str(bad)) from None
        return sent


logger = logging.getLogger(__name__)

FORMATS = {
    "xlsx": (
        write_workbook,
        WORKBOOK,
        "xlsx",
    ),
    "csv": (write_csvs, "application/zip", "zip"),
}
# What was tried waits here, by the person who tried it, until it is taken or tried again.
WAITING = "imports/{}.json"


def export(request: HttpRequest, form: str) -> HttpResponse:
    """Send the whole register."""
    if form not in FORMATS:
        raise Http404("There is no such form of the register.")
    write, content_type, ending = FORMATS[form]
    name = f"register-{timezone.localdate():%Y-%m-%d}.{ending}"
    return HttpResponse(
        write(register_rows()),
        content_type=content_type,
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


@manager_required
def exchange(request: HttpRequest) -> HttpResponse:
    """Try a register row by row, then take it whole."""
    if request.method == "POST" and "take" in request.POST:
        return _take(request)
    form = ImportForm(
        request.POST if request.method == "POST" else None,
        request.FILES if request.method == "POST" else None,
    )
    if request.method == "POST" and form.is_valid():
        try:
            trial = try_register(parsed(form.lines), signed_in(request))
            return _page(request, form, trial, _keep(request, form.lines))
        except NoRoom as full:
            form.add_error(None, str(full))
        except OSError as trouble:
            if not is_full(trouble):
                raise
            form.add_error(None, str(NoRoom()))
    if request.method == "POST":
        logger.warning("file of “%s” refused: %r", request.user, form.errors.get_json_data())
    return _page(request, form)


def _take(request: HttpRequest) -> HttpResponse:
    kept = _kept(request)
    if kept is None or _name_of(kept) != request.POST["take"]:
        messages.error(request, "Another file was tried since, or none waits: try this one again.")
        return redirect("exchange")
    try:
        trial = take_and_keep(
            name="Register",
            rows=parsed(_lines(kept)),
            by=signed_in(request),
            place_of=lambda fate: f"{fate.table}, line {fate.line}",
        )
    except Refused as refused:
        logger.warning("register of “%s” not taken: %s", request.user, refused)
        note_refusal(str(refused))
        messages.error(request, "A row can’t be taken any more, so nothing was: see below.")
        return _page(request, ImportForm(), refused.trial)
    except NoRoom as full:
        note_refusal(str(full))
        messages.error(request, str(full))
        return redirect("exchange")
    default_storage.delete(_place(request))
    messages.success(request, f"{trial.news} row{' is' if trial.news == 1 else 's are'} recorded.")
    if LotRating.objects.waiting().exists():
        messages.warning(request, "Ratings drafted from bench tests wait here for a second person.")
        return redirect("lots")
    return redirect("board")


def _page(
    request: HttpRequest, form: ImportForm, trial: Trial | None = None, tried: str = ""
) -> HttpResponse:
    housings = SuppressorHousing.objects.values_list("pk", flat=True)
    context = {
        "section": "due",
        "form": form,
        "trial": trial,
        "tried": tried,
        "soft_units": len(ProofPull.objects.softness_by_housing(housings)),
    }
    return render(request, "exchange/exchange.html", context)


def _place(request: HttpRequest) -> str:
    return WAITING.format(signed_in(request).pk)


def _keep(request: HttpRequest, lines: Lines) -> str:
    """Let what is tried wait, and return a name for it: what is taken is what was looked at."""
    kept = json.dumps(lines).encode("utf-8")
    default_storage.delete(_place(request))
    default_storage.save(_place(request), ContentFile(kept))
    return _name_of(kept)


def _name_of(kept: bytes) -> str:
    return hashlib.sha256(kept).hexdigest()


def _kept(request: HttpRequest) -> bytes | None:
    if not default_storage.exists(_place(request)):
        return None
    with default_storage.open(_place(request)) as file:
        return bytes(file.read())


def _lines(kept: bytes) -> Lines:
    return {
        table: [(line, cells, Decimals(decimals)) for line, cells, decimals in rows]
        for table, rows in json.loads(kept).items()
    }
