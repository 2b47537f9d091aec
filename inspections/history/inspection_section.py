"""The section that prints every inspection: what was looked at, by whom, what was seen."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from django.utils import timezone

from fleet.dates import moment_words
from fleet.kept_files import photos_gone
from fleet.outages import capital, named
from fleet.signers import signer_words
from inspections.history.facts import Chapter, PadSeen, length_words, pads_seen
from inspections.history.ledger_section import Step
from inspections.models import Inspection, ItemAnswer
from ratings.drawing.surface import Ink, Surface
from ratings.paper.long_paper import ITEM, NOTE, SMALL, WIDTH, LongPaper

CONDITION_LETTERS = {"sound": "S", "cracked": "C", "debonded": "D", "swollen": "W", "missing": "M"}
LEGEND = "S sound, C cracked, D debonded, W swollen, M missing; beside the letter the pad's lot."
_LOT_LETTERS = "abcdefghijklmnopqrstuvwxyz"
_SIDE_WIDTH, _WIDEST, _ROW = 36.0, 30.0, 12.0
_GRID_HEIGHT = 3 * _ROW + 3.0
# What the first inspection takes at least, in points.
_FIRST_INSPECTION = 110.0
# How the answers to a checklist are told, in this order.
_ANSWERS = (
    (ItemAnswer.State.DONE, "Looked at and in order"),
    (ItemAnswer.State.FINDING, "With a finding"),
    (ItemAnswer.State.NOT_SO, "Not so"),
    (ItemAnswer.State.NOT_APPLICABLE, "Not applicable"),
)


def inspections_section(paper: LongPaper, chapter: Chapter, level: int, step: Step) -> None:
    """Write every inspection of the span, in the order they were seen."""
    heading = "Inspections, as signed"
    with paper.section(heading, level, bookmark="Inspections", below=_FIRST_INSPECTION):
        year = 0
        for chunk in chapter.inspections_in_words():
            if not year:
                paper.text(LEGEND, SMALL)
            seen = pads_seen(chunk)
            for inspection in chunk:
                seen_in = timezone.localtime(inspection.seen_at).year
                if seen_in != year:
                    year = seen_in
                    paper.bookmark(f"Inspections of {year}", level + 1)
                _write(paper, chapter, inspection, seen.get(inspection.pk, []))
            step(len(chunk))
        if not year:
            paper.text("None recorded.")


def _write(
    paper: LongPaper, chapter: Chapter, inspection: Inspection, pads: Sequence[PadSeen]
) -> None:
    by = getattr(inspection, "corrected_by", None)
    corrected = _corrected_words(by) if by is not None else ""
    lots, answers = _lots(pads), list(inspection.answers.all())
    words = [*_told(inspection, answers, chapter.system)]
    texts = [
        (
            f"Inspection {inspection.pk} ({inspection.kind_name}) · "
            f"seen {moment_words(inspection.seen_at)} · "
            f"signed {moment_words(inspection.recorded_at)} by {signer_words(inspection)}",
            ITEM,
        ),
        (corrected, NOTE),
        ("; ".join(word.rstrip(".") for word in words if word) + ".", SMALL),
        ("\n".join(_answers(answers)), SMALL),
        (_lots_words(lots), SMALL),
    ]
    paper.together(
        texts,
        anchor=_place(chapter, inspection.pk),
        links={corrected: _place(chapter, by.pk)} if by is not None else None,
        below=_GRID_HEIGHT if pads else 0.0,
    )
    if pads:
        paper.picture(
            WIDTH,
            _GRID_HEIGHT,
            lambda surface: _draw_grid(surface, pads, lots),
            said="; ".join(_pad_words(pad) for pad in pads),
        )


def _place(chapter: Chapter, key: int) -> str:
    """Return the name of an inspection's place in the paper."""
    return f"{chapter.sort.slug}-{chapter.machine.pk}-inspection-{key}"


def _corrected_words(by: Inspection) -> str:
    """Say that what stands here was corrected: by what, when, by whom and why."""
    return (
        f"CORRECTED since: it counts no more. Inspection {by.pk} stands in its place, signed "
        f"{moment_words(by.recorded_at)} by {signer_words(by)}: "
        f"{by.correction_reason.rstrip('.')}."
    )


