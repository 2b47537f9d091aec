"""The section that prints the times a unit was out of service, and why."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.platypus import Flowable

from fleet.dates import moment_words
from fleet.models import OutOfService
from inspections.history.facts import History
from ratings.paper.numbered import WIDTH
from ratings.paper.style import HEADING, paragraph, table
from ratings.paper.words import who_words


def service_section(history: History) -> Iterator[Flowable]:
    yield paragraph("Times out of service", HEADING)
    if not history.times_out:
        yield paragraph("None on record.")
        return
    yield table(
        ("From", "To", "Why it went out", "How it came back"),
        [_row(each) for each in history.times_out],
        (80, 80, (WIDTH - 160) / 2, (WIDTH - 160) / 2),
    )


def _row(spell: OutOfService) -> tuple[str, str, str, str]:
    taken_out = f"{_sentence(spell.reason)} Taken out by {who_words(spell.recorded_by)}."
    if spell.released_at is None or spell.released_by is None:
        return moment_words(spell.since), "now", taken_out, "Not released yet."
    fit = f" Found fit by {spell.qualified_person}." if spell.qualified_person else ""
    released = f"{_sentence(spell.release_reason)}{fit} Released by {who_words(spell.released_by)}."
    return moment_words(spell.since), moment_words(spell.released_at), taken_out, released


def _sentence(words: str) -> str:
    return words.rstrip(".") + "."
