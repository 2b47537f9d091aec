from __future__ import annotations

from dataclasses import dataclass

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_POST

from fleet.context import system_of
from fleet.keys import whole_number
from ratings.extraction.amounts import margin_words
from ratings.extraction.answer import (
    Answer,
    Question,
    Row,
    answer_for,
    answer_for_unit,
    question_of,
)
from ratings.extraction.changes import Seen, change_words, news, read, seen_now, written
from ratings.extraction.rangewords import range_words
from ratings.extraction.told import governing_sentence, other_reasons, tell_unit
from ratings.forms.job import JobEntry
from ratings.mechanics.extraction.job import Job
from ratings.models import Commitment, ExtractionJob

MOST_OPEN = 25


@dataclass(frozen=True)
class ToldRow:
    """A row of the ranking in words. change: how it stood when last seen, "" if no different.

    held: this job's own commitment of the unit. is_open: its details stood open.
    """

    row: Row
    margin: str
    sentence: str
    others: list[str]
    range: str
    change: str
    held: Commitment | None
    is_open: bool


@require_POST
def job_answer(request: HttpRequest) -> HttpResponse:
    """The ranking for a job as it stands in the form, with what changed marked. Saves nothing."""
    job = _job(request)
    entry = JobEntry(request.POST, job=job, system=system_of(request))
    if not entry.is_valid():
        return _no_answer(request, entry)
    asked = _question(entry, job)
    page = request.POST.get("to_page") or request.POST.get("page", "")
    answer = answer_for(asked, whole_number(page) or 1)
    before, now = read(request.POST.get("shown", "")), seen_now(answer.rows)
    changed = [
        (row.candidate.housing.mark, before[key], now[key])
        for row in answer.rows
        if (key := row.candidate.housing.pk) in before and before[key] != now[key]
    ]
    context = {
        "entry": entry,
        "answer": answer,
        "rows": _told_rows(request, answer, entry.job, before, job),
        "news": news(changed, bool(before)),
        "shown": written(before, now),
        "job": job,
        "is_as_saved": job is not None and question_of(job) == asked,
    }
    return render(request, "ratings/job_answer.html", context)


@require_POST
def job_answer_unit(request: HttpRequest, housing_id: int) -> HttpResponse:
    """All there is to say of one unit for a job as it stands in the form. Saves nothing."""
    job = _job(request)
    entry = JobEntry(request.POST, job=job, system=system_of(request))
    if not entry.is_valid():
        return _no_answer(request, entry)
    answer = answer_for_unit(_question(entry, job), housing_id)
    if answer is None:
        raise Http404("This housing is on no hammer.")
    told = tell_unit(answer, system_of(request))
    context = {"told": told, "answer": answer, "is_row": True}
    return render(request, "ratings/job_answer_unit.html", context)


def _no_answer(request: HttpRequest, entry: JobEntry) -> HttpResponse:
    # What was shown last is kept, and what stood open, for the answer that comes next.
    context = {
        "entry": entry,
        "answer": None,
        "shown": request.POST.get("shown", ""),
        "opened": request.POST.getlist("open")[:MOST_OPEN],
    }
    return render(request, "ratings/job_answer.html", context)


def _job(request: HttpRequest) -> ExtractionJob | None:
    """The job on record that the form changes, if it does one."""
    key = whole_number(request.POST.get("job", ""))
    if key is None:
        return None
    return ExtractionJob.objects.prefetch_related("layers", "distances").filter(pk=key).first()


def _question(entry: JobEntry, job: ExtractionJob | None) -> Question:
    key = job.pk if job else None
    return Question(entry.job, entry.first_day, entry.last_day, entry.distances, key)


def _told_rows(
    request: HttpRequest,
    answer: Answer,
    asked: Job,
    before: dict[int, Seen],
    job: ExtractionJob | None,
) -> list[ToldRow]:
    """Return the rows of an answer in words, beside what was shown before."""
    system, now = system_of(request), seen_now(answer.rows)
    held = _held(job)
    opened = {whole_number(each) for each in request.POST.getlist("open")}
    return [
        ToldRow(
            row=row,
            margin=margin_words(row.verdict.margin),
            sentence=governing_sentence(row, asked, system),
            others=other_reasons(row),
            range=range_words(row.verdict, answer.ground.high_lbf, system),
            change=change_words(before.get(key), now[key]),
            held=held.get(key),
            is_open=key in opened,
        )
        for row in answer.rows
        for key in [row.candidate.housing.pk]
    ]


def _held(job: ExtractionJob | None) -> dict[int, Commitment]:
    if job is None:
        return {}
    return {each.housing_id: each for each in job.commitments.filter(released_at__isnull=True)}