def _told(inspection: Inspection, answers: Sequence[ItemAnswer], system: str) -> Iterator[str]:
    """Say what an inspection holds besides its checklist and its pads, "" for what it lacks."""
    answered = [answer.state for answer in answers]
    meter, pack_meter = inspection.hour_reading, inspection.pack_hour_reading
    corrected = (
        f"inspection {inspection.corrects_id}"
        if inspection.corrects_id
        else f"pad replacement {inspection.corrects_replacement_id}"
        if inspection.corrects_replacement_id
        else ""
    )
    yield inspected_words(inspection)
    if inspection.housing_id:
        yield f"travel {length_words(inspection.travel_in, system)}"
    yield inspection.travel_reason and f"beyond design: {inspection.travel_reason}"
    yield f"hour meter {meter.hours:g} h" if meter else ""
    yield f"hour meter of the power pack {pack_meter.hours:g} h" if pack_meter else ""
    yield inspection.lacks and f"IT DOES NOT COUNT as one of its kind: it lacks {inspection.lacks}"
    yield corrected and f"corrects {corrected}: {inspection.correction_reason}"
    if inspection.sound_again_reason:
        yield f"pads found unsound before are sound: {inspection.sound_again_reason}"
    look = getattr(inspection, "second_look", None)
    if look is not None:
        found = "agrees" if look.is_agreed else "DOES NOT AGREE"
        yield (
            f"{signer_words(look)} looked too on {moment_words(look.recorded_at)} and {found}: "
            f"{look.reason}"
        )
    yield inspection.weather
    if answered:
        yield (
            f"checklist of {len(answered)}: {answered.count('done')} done, "
            f"{answered.count('not applicable')} not applicable, "
            f"{answered.count('finding')} with a finding"
        )
    yield inspection.note and f"note: {inspection.note}"
    yield _photo_words(inspection)


def _answers(answers: Sequence[ItemAnswer]) -> Iterator[str]:
    """Say what of the checklist was looked at, and what was said of it."""
    for state, heading in _ANSWERS:
        items = [
            f"{answer.part}: {answer.text.rstrip('.')}"
            + (f" ({answer.reason})" if answer.reason else "")
            for answer in answers
            if answer.state == state
        ]
        if items:
            yield f"{heading}: {'; '.join(items)}."


def _photo_words(inspection: Inspection) -> str:
    """Say how many photos there are, and name each whose file is not there; "" for none."""
    photos = list(inspection.photos.all())
    if not photos:
        return ""
    waiting = sum(not hasattr(each, "held") for each in photos)
    words = f"photos: {len(photos)}"
    if waiting:
        words += f", {waiting} still to come from the phone"
    held = ((each.pk, each.held.file) for each in photos if hasattr(each, "held"))
    return ", ".join([words, *photos_gone(held)])


def inspected_words(inspection: Inspection) -> str:
    """Say which machines an inspection looked at, the first word with a capital."""
    machines = inspection.machines
    names = [named(machine) for machine in machines.values()]
    return f"{capital(names[0])} by itself" if len(names) == 1 else f"Of {', '.join(names)}"


def _lots(pads: Sequence[PadSeen]) -> dict[str, str]:
    """Return a short letter for each lot seen, in the order of their marks."""
    marks = sorted({pad.lot for pad in pads if pad.lot})
    if len(marks) > len(_LOT_LETTERS):
        return {mark: str(place) for place, mark in enumerate(marks, start=1)}
    return dict(zip(marks, _LOT_LETTERS, strict=False))


def _lots_words(lots: dict[str, str]) -> str:
    return "Lots: " + ", ".join(f"{letter} {mark}" for mark, letter in lots.items()) if lots else ""


def _pad_words(pad: PadSeen) -> str:
    lot = f", lot {pad.lot}" if pad.lot else ""
    return f"{pad.side}{pad.number} {pad.condition}{lot}"


def _draw_grid(surface: Surface, pads: Sequence[PadSeen], lots: dict[str, str]) -> None:
    """Draw the pad map laid on its side: a column for each number, a row for each side."""
    numbers = sorted({pad.number for pad in pads})
    column = {number: place for place, number in enumerate(numbers)}
    width = min(_WIDEST, (WIDTH - _SIDE_WIDTH) / len(numbers))
    for number, place in column.items():
        x = _SIDE_WIDTH + width * (place + 0.5)
        surface.text(x, _ROW - 3, str(number), Ink.FAINT, 6.5, "middle")
    for row, side in enumerate(("A", "B"), start=1):
        surface.text(0, _ROW * (row + 1) - 3.5, f"Side {side}", Ink.INK, 7.5)
    for pad in pads:
        x, y = _SIDE_WIDTH + width * column[pad.number], _ROW * (1 if pad.side == "A" else 2)
        well = pad.condition == "sound"
        if not well:
            surface.rect(x, y, width, _ROW, Ink.BAND)
        lot = f" {lots[pad.lot]}" if pad.lot else ""
        words = f"{CONDITION_LETTERS[pad.condition]}{lot}"
        surface.text(x + width / 2, y + _ROW - 3.5, words, Ink.INK, 7.5, "middle", bold=not well)
    right = _SIDE_WIDTH + width * len(numbers)
    for row in range(1, 4):
        surface.line(_SIDE_WIDTH, _ROW * row, right, _ROW * row, Ink.GRID, 0.4)
    for place in range(len(numbers) + 1):
        x = _SIDE_WIDTH + width * place
        surface.line(x, _ROW, x, 3 * _ROW, Ink.GRID, 0.4)
