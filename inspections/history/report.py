"""The history report as a PDF: what an auditor takes away and can check later."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, time
from io import BytesIO
from typing import BinaryIO

from django.conf import settings
from django.contrib.auth.models import User
from django.utils import timezone

from fleet.dates import day_words, moment_words
from fleet.journal.snapshot import one_moment
from fleet.models import Mounting, SuppressorHousing
from fleet.signers import names_read_once
from inspections.history.facts import DAYS_KIND, KIND, Chapter, days_stated, history_stated
from inspections.history.inspection_section import inspections_section
from inspections.history.ledger_section import ledger_section, over_time_section
from inspections.history.record_sections import findings_section, overdue_section, tables
from inspections.history.span import Span
from inspections.history.standing_section import standing_section, unit_line
from inspections.history.subjects import Subject
from ratings.paper.check_block import write_check
from ratings.paper.long_paper import BODY, SMALL, TITLE, WIDTH, About, Attachment, LongPaper
from ratings.record.attaching import PROOF_NAME, STATED_NAME, proof_for
from ratings.record.papers import (
    WITHIN_ARCHIVE,
    CodeOf,
    Stamp,
    Stated,
    Written,
    contents_of,
    document_of,
    give_out_lasting,
)
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

    @property
    def is_kept_up(self) -> bool:
        """Whether it tells of how a unit stands, so that it can be said whether that still is so.

        Of days gone by nobody shall be told that it still is so: the unit stands otherwise now.
        """
        return isinstance(self.subject.of, SuppressorHousing) and not self.span.is_past

    @property
    def kind(self) -> str:
        return KIND if self.is_kept_up else DAYS_KIND

    @property
    def names(self) -> str:
        """What it is of, by the keys of records."""
        if self.is_kept_up:
            return str(self.subject.of.pk)
        return f"{self.subject.key} {self.span.first or ''}/{self.span.last or ''}"

    def stated(self) -> Stated:
        """Return what it states."""
        if self.is_kept_up:
            return history_stated(self.names, self.system)
        return days_stated(f"{self.subject.words}, {self.span.words}", self.chapters())

    def size(self) -> int:
        """Return how many entries and inspections it prints: what it takes to make."""
        return sum(
            chapter.entries().count() + chapter.inspections().count() for chapter in self.chapters()
        )


def give_out_report(
    out: BinaryIO,
    asked: Asked,
    by: User,
    url_of: Callable[[str], str],
    step: Step = lambda number: None,
) -> Written:
    """Write the report for somebody, and put on record that it was given out.

    url_of: where a code leads.
    """
    return give_out_lasting(
        asked.kind,
        # Two of the same figures over other days are two papers.
        asked.names,
        out,
        by=by,
        url_of=url_of,
        write=lambda code_of: write_report(out, asked, step, code_of, url_of),
    )


def write_report(
    out: BinaryIO,
    asked: Asked,
    step: Step = lambda number: None,
    code_of: CodeOf = lambda contents: "",
    url_of: Callable[[str], str] = str,
) -> Written:
    """Write the report, of one moment of the record.

    The same record, seal, day and options give the same bytes. code_of: the code it bears, "" of
    what is no paper given out.
    """
    with one_moment(), names_read_once():
        stated, at = asked.stated(), _made_at(asked)
        contents = contents_of(asked.kind, asked.system, stated, by=asked.by, made_at=at)
        code = code_of(contents)
        paper = LongPaper(out, _about(asked, code))
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
        if code:
            write_check(paper, Stamp(code, url_of(code), stated, not asked.is_kept_up))
        else:
            contents |= WITHIN_ARCHIVE
        document = document_of(contents, paper.end_pages())
        return Written(document, paper.close(_attachments(stated, document)))


def history_pdf(asked: Asked) -> bytes:
    """Return the report's bytes, of one that goes out with others and has no code of its own."""
    out = BytesIO()
    write_report(out, asked)
    return out.getvalue()


def _attachments(stated: Stated, document: str) -> list[Attachment]:
    """Return what the paper states, and the proof that its entries stand under a seal."""
    told = "What the paper states, and the hash of what each page draws"
    found = [Attachment(STATED_NAME, "application/json", document.encode(), told)]
    proof = proof_for(stated.proven)
    if proof:
        about = "The proof that the last entry of each unit stands under a seal of the record"
        found.append(Attachment(PROOF_NAME, "application/json", proof.encode(), about))
    return found


def _made_at(asked: Asked) -> datetime:
    """Return when it says it was made: the day, so that it is the same all day long."""
    return timezone.make_aware(datetime.combine(asked.span.today, time.min))


def _about(asked: Asked, code: str) -> About:
    subject, today = asked.subject, asked.span.today
    at = _made_at(asked)
    trace = ""
    if subject.is_one and asked.chapters()[0].is_unit:
        head = asked.chapters()[0].head
        trace = f"head entry {head.sequence} {head.hash}" if head else "no ledger entry yet"
    words = f"history of {subject.words}"
    foot = [f"printed {day_words(today)}, {at:%Z} by {asked.by}", trace, foot_words(code)]
    return About(
        title=f"History of {subject.words}",
        author=subject.owner,
        subject=f"What is on record of {subject.words}, {asked.span.words}",
        keywords="history, ledger, inspections",
        made_at=at,
        head=f"{words}, {asked.span.words}",
        foot=tuple(line for line in foot if line),
    )


def _days_words(asked: Asked) -> str:
    words = asked.span.words
    return f"{words[0].upper()}{words[1:]}: what happened or was recorded in these days."


def _zone_words(asked: Asked) -> str:
    offset = f"{_made_at(asked):%z}"
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
