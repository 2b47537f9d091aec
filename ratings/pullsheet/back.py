"""The back of a pull sheet: every group of piles, conditions, the crane, and what is left out."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Spacer, Table

from fleet.dates import day_words
from fleet.quantities import Quantity, capacity_words, plain_number, pull_words
from ratings.jobs.stops import GroupSheet
from ratings.jobs.words import capitalized, condition_sentence, margin_words
from ratings.mechanics.extraction.left_out import left_out
from ratings.mechanics.extraction.outcomes import Check, CheckKey, ConditionKey, Outcome
from ratings.models import LoadIndicator
from ratings.paper.style import BODY, GRID, SMALL, cells, paragraph, ruled
from ratings.pullsheet.facts import Sheet
from ratings.pullsheet.layout import GUTTER, MARGIN, WIDTH, force_words, place, stop_words

TITLE = BODY.clone("back-title", fontName="Helvetica-Bold", fontSize=13, leading=16)
HEADING = SMALL.clone("back-heading", fontName="Helvetica-Bold", fontSize=10, leading=13)
LINE = SMALL.clone("back-line", fontSize=9.6, leading=11.8)
GROUP = SMALL.clone("back-group", fontSize=9.2, leading=11.2)
CAUTION = SMALL.clone("back-caution", fontName="Helvetica-Bold", fontSize=9, leading=11)
ROWS = cells(0, 4, 1.2, 2.0, ruled(0.4))
# Of the height of the page, for what names it and the groups of piles.
MOST_HEAD = 0.45
FOOT = 34.0
CAUTIONS = (
    "A screening aid. The crane’s own chart with its notes, the limits of the rigging, the maker’s "
    "instructions, local code and a qualified person come first, and any of them may ask for less "
    "than stands here."
)
# As many groups as a crew can read; the others are on the commitment's page.
MOST_GROUPS = 12
GROUP_WIDTHS = (20.0, 152.0, 38.0, 84.0, 112.0, 112.0, 84.0)
GROUP_HEADER = (
    "",
    "Pile",
    "Count",
    "Long, in the ground",
    "Hook load expected",
    "Hook load to stop at",
    "Stretch not to pass",
    "Judged",
)


def draw_back(canvas: Canvas, sheet: Sheet, top: float, bottom: float) -> None:
    """Draw the back between two heights of the page."""
    record = sheet.record
    head: list[Flowable] = [
        paragraph(
            f"Pull sheet {record.number}, back: {record.housing} on {record.hammer} · "
            f"{record.site} · {record.days}",
            TITLE,
        ),
        Spacer(0, 3),
        _groups(sheet),
    ]
    taken = place(canvas, head, MARGIN, top, WIDTH, MOST_HEAD * (top - bottom))
    room, floor = top - taken - 8, bottom + FOOT
    width = (WIDTH - GUTTER) / 2
    place(canvas, _left_column(sheet, width), MARGIN, room, width, room - floor)
    right = MARGIN + width + GUTTER
    place(canvas, _right_column(sheet, width), right, room, width, room - floor)
    place(canvas, [paragraph(CAUTIONS, CAUTION)], MARGIN, bottom + FOOT - 6, WIDTH, FOOT - 6)


def _groups(sheet: Sheet) -> Table:
    rest = WIDTH - sum(GROUP_WIDTHS)
    rows = [[paragraph(words, GROUP, bold=True) for words in GROUP_HEADER]]
    for group in sheet.groups[:MOST_GROUPS]:
        is_worst = group is sheet.worst and sheet.has_groups
        rows.append([paragraph(words, GROUP, bold=is_worst) for words in group_row(group, sheet)])
    if len(sheet.groups) > MOST_GROUPS:
        more = len(sheet.groups) - MOST_GROUPS
        words = ["", f"and {more} groups more: on the commitment’s page", *[""] * 6]
        rows.append([paragraph(each, GROUP) for each in words])
    return Table(rows, colWidths=[*GROUP_WIDTHS, rest], style=GRID, hAlign="LEFT")


def group_row(group: GroupSheet, sheet: Sheet) -> tuple[str, ...]:
    """Return what stands of a group of piles, column by column."""
    pile, verdict = group.answer.job.pile, group.answer.verdict
    length, embedment = (
        Quantity.DEPTH.words(value, sheet.system, 1)
        for value in (pile.length_ft, pile.embedment_ft)
    )
    judged = f"{verdict.verdict}: {verdict.governing}, {margin_words(verdict.margin)}"
    return (
        str(group.pile.number),
        pile_words(group, sheet),
        str(group.pile.count),
        f"{length}, {embedment}",
        pull_words(group.hook_lbf, sheet.system),
        capacity_words(group.stops.hook_lbf, sheet.system),
        stop_words(group.stop_in, group.is_by_load, sheet),
        judged,
    )


def pile_words(group: GroupSheet, sheet: Sheet) -> str:
    """Return what a pile is called, its section and its end."""
    sections = sheet.record.particulars.get("sections", [])
    section = sections[group.pile.number - 1] if group.pile.number <= len(sections) else ""
    pile = group.answer.job.pile
    words = [group.pile.label, f"{pile.kind} pile" if pile.kind not in section else "", section]
    named = ", ".join(dict.fromkeys(each for each in words if each))
    return f"{named}; end {pile.end}" if pile.end else named


def _left_column(sheet: Sheet, width: float) -> list[Flowable]:
    return [
        paragraph("What must be so beside the forces", HEADING),
        _table([(name, words) for name, words in condition_rows(sheet)], width, 92),
        Spacer(0, 5),
        paragraph("Both criteria, while it vibrates", HEADING),
        *(paragraph(words, LINE) for words in criteria_lines(sheet)),
    ]


def _right_column(sheet: Sheet, width: float) -> list[Flowable]:
    return [
        paragraph("The crane and the place", HEADING),
        _table(list(place_rows(sheet)), width, 92),
        Spacer(0, 5),
        paragraph("In no figure of this sheet", HEADING),
        *(paragraph(f"– {words}", LINE) for words in left_out_lines(sheet)),
    ]


def left_out_lines(sheet: Sheet) -> Iterator[str]:
    """Yield what is in no figure of any group; where it is not so of all, of which it is."""
    found: dict[str, list[int]] = {}
    for group in sheet.groups:
        for words in left_out(group.answer.job):
            found.setdefault(words, []).append(group.pile.number)
    for words, numbers in found.items():
        if len(numbers) == len(sheet.groups):
            yield words
        else:
            listed = ", ".join(str(each) for each in numbers)
            yield f"Group{'s' * (len(numbers) > 1)} {listed}: {words}"


def _table(rows: list[tuple[str, str]], width: float, name_width: float) -> Flowable:
    written = [[paragraph(name, LINE), paragraph(words, LINE, bold=True)] for name, words in rows]
    if not written:
        return Spacer(0, 0)
    style = ROWS
    return Table(written, colWidths=[name_width, width - name_width], style=style, hAlign="LEFT")


def condition_rows(sheet: Sheet) -> Iterator[tuple[str, str]]:
    """Yield each condition: its name, how it stands and what it says."""
    for each in sheet.answer.verdict.conditions:
        words = condition_sentence(each, sheet.answer.unit, sheet.system)
        if each.key is ConditionKey.SERVICE:
            words = f"{words} {sheet.still_open}".rstrip()
        yield capitalized(each.key), f"{capitalized(each.state)}. {words}"


def criteria_lines(sheet: Sheet) -> Iterator[str]:
    """Yield what either criterion comes to, and which of them is the yard's rule."""
    verdict, policy = sheet.answer.verdict, sheet.answer.policy
    if not sheet.answer.job.is_vibrating:
        yield "The hammer stays off: the crane alone breaks the static hold, and neither is asked."
        return
    alone = [verdict.check(key) for key in (CheckKey.LINE_PULL, CheckKey.CENTRIFUGAL)]
    added = [verdict.check(key) for key in (CheckKey.TOGETHER, CheckKey.ACCELERATION)]
    yield f"Each alone (the yard’s own): {_checks(alone)}."
    if any(added):
        yield (f"Added together (published: US Army EI 02G001, UFC 3-220-02): {_checks(added)}.")
    yield (
        f"The yard’s rule is {policy.criterion}. "
        + (
            "It is the stricter: the pull must do without the hammer’s force, and the hammer "
            "without the pull, so that neither failing drops the other’s share on the line."
            if not policy.adds_forces
            else "Should the hammer falter, its share comes on the line at once: stop raising."
        )
    )


