"""The season's order list as a PDF."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from django.utils import timezone
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from fleet.dates import day_words, moment_words
from fleet.quantities import money
from inspections.buying.season import Line, Season, rests_on
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
from ratings.record.papers import Stamp

CAUTION_WORDS = (
    "A list to order by, no order: nothing is on order by this paper. Pads that come are a lot of "
    "their own unless their supplier says otherwise, and count for nothing until it is "
    "bench-tested. Never alter a housing or take out a bumper to do without them."
)
LINES = ("Lot, supplier", "Short", "Jobs", "Fail", "Shelf", "Ordered", "To buy", "Price, of",
         "Cost", "Order by")  # fmt: skip
LINE_SHARES = (0.16, 0.06, 0.06, 0.07, 0.06, 0.08, 0.07, 0.19, 0.12, 0.13)
UNITS = ("Unit", "Yard", "Pads", "To buy", "Cost of the pads", "Of these to buy", "Job from")
UNIT_SHARES = (0.16, 0.2, 0.16, 0.08, 0.14, 0.14, 0.12)


def order_list_pdf(found: Season, *, printed_by: str, stamp: Stamp | None = None) -> bytes:
    """Return the paper's bytes."""
    printed = timezone.localtime()
    where = found.yard.name if found.yard else "all yards"

    def draw_foot(canvas: Canvas) -> None:
        small_print(canvas, 30, f"printed {moment_words(printed)} {printed:%Z} by {printed_by}")

    return paper_pdf(
        list(_story(found, where)),
        title=f"Order list until {day_words(found.until)}, {where}",
        head=f"order list · {where}",
        draw_foot=draw_foot,
        side=MARGIN,
        top=46,
        bottom=54,
        stamp=stamp,
    )


def _story(found: Season, where: str) -> Iterator[Flowable]:
    yield paragraph(f"Pads to order until {day_words(found.until)}: {where}", TITLE)
    yield paragraph(
        f"As of {day_words(found.day)}. Short units are restored with "
        f"{'the fewest pads' if found.goal == 'fewest' else 'the least cost'}."
    )
    yield paragraph(CAUTION_WORDS, CAUTION)
    if not found.to_buy:
        yield paragraph("Nothing is to be bought.")
    for total in found.totals:
        lines = [each for each in found.to_buy if each.yard == total.yard]
        yield paragraph(f"{total.yard}", HEADING)
        yield table(
            LINES, [_line(each) for each in lines], [share * WIDTH for share in LINE_SHARES]
        )
        unpriced = (
            f"; lot {', '.join(total.unpriced)} has no price and is not in it"
            if total.unpriced
            else ""
        )
        sums = money(total.cost, total.currency) if total.currency else "no currency on record"
        yield paragraph(
            f"In all {total.pads} pad{'' if total.pads == 1 else 's'}, {sums}{unpriced}.", bold=True
        )
    if found.by_currency and len(found.totals) > 1:
        yield paragraph("All yards", HEADING)
        for currency, cost in found.by_currency:
            yield paragraph(money(cost, currency), bold=True)
    yield paragraph("What it takes to bring each short unit back", HEADING)
    if found.units:
        yield table(UNITS, _units(found), [share * WIDTH for share in UNIT_SHARES])
    else:
        yield paragraph("No unit is short of its listing.")
    yield paragraph("What is not in it", HEADING)
    yield from map(paragraph, left_out(found))
    yield paragraph("What it rests on", HEADING)
    for name, words in rests_on(found):
        yield paragraph(f"{name}: {words}.", SMALL)
    yield paragraph(
        "Short: pads of short units that no shelf gives. Jobs: of these, for units that jobs hold. "
        "Fail: expected to fail until then, in brackets what is exceeded once in twenty. Shelf: "
        "free there. Ordered: comes in time.",
        SMALL,
    )


def _line(each: Line) -> list[str]:
    price = each.price
    of = f"{money(price.amount, price.currency)}\n{day_words(price.valid_from)}" if price else ""
    late = f"\n{each.days_late} days late" if each.days_late else ""
    return [
        f"{each.lot.mark}\n{each.lot.supplier or 'supplier not on record'}",
        str(each.short),
        str(each.for_jobs),
        "–" if each.expected is None else f"{each.expected:.1f} ({each.high})",
        str(each.free + each.loose),
        str(each.in_time),
        str(each.to_buy),
        f"{of}{', over a year old' if each.is_old_price else ''}" if price else "NO PRICE",
        money(each.cost, price.currency) if price and each.cost is not None else "–",
        f"{day_words(each.order_by)}{late}" if each.order_by else "not known",
    ]


def _units(found: Season) -> list[list[str]]:
    return [
        [
            each.mark,
            each.yard.name,
            ", ".join(f"{pads} of {lot}" for lot, pads in each.by_lot) or "none in reach",
            str(each.to_buy),
            _cost(each.cost if each.pads else None, each.yard.currency),
            _cost(each.bought if each.pads else None, each.yard.currency),
            day_words(each.needed_by) if each.needed_by else "–",
        ]
        for each in found.units
    ]


def _cost(amount: Decimal | None, currency: str) -> str:
    return "not known" if amount is None else money(amount, currency)


def left_out(found: Season) -> list[str]:
    """Return what a list leaves out, each in a sentence."""
    said = []
    if found.without_price:
        said.append(
            f"No price on record, so that nothing is ranked or summed by it: lot "
            f"{', '.join(found.without_price)}."
        )
    if found.old_prices:
        said.append(f"Prices over a year old, to be asked anew: lot {', '.join(found.old_prices)}.")
    said += [f"{yard}, lot {lot}: {why}." for yard, lot, why in found.no_forecast]
    said += [
        f"Order {each.pk} for {each.yard}, {each.left} pads, {each.what}: in no line, since they "
        "count for nothing until tested, or nothing of that lot is wanted."
        for each in found.beside
    ]
    if found.loose:
        said.append(
            f"Pads counted whose yard is not on record: {found.loose_words}. Say by a stock take "
            "where they are."
        )
    held = found.plan.document["held"]
    if held:
        marks = ", ".join(each["mark"] for each in held)
        said.append(f"Held lower by a proof pull alone, so that no pad helps: {marks}.")
    away = found.plan.document["not_at_hand"]
    if away:
        said.append(f"Let or on the way: {', '.join(mark for _, mark in away)}.")
    without = found.plan.document["without"]
    said += [f"{mark} can’t be planned: it needs {' and '.join(why)}." for _, mark, why in without]
    return said or ["Nothing is left out."]
