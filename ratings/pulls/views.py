from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from fleet.cells import csv_download
from fleet.context import system_of
from fleet.roles import manager_required, signed_in
from fleet.tables import records_page, table_of
from ratings.drawing.pull_graph import PullGraphFigures
from ratings.jobs.rules import rules_in_force
from ratings.models import LearnedFactor, PullRecord
from ratings.pictures import pull_graphs
from ratings.pulls.forms import LearningForm, TakeForm
from ratings.pulls.judging import calibration, compared, within_range
from ratings.pulls.lessons import (
    SoilLesson,
    change_learning,
    datum_of,
    learning_in_force,
    lessons,
    take_into_rules,
)
from ratings.pulls.tables import CSV_COLUMNS, PullFilter, PullTable

# A graph of more marks than these is a blot; the newest are drawn, and the page says so.
MOST_MARKS = 300


def pulls(request: HttpRequest) -> HttpResponse:
    """Show every pull, what it measured against what was calculated, and how the range holds."""
    rows = PullRecord.objects.with_all()
    filters = PullFilter(request.GET, queryset=rows)
    table = table_of(request, PullTable, filters.qs)
    standing = list(filters.qs.filter(corrected_by__isnull=True))
    rules = rules_in_force()
    drawn = standing[:MOST_MARKS]
    marks = [(pull, pull.expected_lbf, pull.measured_lbf) for pull in drawn]
    known = [(pull, x, y) for pull, x, y in marks if x is not None and y is not None and y > 0.0]
    figures = PullGraphFigures(
        came=tuple((x, y) for pull, x, y in known if pull.is_break_out),
        stayed=tuple((x, y) for pull, x, y in known if pull.is_lower_bound),
        low_factor=rules.low_factor,
        high_factor=rules.high_factor,
        units=system_of(request),
    )
    outside = [pull for pull, x, y in known if _is_drawn(pull) and figures.is_outside((x, y))]
    return records_page(
        request,
        "pulls/pulls.html",
        table,
        filters,
        {
            "section": "jobs",
            "calibration": calibration(standing),
            "compared": compared(standing),
            "graphs": pull_graphs(figures) if figures.came or figures.stayed else None,
            "outside": outside,
            "is_cut": len(standing) > MOST_MARKS,
            "most_marks": MOST_MARKS,
            "rules": rules,
        },
    )


def pulls_csv(request: HttpRequest) -> HttpResponse:
    """Send the pulls that the filters leave as a CSV file, every one of them."""
    filters = PullFilter(request.GET, queryset=PullRecord.objects.with_all())
    if filters.refusals:
        # The page says what is wrong with what was asked.
        return pulls(request)
    rows = ([read(pull) for read in CSV_COLUMNS.values()] for pull in filters.qs)
    return csv_download("pulls", tuple(CSV_COLUMNS), rows)


def _is_drawn(pull: PullRecord) -> bool:
    return pull.is_break_out or pull.is_lower_bound


def pull_record(request: HttpRequest, pull_record_id: int) -> HttpResponse:
    """Show one pull: what was seen, what it comes to beside the answer, and what it teaches."""
    found = PullRecord.objects.with_all().select_related("answer", "corrects")
    pull = get_object_or_404(found.prefetch_related("photos__held"), pk=pull_record_id)
    return render(
        request,
        "pulls/pull.html",
        {
            "section": "jobs",
            "pull": pull,
            "within": within_range(pull),
            "datum": datum_of(pull, learning_in_force().least_share_pct / 100.0),
            "photos": pull.photos.all(),
        },
    )


def pull_lessons(request: HttpRequest) -> HttpResponse:
    """Show what pulls teach of each soil; a manager may take it into the rules."""
    return _lessons_page(request, None, None)


@manager_required
@require_POST
def take_lesson(request: HttpRequest) -> HttpResponse:
    """Take a factor learned into the rules."""
    form = TakeForm(request.POST)
    if form.is_valid():
        try:
            taken = take_into_rules(**form.cleaned_data, by=signed_in(request))
        except ValidationError as refusal:
            form.take(refusal)
        else:
            messages.success(
                request,
                f"The rules have {taken.factor:g} for {taken.soil} from now on. What units were "
                "committed on before stays as it was judged.",
            )
            return redirect("pull-lessons")
    return _lessons_page(request, form, None)


@manager_required
@require_POST
def change_lesson_rules(request: HttpRequest) -> HttpResponse:
    """Change how much pulls weigh."""
    form = LearningForm(request.POST, in_force=learning_in_force(), system=system_of(request))
    if form.is_valid():
        try:
            change_learning(
                submission_id=form.cleaned_data["submission_id"],
                policy=form.policy(),
                reason=form.cleaned_data["reason"],
                by=signed_in(request),
            )
        except ValidationError as refusal:
            form.take(refusal)
        else:
            messages.success(request, "The learning rules are in force.")
            return redirect("pull-lessons")
    return _lessons_page(request, None, form)


def _lessons_page(
    request: HttpRequest, sent: TakeForm | None, changing: LearningForm | None
) -> HttpResponse:
    told = lessons()
    shown = [each for each in told if each.data]
    return render(
        request,
        "pulls/lessons.html",
        {
            "section": "jobs",
            "lessons": [{"told": each, "form": _take_form(each, sent)} for each in shown],
            "silent": [each.now for each in told if not each.data],
            "learning": learning_in_force(),
            "sent": sent,
            "form": changing
            or LearningForm(in_force=learning_in_force(), system=system_of(request)),
            "is_changing": changing is not None,
            "taken": LearnedFactor.objects.select_related("recorded_by")[:10],
            "rules": rules_in_force(),
        },
    )


def _take_form(told: SoilLesson, sent: TakeForm | None) -> Any:
    if not told.may_be_taken:
        return None
    if sent is not None and sent.data.get("soil") == told.now.name:
        return sent
    return TakeForm(
        initial={"soil": told.now.name, "factor": told.proposed, "source": told.source},
        auto_id=f"id_take_{told.now.name.replace(' ', '-').replace(',', '')}_%s",
    )
