"""The history report as a PDF: what an auditor takes away and can check later."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, time
from io import BytesIO
from typing import BinaryIO

from django.conf import settings
from django.utils import timezone

from fleet.dates import day_words, moment_words
from fleet.journal.snapshot import one_moment
from fleet.models import Mounting
from fleet.signers import names_read_once
from inspections.history.facts import Chapter
from inspections.history.inspection_section import inspections_section
from inspections.history.ledger_section import ledger_section, over_time_section
from inspections.history.record_sections import findings_section, overdue_section, tables
from inspections.history.span import Span
from inspections.history.standing_section import standing_section, unit_line
from inspections.history.subjects import Subject
from ratings.paper.long_paper import BODY, SMALL, TITLE, WIDTH, About, Attachment, LongPaper
from ratings.record.attaching import NAME as PROOF_NAME
from ratings.record.attaching import proof_for
from ratings.record.seals import foot_words

# Told how many entries and inspections were written since it was told last.
Step = Callable[[int], None]


@dataclass(frozen=True)
class Asked:
    """What a report is asked for: of what, over which days, in which units, by whom."""

    subject: Subject
    span: Span
    system: str
    by: str

    def chapters(self) -> list[Chapter]:
        return self.subject.chapters(self.span, self.system)

    def size(self) -> int:
        """Return how many entries and inspections it prints: what it takes to make."""
        return sum(
            chapter.entries().count() + chapter.inspections().count() for chapter in self.chapters()
        )


def write_report(out: BinaryIO, asked: Asked, step: Step = lambda number: None) -> int:
    """Write the report, of one moment of the record, and return how many pages it has.

    The same record, seal, day and options give the same bytes.
    """
    with one_moment(), names_read_once():
        paper = LongPaper(out, _about(asked))
        chapters = asked.chapters()
        paper.text(f"History of {asked.subject.words}", TITLE)
        paper.text(_days_words(asked))
        paper.text(_zone_words(asked), SMALL)
        if asked.subject.is_one:
            _chapter(paper, chapters[0], 0, step)
        else:
            _contents(paper, chapters)
            for chapter in chapters:
                with paper.section(_heading(chapter), 0):
                    _chapter(paper, chapter, 1, step)
        _letters(paper)
        return paper.close(_proofs(chapters))


def history_pdf(asked: Asked) -> bytes:
    """Return the report's bytes, of a history that is no long one."""
    out = BytesIO()
    write_report(out, asked)
    return out.getvalue()


def _proofs(chapters: list[Chapter]) -> list[Attachment]:
    """Return the proof that the last entry of each unit stands under a seal."""
    heads = [chapter.head for chapter in chapters if chapter.head is not None]
    proof = proof_for(heads)
    if not proof:
        return []
    about = "The proof that the last entry of each unit stands under a seal of the record"
    return [Attachment(PROOF_NAME, "application/json", proof.encode(), about)]


def _about(asked: Asked) -> About:
    subject, today = asked.subject, asked.span.today
    made_at = timezone.make_aware(datetime.combine(today, time.min))
    trace = ""
    if subject.is_one and asked.chapters()[0].is_unit:
        head = asked.chapters()[0].head
        trace = f"head entry {head.sequence} {head.hash}" if head else "no ledger entry yet"
    words = f"history of {subject.words}"
    foot = [f"printed {day_words(today)}, {made_at:%Z} by {asked.by}", trace, foot_words()]
    return About(
        title=f"History of {subject.words}",
        author=subject.owner,
        subject=f"What is on record of {subject.words}, {asked.span.words}",
        keywords="history, ledger, inspections",
        made_at=made_at,
        head=f"{words}, {asked.span.words}",
        foot=tuple(line for line in foot if line),
    )


def _days_words(asked: Asked) -> str:
    words = asked.span.words
    return f"{words[0].upper()}{words[1:]}: what happened or was recorded in these days."


def _zone_words(asked: Asked) -> str:
    offset = f"{timezone.make_aware(datetime.combine(asked.span.today, time.min)):%z}"
    return (
        f"All times are of the zone {settings.TIME_ZONE}, today UTC{offset[:3]}:{offset[3:]}. "
        "Who signed is named as they were called then. What was corrected since is marked where it "
        "stands."
    )


