"""Long histories are made beside the page, which tells how far they are.

A row of the database says it, so that any process of the site can tell.
"""

from __future__ import annotations

from datetime import timedelta
from tempfile import TemporaryFile
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.core.files import File
from django.core.files.storage import default_storage
from django.db import transaction
from django.utils import timezone

from fleet.long_work.acts import Tell
from fleet.long_work.queue import ask
from fleet.roles import who_words
from inspections.history.report import Asked, give_out_report
from inspections.history.span import Span
from inspections.history.subjects import subject_of
from inspections.models import HistoryRun
from ratings.record.giving import paper_page_at

# So many entries and inspections are printed while whoever asked waits: some seconds.
MOST_AT_ONCE = 2_000
# What the other sections of a chapter take, in entries.
OF_A_CHAPTER = 60
MOST_GOING = 2
KEPT_FOR = timedelta(days=7)


def size_of(asked: Asked) -> int:
    """Return how much a history is, in entries and inspections."""
    return asked.size() + OF_A_CHAPTER * (len(asked.chapters()) - 1)


def is_long(asked: Asked) -> bool:
    """Whether a history is made beside the page."""
    return size_of(asked) > MOST_AT_ONCE


@transaction.atomic
def begin(asked: Asked, by: User, site: str) -> HistoryRun:
    """Begin to make a long history, or return the one like it that somebody is having made.

    site: the address to which the code of its paper leads. Raises ValidationError where as many
    are being made as the site makes at once.
    """
    _throw_old_away()
    going = HistoryRun.objects.going()
    span = asked.span
    options = {
        "of": asked.subject.key,
        "first": span.first,
        "last": span.last,
        "today": span.today,
        "system": asked.system,
    }
    same = going.filter(asked_by=by, **options).first()
    if same is not None:
        return same
    if going.count() >= MOST_GOING:
        raise ValidationError(
            {"of": f"{MOST_GOING} long histories are being made now: ask again in some minutes."}
        )
    run = HistoryRun(asked_by=by, words=asked.subject.words, total=asked.size(), **options)
    run.save()
    run.work = ask("history", {"run": run.pk, "site": site}, by=by)
    run.save(update_fields=["work"])
    return run


def do(arguments: dict[str, Any], tell: Tell) -> None:
    """Make a history, and keep its file."""
    run = HistoryRun.objects.select_related("asked_by").filter(pk=arguments["run"]).first()
    if run is None or run.ended_at is not None:
        return
    subject = subject_of(run.of)
    if subject is None:
        raise LookupError(f"{run.of} is not on record")
    asked = Asked(
        subject, Span(run.first, run.last, run.today), run.system, who_words(run.asked_by)
    )
    with TemporaryFile() as out:
        url_of = paper_page_at(arguments["site"])
        written = give_out_report(out, asked, run.asked_by, url_of, tell)
        out.seek(0)
        # What a try before this one left, of which no record tells.
        default_storage.delete(place_of(run))
        run.file.name = default_storage.save(place_of(run), File(out))
    run.pages, run.ended_at = written.pages, timezone.now()
    run.save(update_fields=["file", "pages", "ended_at"])


def place_of(run: HistoryRun) -> str:
    """Return where the file of a history is kept: the same, however often it is begun."""
    return f"histories/history-{run.of}-{run.pk}.pdf"


def give_up(arguments: dict[str, Any], words: str) -> bool:
    """Let the page say why there is no report, unless there is one."""
    run = HistoryRun.objects.filter(pk=arguments["run"], ended_at=None)
    return bool(run.update(ended_at=timezone.now(), trouble=words))


def _throw_old_away() -> None:
    """Remove the files of histories made long ago: each can be made again."""
    for run in HistoryRun.objects.filter(asked_at__lt=timezone.now() - KEPT_FOR):
        default_storage.delete(run.file.name or place_of(run))
        run.delete()
