"""The sections that print pad replacements and mountings."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.platypus import Flowable

from fleet.dates import moment_words
from inspections.history.facts import History
from inspections.models import PadReplacement
from ratings.paper.numbered import WIDTH
from ratings.paper.style import HEADING, paragraph, table
from ratings.paper.words import who_words


def replacements_section(history: History) -> Iterator[Flowable]:
    yield paragraph("Pad replacements", HEADING)
    if not history.replacements:
        yield paragraph("None on record.")
        return
    yield table(
        ("No.", "Fitted", "Signed by", "Pads"),
        [_replacement_row(each) for each in history.replacements],
        (36, 92, 110, WIDTH - 238),
    )


def _replacement_row(replacement: PadReplacement) -> tuple[str, str, str, str]:
    pads = "; ".join(
        f"{pad.side}{pad.number}: {pad.removed_condition or 'not counted'} out, "
        f"lot {pad.lot.mark} in"
        for pad in replacement.pads.all()
    )
    return (
        str(replacement.pk),
        moment_words(replacement.fitted_at),
        who_words(replacement.recorded_by),
        pads,
    )


def mountings_section(history: History) -> Iterator[Flowable]:
    yield paragraph("Mountings", HEADING)
    if not history.mountings:
        yield paragraph("Never mounted on a hammer on record.")
        return
    yield table(
        ("Hammer", "From", "To"),
        [
            (
                each.hammer.mark,
                moment_words(each.mounted_at),
                moment_words(each.removed_at) if each.removed_at else "now",
            )
            for each in history.mountings
        ],
        (140, 110, 110),
    )