def _heading(chapter: Chapter) -> str:
    name = chapter.name
    return f"{name[0].upper()}{name[1:]}"


def _chapter(paper: LongPaper, chapter: Chapter, level: int, step: Step) -> None:
    """Write all that is on record of one unit or machine."""
    paper.text(_where_words(chapter))
    if chapter.is_unit and chapter.machine.bumper:
        paper.text(f"Bumper in the stop: {chapter.machine.bumper}")
    if chapter.machine.retired_on:
        paper.text(f"Out of use since {day_words(chapter.machine.retired_on)}.")
    _summary(paper, chapter, level)
    if chapter.is_unit:
        standing_section(paper, chapter, level)
        over_time_section(paper, chapter, level)
        ledger_section(paper, chapter, level, step)
    inspections_section(paper, chapter, level, step)
    overdue_section(paper, chapter, level)
    findings_section(paper, chapter, level)
    tables(paper, chapter, level)


def _where_words(chapter: Chapter) -> str:
    yard = chapter.machine.yard.name
    if not chapter.is_unit:
        return f"{chapter.name} · {yard}"
    mounted = Mounting.objects.hammers_by_housing([chapter.machine.pk]).get(chapter.machine.pk)
    if mounted is None:
        return f"off the hammer · {yard}"
    return " ".join(f"on hammer {mounted.mark} {mounted.make_and_type}".split()) + f" · {yard}"


def _summary(paper: LongPaper, chapter: Chapter, level: int) -> None:
    """Write how much there is of each kind in the span, and of when the first and last is."""
    inspections = chapter.inspections()
    corrected = inspections.filter(corrected_by__isnull=False).count()
    seen = [
        each
        for each in (
            inspections.values_list("seen_at", flat=True).first(),
            inspections.values_list("seen_at", flat=True).last(),
        )
        if each
    ]
    counts = [
        ("Ledger entries", f"{chapter.entries().count():,}" if chapter.is_unit else ""),
        (
            "Inspections",
            f"{inspections.count():,}"
            + (f", {corrected:,} of them corrected" if corrected else ""),
        ),
        ("First and last seen", " and ".join(map(moment_words, dict.fromkeys(seen)))),
        ("Times out of service", f"{chapter.times_out().count():,}"),
        ("Commitments", f"{chapter.commitments().count():,}" if chapter.is_unit else ""),
        ("Listed by", "; ".join(_sources(chapter))),
    ]
    with (
        paper.section("Summary", level),
        paper.rows(("On record in these days", ""), (130, WIDTH - 130)) as add,
    ):
        for row in counts:
            if row[1]:
                add(row)


def _sources(chapter: Chapter) -> list[str]:
    """Return the source of each listing that stands at the end of the span."""
    standing = [each for each in chapter.listings() if not hasattr(each, "corrected_by")]
    last = {each.hammer_id: each for each in standing}
    return [
        f"{each.source} of {day_words(each.dated)} (hammer {each.hammer})" for each in last.values()
    ]


def _contents(paper: LongPaper, chapters: list[Chapter]) -> None:
    """Write a line for each unit, and which machines have a chapter."""
    units = [each for each in chapters if each.is_unit]
    with paper.section("Units", 0):
        if not units:
            paper.text("None on record.")
        else:
            header = (
                "Housing", "On hammer", "Standing", "Line pull", "Working capacity", "Listed",
                "Entries", "Inspections",
            )  # fmt: skip
            widths = (56, 56, 66, 88, 88, 86, 36, WIDTH - 476)
            with paper.rows(header, widths) as add:
                for chapter in units:
                    add(unit_line(chapter))
    others = [each.name for each in chapters if not each.is_unit]
    paper.text(f"Machines with a chapter of their own: {', '.join(others) or 'none'}.", BODY)


def _letters(paper: LongPaper) -> None:
    """Say which characters the paper's letters lack, and how they are printed."""
    lacking = paper.fonts.letters.lacking
    if not lacking:
        return
    with paper.section("Characters this paper has no letters for", 0):
        paper.text(
            "They stand as typed in the record. Here each prints as its Unicode number in brackets:"
        )
        paper.text("; ".join(f"{written} {name}" for written, name in sorted(lacking.items())))
