from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.text import slugify
from django.views.decorators.http import require_safe

from fleet.cells import csv_stream, xlsx_download
from fleet.journal.who import at_work
from fleet.models import TreeSize
from fleet.tables import Column, MomentColumn, RecordsTable, table_of
from ratings import check_record
from ratings.models import LedgerEntry, Seal
from ratings.record.lines import AT_ONCE, HEADER, LinesForm, rows_of
from ratings.record.proofs import exported, proof_of_entry
from ratings.record.seals import make_seal
from ratings.record.verify import last_amiss, last_held, verify_record

# Where the page of a run is cut in two, to be filled while it is read.
PARTS = "<!-- parts -->"
FORMS = ("csv", "xlsx", "jsonl")


class SealTable(RecordsTable):
    """Every seal that was made, the newest first."""

    anchor = "seals"
    own_prefix = "seals-"
    caption = "Seals"
    empty_words = "None yet: the daily job makes one, and so does the button above."
    dated_by = ("made_at",)

    number = Column("Number", css="number")
    made_at = MomentColumn("Made")
    size = Column("Lines it covers", css="number")
    code = Column("Code", orderable=False)

    def render_number(self, record: Seal) -> SafeString:
        return format_html(
            '<a href="{}">{}</a>', reverse("seal-text", args=[record.number]), record
        )


def record(request: HttpRequest) -> HttpResponseBase:
    """Show when the record last held, and the seals; verify it or seal it when asked to."""
    if request.method == "POST":
        if request.POST.get("act") == "verify":
            return StreamingHttpResponse(_verifying_as_asked(request))
        seal = make_seal()
        messages.success(request, f"Seal {seal.number} covers {seal.size} lines: keep a copy.")
        return redirect("record")
    return render(
        request,
        "record/record.html",
        {
            "section": "record",
            "held": last_held(),
            "amiss": last_amiss(),
            "size": TreeSize.objects.filter(pk=1).values_list("size", flat=True).first() or 0,
            "table": table_of(request, SealTable, Seal.objects.order_by("-number")),
            "form": LinesForm(),
        },
    )


def _verifying_as_asked(request: HttpRequest) -> Iterator[str]:
    """Yield the page of a run, which the journal says this person asked for."""
    with at_work(request):
        yield from _verifying(request)


def _verifying(request: HttpRequest) -> Iterator[str]:
    """Yield the page of a run as it goes on: a line for each part, and what differs in it."""
    head, foot = render_to_string("record/verifying.html", request=request).split(PARTS)
    yield head
    faults = 0
    for looked in verify_record():
        title = looked.part.title
        if not looked.is_done:
            yield format_html("<li>… {} looked at: {}</li>\n", looked.many, title)
        elif looked.faults:
            faults += len(looked.faults)
            for fault in looked.faults:
                yield format_html("<li><strong>⚠ It does not hold.</strong> {}</li>\n", fault)
        else:
            yield format_html("<li>✓ {}</li>\n", title[0].upper() + title[1:])
    words = "⚠ The record does not hold." if faults else "✓ All of it holds."
    yield format_html("</ul><p><strong>{}</strong></p><ul>", words)
    yield foot


@require_safe
def seal_text(request: HttpRequest, number: int) -> HttpResponseBase:
    """Send the text of a seal, to be kept."""
    seal = get_object_or_404(Seal, number=number)
    return _file(
        HttpResponse(seal.text, content_type="text/plain; charset=utf-8"), f"seal-{number}.txt"
    )


@require_safe
def journal_export(request: HttpRequest) -> HttpResponseBase:
    """Send the whole journal, a leaf to a line."""
    lines = (f"{line}\n" for line in exported())
    return _file(StreamingHttpResponse(lines, content_type="application/jsonl"), "journal.jsonl")


@require_safe
def script(request: HttpRequest) -> HttpResponseBase:
    """Send the script that checks seals, exports and proofs by itself."""
    text = Path(check_record.__file__).read_text(encoding="utf-8")
    return _file(HttpResponse(text, content_type="text/x-python; charset=utf-8"), "check_record.py")


@require_safe
def entry_document(request: HttpRequest, entry_id: int) -> HttpResponseBase:
    """Send an entry of a ledger, the very bytes that were hashed."""
    entry = get_object_or_404(LedgerEntry.objects.select_related("housing"), pk=entry_id)
    response = HttpResponse(entry.document, content_type="application/json; charset=utf-8")
    return _file(response, f"{_name_of(entry)}.json")


@require_safe
def entry_proof(request: HttpRequest, entry_id: int) -> HttpResponseBase:
    """Send the proof that an entry stands in the journal under the last seal that was made."""
    entry = get_object_or_404(LedgerEntry.objects.select_related("housing"), pk=entry_id)
    try:
        text = proof_of_entry(entry, Seal.objects.order_by("-number").first())
    except LookupError:
        messages.error(
            request,
            f"Entry {entry.sequence} of unit {entry.housing} came after the last seal, so that "
            "nothing proves it yet: make a seal here, then ask for its proof again.",
        )
        return redirect("record")
    response = HttpResponse(text, content_type="application/json; charset=utf-8")
    return _file(response, f"{_name_of(entry)}-proof.json")


def _name_of(entry: LedgerEntry) -> str:
    mark = slugify(entry.housing.mark) or entry.housing_id
    return f"entry-{entry.sequence}-of-{mark}"


@require_safe
def journal_lines(request: HttpRequest, form: str) -> HttpResponseBase:
    """Send lines of the journal between two numbers or days, as a table or as they were hashed."""
    asked = LinesForm(request.GET)
    if form not in FORMS:
        raise Http404("The journal goes out as CSV, XLSX and JSON lines.")
    if not asked.is_valid():
        return render(
            request, "record/lines.html", {"section": "record", "form": asked}, status=400
        )
    name = f"journal-{timezone.localdate():%Y-%m-%d}"
    lines = asked.lines()
    if form == "csv":
        return csv_stream(name, HEADER, rows_of(lines))
    if form == "xlsx":
        return xlsx_download(name, HEADER, rows_of(lines))
    told = lines.values_list("document", flat=True).iterator(AT_ONCE)
    return _file(
        StreamingHttpResponse((f"{line}\n" for line in told), content_type="application/jsonl"),
        f"{name}.jsonl",
    )


def _file(response: HttpResponseBase, name: str) -> HttpResponseBase:
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
