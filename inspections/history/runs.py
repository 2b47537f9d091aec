"""Long histories are made beside the page, which tells how far they are.

A row of the database says it, so that any process of the site can tell.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import timedelta
from tempfile import TemporaryFile
from threading import Event

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.core.files import File
from django.db import transaction
from django.utils import timezone

from fleet.roles import who_words
from inspections.history.report import Asked, give_out_report
from inspections.history.span import Span
from inspections.history.subjects import subject_of
from inspections.models import HistoryRun
from inspections.sheets.long_work import start

logger = logging.getLogger(__name__)

# So many entries and inspections are printed while whoever asked waits: some seconds.
MOST_AT_ONCE = 2_000
# What the other sections of a chapter take, in entries.
OF_A_CHAPTER = 60
MOST_GOING = 2
KEPT_FOR = timedelta(days=7)
TOLD_EVERY_SECONDS = 1.0


def size_of(asked: Asked) -> int:
    """Return how much a history is, in entries and inspections."""
    return asked.size() + OF_A_CHAPTER * (len(asked.chapters()) - 1)


def is_long(asked: Asked) -> bool:
    """Whether a history is made beside the page."""
    return size_of(asked) > MOST_AT_ONCE


@transaction.atomic
def begin(asked: Asked, by: User, url_of: Callable[[str], str]) -> HistoryRun:
    """Begin to make a long history, or return the one like it that somebody is having made.

    url_of: where the code of a paper leads. Raises ValidationError where as many are being made as
    the site makes at once.
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
    run = HistoryRun.objects.create(
        asked_by=by, words=asked.subject.words, total=asked.size(), **options
    )
    transaction.on_commit(lambda: start(lambda: make(run.pk, url_of)))
    return run


class Counted:
    """How many entries and inspections were written, told from one thread to another."""

    def __init__(self) -> None:
        self.done = 0

    def add(self, number: int) -> None:
        self.done += number


def make(run_id: int, url_of: Callable[[str], str]) -> None:
    """Make a history, and keep its file; the page that waits learns of any trouble."""
    run = HistoryRun.objects.select_related("asked_by").get(pk=run_id)
    counted, finished = Counted(), Event()
    # By a connection of its own: the one that reads sees a single moment of the record.
    start(lambda: _tell(run_id, counted, finished))
    told: dict[str, object] = {}
    try:
        subject = subject_of(run.of)
        if subject is None:
            raise LookupError(f"{run.of} is not on record")
        asked = Asked(
            subject, Span(run.first, run.last, run.today), run.system, who_words(run.asked_by)
        )
        with TemporaryFile() as out:
            written = give_out_report(out, asked, run.asked_by, url_of, counted.add)
            told["pages"] = written.pages
            out.seek(0)
            run.file.save(f"history-{run.of}-{run.pk}.pdf", File(out), save=False)
            told["file"] = run.file.name
    except Exception:
        # Whatever went wrong, the page must not wait for it for ever.
        logger.exception("history %s of %s not made", run_id, run.of)
        told = {"trouble": "Something went wrong on our side, and no report was made."}
    finally:
        finished.set()
    now = timezone.now()
    HistoryRun.objects.filter(pk=run_id).update(
        done=counted.done, heard_at=now, ended_at=now, **told
    )


def _tell(run_id: int, counted: Counted, finished: Event) -> None:
    """Write down how far a history is, until it is made."""
    while not finished.wait(TOLD_EVERY_SECONDS):
        HistoryRun.objects.filter(pk=run_id, ended_at__isnull=True).update(
            done=counted.done, heard_at=timezone.now()
        )


def _throw_old_away() -> None:
    """Remove the files of histories made long ago: each can be made again."""
    for run in HistoryRun.objects.filter(asked_at__lt=timezone.now() - KEPT_FOR):
        if run.file:
            run.file.delete(save=False)
        run.delete()
