from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING

from django.core.exceptions import ValidationError
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.text import slugify
from django.views.decorators.http import require_POST

from fleet.context import system_of
from fleet.kept_files import NotKept, open_kept
from fleet.long_work.queue import look_after
from fleet.models import SuppressorHousing
from fleet.roles import signed_in, who_words
from inspections.history.forms import HistoryForm
from inspections.history.subjects import Subject
from inspections.models import HistoryRun
from ratings.record.giving import address_of_site, paper_page

if TYPE_CHECKING:
    from inspections.history.report import Asked


def history(request: HttpRequest) -> HttpResponse:
    """Ask of what and over which days; once asked, print the history, or say that it is long."""
    form = HistoryForm(
        request.GET if "of" in request.GET else None, initial={"of": request.GET.get("about")}
    )
    return _asked(request, form)


def history_report(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Print the history of a unit."""
    housing = get_object_or_404(SuppressorHousing, pk=housing_id)
    return _asked(request, HistoryForm({**request.GET.dict(), "of": Subject(housing).key}))


@require_POST
def begin_history(request: HttpRequest) -> HttpResponse:
    """Begin to make a long history."""
    from inspections.history.runs import begin

    form = HistoryForm(request.POST)
    if form.is_valid():
        try:
            run = begin(_asked_for(request, form), signed_in(request), address_of_site(request))
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            return redirect("history-run", run.pk)
    return _form(request, form)


def history_run(request: HttpRequest, run_id: int) -> HttpResponse:
    """Show how far a long history is, and lead to it once it is made."""
    run = get_object_or_404(HistoryRun.objects.select_related("work"), pk=run_id)
    if run.work is not None:
        look_after(run.work)
    return render(request, "history/run.html", {"section": "board", "run": run})


def history_file(request: HttpRequest, run_id: int) -> FileResponse:
    """Send a long history that is made."""
    run = get_object_or_404(HistoryRun, pk=run_id)
    if not run.file:
        raise NotKept("This history is not made yet.")
    return FileResponse(
        open_kept(run.file), filename=f"history-{run.of}.pdf", content_type="application/pdf"
    )


def _form(request: HttpRequest, form: HistoryForm) -> HttpResponse:
    runs = HistoryRun.objects.filter(asked_by=signed_in(request)).select_related("work")[:5]
    return render(request, "history/form.html", {"section": "board", "form": form, "runs": runs})


def _asked_for(request: HttpRequest, form: HistoryForm) -> Asked:
    from inspections.history.report import Asked

    return Asked(form.subject, form.span, system_of(request), who_words(signed_in(request)))


def _asked(request: HttpRequest, form: HistoryForm) -> HttpResponse:
    if not form.is_valid():
        return _form(request, form)
    # Imported on need: the site must not wait for the PDF library at start.
    from inspections.history.report import give_out_report
    from inspections.history.runs import is_long

    asked = _asked_for(request, form)
    if is_long(asked):
        context = {"section": "board", "form": form, "asked": asked, "size": asked.size()}
        return render(request, "history/long.html", context)
    name = f"history-{slugify(asked.subject.words) or asked.subject.key}.pdf"
    out = BytesIO()
    give_out_report(out, asked, signed_in(request), paper_page(request))
    return HttpResponse(
        out.getvalue(),
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"'},
    )
