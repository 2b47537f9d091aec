"""The list of work of a day in a yard, as a PDF to take along."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from django.utils import timezone
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Spacer

from fleet.dates import day_words, moment_words
from fleet.models import Yard
from inspections.models import Finding, RepairOrder
from inspections.repairs.tables import with_machines
from inspections.schedule.due import due_of_fleet, open_findings
from ratings.paper.pages import paper_pdf
from ratings.paper.style import (
    CAUTION,
    HEADING,
    MARGIN,
    SMALL,
    TITLE,
    WIDTH,
    paragraph,
    small_print,
    table,
)
from ratings.record.papers import Stamp, Stated

# Square enough to be ticked with a pen.
BOX = "[   ]"
CAUTIONS = (
    "Lock out before you reach in. A stretched housing or bench stand holds energy: bleed it "
    "before touching. Pads fitted are recorded by a replacement, and a unit out of service goes "
    "nowhere until it is released, whatever is ticked here."
)
ORDERS = ("Done", "Order", "Machine", "What is to be done", "Parts to have", "Who", "Hours")
DUE = ("Done", "Unit", "Inspection", "When", "Machine")
FINDINGS = ("Done", "Machine", "What was found", "Who acts", "By")


def work_list_pdf(yard: Yard, day: date, stamp: Stamp | None = None) -> bytes:
    """Return the list: repairs planned and inspections due up to a day, and what nobody ordered.

    That is, the findings to be acted on by then that no order is made of.
    """
    orders = with_machines(RepairOrder.objects.in_yards([yard]).by_day(day)).order_by(
        "planned_on", "pk"
    )
    printed = timezone.localtime()
    head = f"work of {day_words(day)} in {yard}"

    def draw_foot(canvas: Canvas) -> None:
        small_print(canvas, 30, f"printed {moment_words(printed)} {printed:%Z}")

    return paper_pdf(
        [
            paragraph(f"Work of {day_words(day)}, {yard}", TITLE),
            paragraph(CAUTIONS, CAUTION),
            *_section("Repairs", ORDERS, _orders(orders, day), "No repair is planned by then."),
            *_section(
                "Inspections due",
                DUE,
                _due(yard, day),
                "No inspection is due by then.",
            ),
            *_section(
                "Found, to act on, and not ordered",
                FINDINGS,
                _findings(yard, day),
                "Nothing found is to be acted on by then.",
            ),
            Spacer(1, 18),
            paragraph("Worked by: ____________________    Seen by: ____________________", SMALL),
        ],
        title=head.capitalize(),
        head=head,
        draw_foot=draw_foot,
        side=MARGIN,
        top=46,
        bottom=54,
        stamp=stamp,
    )


def _section(
    heading: str, columns: tuple[str, ...], rows: list[tuple[str, ...]], none: str
) -> list[Flowable]:
    if not rows:
        return [paragraph(heading, HEADING), paragraph(none)]
    widths = WIDTHS[columns]
    return [paragraph(heading, HEADING), table(columns, rows, [share * WIDTH for share in widths])]


WIDTHS = {
    ORDERS: (0.06, 0.1, 0.16, 0.32, 0.15, 0.13, 0.08),
    DUE: (0.06, 0.2, 0.22, 0.34, 0.18),
    FINDINGS: (0.06, 0.18, 0.46, 0.17, 0.13),
}


def _orders(orders: Iterable[RepairOrder], day: date) -> list[tuple[str, ...]]:
    return [
        (
            BOX,
            f"{order.pk}"
            + (f"\nof {day_words(order.planned_on)}" if order.planned_on < day else ""),
            _named(order),
            _what(order),
            order.parts_needed or "–",
            order.who,
            "",
        )
        for order in orders
    ]


def _what(order: RepairOrder) -> str:
    if order.finding is None or order.finding.text == order.what:
        return order.what
    return f"{order.what}\nFound: {order.finding.text}"


def _due(yard: Yard, day: date) -> list[tuple[str, ...]]:
    """Return the inspections of a yard's units that are due by a day, the most pressing first."""
    # What counts by hours is due when they have run: a later day does not say so.
    return [
        (BOX, unit.name, kind.row.kind, kind.words, kind.machine or "all of it")
        for unit in due_of_fleet()
        if unit.yard.pk == yard.pk
        for kind in unit.kinds
        if not kind.is_idle
        and (kind.is_overdue or (kind.due_on is not None and kind.due_on <= day))
    ]


def _findings(yard: Yard, day: date) -> list[tuple[str, ...]]:
    ordered = RepairOrder.objects.open().filter(finding__isnull=False).values("finding")
    found = open_findings().filter(act_by__lte=day).exclude(pk__in=ordered)
    return [
        (
            BOX,
            _named(each),
            f"{each.get_severity_display().capitalize()}: {each.text}",
            each.who_acts,
            day_words(each.act_by) if each.act_by else "–",
        )
        for each in found
        if each.machine.yard_id == yard.pk
    ]


def _named(record: RepairOrder | Finding) -> str:
    machine: Any = record.machine
    return f"{record.sort.label} {machine.mark}"


def work_list_stated(yard: Yard, day: date) -> Stated:
    """Return what the list of work of a day states."""
    planned = RepairOrder.objects.in_yards([yard]).by_day(day).count()
    return Stated(f"Work of {day_words(day)} in {yard}", (("Repairs planned", str(planned)),))
