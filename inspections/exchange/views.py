from __future__ import annotations

import logging
from io import BytesIO
from typing import Any

from django import forms
from django.contrib import messages
from django.core.files.storage import default_storage
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django_htmx.http import HttpResponseClientRedirect

from fleet.aside import NoRoom, is_full
from fleet.fields import PlainText, note_refusal
from fleet.kept_files import NotKept
from fleet.models import LongWork, SuppressorHousing
from fleet.roles import manager_required, signed_in
from inspections.exchange import long_export, long_register
from inspections.exchange.incoming import Refused, Trial, try_register
from inspections.exchange.long_export import FORMATS
from inspections.exchange.reading import MOST_BYTES, BadFile, Lines, read_file
from inspections.exchange.rows import parsed
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


def export(request: HttpRequest, form: str) -> HttpResponseBase:
    """Send the whole register; of a large yard, once it is written beside this page."""
    if form not in FORMATS:
        raise Http404("There is no such form of the register.")
    by = signed_in(request)
    work = long_export.work_of(by, form)
    if request.method == "POST" or (work is None and long_export.is_long()):
        if work is None or work.is_over:
            long_export.begin(by, form)
        return redirect("export", form)
    _, content_type, ending = FORMATS[form]
    if work is None:
        held = BytesIO()
        long_export.write(form, held)
        held.seek(0)
        name = f"register-{timezone.localdate():%Y-%m-%d}.{ending}"
        return _file(held, content_type, name)
    if "file" in work.result and request.GET.get("file") == str(work.pk):
        try:
            kept = default_storage.open(work.result["file"])
        except OSError:
            raise NotKept("It was written and is not there any more: write it anew.") from None
        return _file(kept, content_type, work.result["name"])
    return render(request, "exchange/long_export.html", {"section": "due", "work": work})


def _file(file: Any, content_type: str, name: str) -> FileResponse:
    return FileResponse(file, as_attachment=True, filename=name, content_type=content_type)


@manager_required
def exchange(request: HttpRequest) -> HttpResponse:
    """Try a register row by row, then take it whole; a long one beside the page."""
    by = signed_in(request)
    work = long_register.work_of(by)
    if work is not None and not work.is_over:
        context = {"section": "due", "working": work.arguments, "began": work.asked_at}
        return render(request, "exchange/working.html", context)
    if request.method == "POST" and "take" in request.POST:
        return _take(request)
    if work is not None and request.method == "GET":
        return _what_came_of(request, work)
    form = ImportForm(
        request.POST if request.method == "POST" else None,
        request.FILES if request.method == "POST" else None,
    )
    if request.method == "POST" and form.is_valid():
        try:
            return _try(request, form)
        except NoRoom as full:
            form.add_error(None, str(full))
        except OSError as trouble:
            if not is_full(trouble):
                raise
            form.add_error(None, str(NoRoom()))
    if request.method == "POST":
        logger.warning("file of “%s” refused: %r", request.user, form.errors.get_json_data())
    return _page(request, form)


def _try(request: HttpRequest, form: ImportForm) -> HttpResponse:
    by = signed_in(request)
    if long_register.is_long(form.lines):
        long_register.begin(by, long_register.TRY, long_register.keep(by, form.lines), form.lines)
        return redirect("exchange")
    trial = try_register(parsed(form.lines), by)
    return _page(request, form, trial, long_register.keep(by, form.lines))


def _take(request: HttpRequest) -> HttpResponse:
    by, name = signed_in(request), request.POST["take"]
    lines = long_register.waiting(by, name)
    if lines is None:
        messages.error(request, long_register.ANOTHER)
        return redirect("exchange")
    if long_register.is_long(lines):
        long_register.begin(by, long_register.TAKE, name, lines)
        return redirect("exchange")
    try:
        trial = long_register.take(lines, by)
    except Refused as refused:
        return _not_taken(request, refused.trial, str(refused))
    except NoRoom as full:
        note_refusal(str(full))
        messages.error(request, str(full))
        return redirect("exchange")
    return _is_taken(request, trial.news)


def _what_came_of(request: HttpRequest, work: LongWork) -> HttpResponse:
    """Tell what came of a long register: its trial until it is taken, all else once."""
    result = work.result
    trial = long_register.trial_of(result)
    if trial is not None and not result.get("is_refused"):
        return _page(request, ImportForm(), trial, work.arguments["name"])
    long_register.told(work)
    if trial is not None:
        return _not_taken(request, trial, f"{len(trial.refused)} rows refused")
    if "taken" in result:
        answer = _is_taken(request, result["taken"])
        is_polled = "HX-Request" in request.headers
        return HttpResponseClientRedirect(answer["Location"]) if is_polled else answer
    messages.error(request, result.get("trouble") or work.trouble)
    return _page(request, ImportForm())


def _not_taken(request: HttpRequest, trial: Trial, words: str) -> HttpResponse:
    logger.warning("register of “%s” not taken: %s", request.user, words)
    note_refusal(words)
    messages.error(request, "A row can’t be taken any more, so nothing was: see below.")
    return _page(request, ImportForm(), trial)


def _is_taken(request: HttpRequest, news: int) -> HttpResponse:
    long_register.throw_away(signed_in(request))
    messages.success(request, f"{news} row{' is' if news == 1 else 's are'} recorded.")
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
