"""The section that prints what was found wrong at a unit, and what was done about it."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.platypus import Flowable

from fleet.dates import day_words, moment_words
from inspections.history.facts import History
from inspections.models import Finding
from ratings.paper.numbered import WIDTH
from ratings.paper.style import HEADING, paragraph, table
from ratings.paper.words import who_words


def findings_section(history: History) -> Iterator[Flowable]:
    yield paragraph("Findings", HEADING)
    if not history.findings:
        yield paragraph("None on record.")
        return
    yield table(
        ("Found", "How bad", "What", "To be acted on", "Closed"),
        [_row(finding) for finding in history.findings],
        (66, 66, 0.3 * WIDTH, 80, 0.7 * WIDTH - 212),
    )


def _row(finding: Finding) -> tuple[str, str, str, str, str]:
    seen = finding.inspection
    by = f"by {day_words(finding.act_by)}" if finding.act_by else ""
    return (
        f"{moment_words(seen.seen_at)}, {who_words(seen.recorded_by)}",
        finding.get_severity_display(),
        finding.text,
        " ".join(part for part in (finding.who_acts, by) if part) or "–",
        _closed(finding),
    )


def _closed(finding: Finding) -> str:
    closing = getattr(finding, "closing", None)
    if closing is None:
        return "open"
    return f"{moment_words(closing.closed_at)}, {who_words(closing.recorded_by)}: {closing.done}"