def _checks(checks: list[Check | None]) -> str:
    return "; ".join(
        f"{each.key} {margin_words(each.margin)}"
        f"{'' if each.outcome is Outcome.HOLDS else f' ({each.outcome})'}"
        for each in checks
        if each is not None
    )


def place_rows(sheet: Sheet) -> Iterator[tuple[str, str]]:
    """Yield what there is to say of crane, rigging and place; nothing of what is blank."""
    crane, policy, system = sheet.answer.job.crane, sheet.answer.policy, sheet.system
    noted = sheet.record.particulars
    if "address" in noted:
        yield "Where", noted["address"]
    at = [
        f"{Quantity.DEPTH.words(value, system, 1)} {name}"
        for value, name in ((crane.radius_ft, "radius"), (crane.boom_ft, "boom"))
        if value is not None
    ]
    chart = force_words(crane.capacity_lbf or 0.0, sheet)
    yield "Chart", f"{chart}{' at ' + ', '.join(at) if at else '; at what radius is not on record'}"
    if policy.crane_share < 1.0:
        share = plain_number(policy.crane_share * 100.0, 1)
        yield (
            "Share of it",
            f"{share} % at the most, for the boom recoils when the pile breaks free: common "
            "practice, no published source",
        )
    if crane.parts_of_line is not None and crane.line_limit_lbf is not None:
        each = force_words(crane.line_limit_lbf, sheet)
        yield "Hoist line", f"{crane.parts_of_line} parts of {each}"
    yield "Load indicator", _indicator_words(noted.get("load_indicator"))
    if "watched_by" in noted:
        yield "Watched by", noted["watched_by"]
    if crane.is_on_barge:
        note = noted.get("barge_note", "ask for the chart’s deduction for list and trim")
        yield "On a barge", note
    if "headroom_ft" in noted:
        yield "Headroom", Quantity.DEPTH.words(noted["headroom_ft"], system, 1)
    if "vibration_limit_in_s" in noted or "vibration_note" in noted:
        yield "A neighbour", _neighbour(sheet)
    if "frost_days" in noted:
        yield "Frost", f"{noted['frost_days']} days of it by then: frozen ground grips the pile"
    if noted.get("jaws"):
        yield "Jaws", noted["jaws"]
    if "note" in noted:
        yield "Note", noted["note"]


def _indicator_words(named: dict[str, Any] | None) -> str:
    if named is None:
        return "not named on the job; which one: ____________"
    until = named["due_on"]
    due = (
        f"in calibration to {day_words(date.fromisoformat(until))}" if until else "never calibrated"
    )
    return f"{named['mark']}, {LoadIndicator.Kind(named['kind']).label}; {due} by the record"


def _neighbour(sheet: Sheet) -> str:
    noted = sheet.record.particulars
    words = [noted.get("vibration_note", "")]
    if "vibration_limit_in_s" in noted:
        limit = Quantity.GROUND_VELOCITY.words(noted["vibration_limit_in_s"], sheet.system)
        words.insert(
            0,
            f"no more than {limit} of ground vibration, measured there; nothing here "
            "is calculated of it",
        )
    return "; ".join(each for each in words if each)


__all__ = [
    "condition_rows",
    "criteria_lines",
    "draw_back",
    "group_row",
    "left_out_lines",
    "place_rows",
]
