from __future__ import annotations

from dataclasses import dataclass

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_POST

from fleet.context import system_of
from fleet.keys import whole_number
from ratings.extraction.answer import Answer, Question, Row, answer_for, answer_for_unit
from ratings.extraction.changes import Seen, change_words, read, seen_now, written
from ratings.extraction.sentences import margin_words, range_sentence
from ratings.extraction.told import governing_sentence, tell_unit
from ratings.forms.job import JobEntry
from ratings.mechanics.extraction.job import Job


@dataclass(frozen=True)
class ToldRow:
    """A row of the ranking in words. change: how it stood when last seen, "" if no different."""

    row: Row
    margin: str
    sentence: str
    range: str
    change: str


@require_POST
def job_answer(request: HttpRequest) -> HttpResponse:
    """The ranking for a job as it stands in the form, with what changed marked. Saves nothing."""
    entry = JobEntry(request.POST, system=system_of(request))
    if not entry.is_valid():
        return render(request, "ratings/job_answer.html", {"entry": entry, "answer": None})
    answer = answer_for(_question(entry), whole_number(request.POST.get("page", "")) or 1)
    before, now = read(request.POST.get("shown", "")), seen_now(answer.rows)
    rows = told_rows(answer, entry.job, before, system_of(request))
    return render(
        request,
        "ratings/job_answer.html",
        {
            "entry": entry,
            "answer": answer,
            "rows": rows,
            "changed": sum(1 for row in rows if row.change),
            "shown": written(now),
            "job_id": entry.job_id,
        },
    )


@require_POST
def job_answer_unit(request: HttpRequest, housing_id: int) -> HttpResponse:
    """All there is to say of one unit for a job as it stands in the form. Saves nothing."""
    entry = JobEntry(request.POST, system=system_of(request))
    if not entry.is_valid():
        return render(request, "ratings/job_answer.html", {"entry": entry, "answer": None})
    answer = answer_for_unit(_question(entry), housing_id)
    if answer is None:
        raise Http404("This housing is on no hammer.")
    told = tell_unit(answer, system_of(request))
    return render(request, "ratings/job_answer_unit.html", {"told": told, "answer": answer})


def told_rows(answer: Answer, job: Job, before: dict[int, Seen], system: str) -> list[ToldRow]:
    """Return the rows of an answer in words, beside what was shown before."""
    now = seen_now(answer.rows)
    return [
        ToldRow(
            row=row,
            margin=margin_words(row.verdict.margin),
            sentence=governing_sentence(row, job, system),
            range=range_sentence(
                row.verdict, answer.ground.low_lbf, answer.ground.high_lbf, system
            ),
            change=change_words(
                before.get(row.candidate.housing.pk), now[row.candidate.housing.pk]
            ),
        )
        for row in answer.rows
    ]


def _question(entry: JobEntry) -> Question:
    return Question(entry.job, entry.first_day, entry.last_day, entry.distances, entry.job_id)
