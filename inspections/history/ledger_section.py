"""The section that prints every ledger entry."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from reportlab.platypus import Flowable, KeepTogether, Spacer

from fleet.dates import moment_words
from fleet.quantities import Quantity, capacity_words, change_words, listed_words, pull_words
from fleet.signers import signer_words
from inspections.history.facts import History, length_words, usable_words
from ratings.drawing.pdf import DrawingFlowable
from ratings.drawing.pull_history import draw_pull_history
from ratings.ledger.differences import differences, pull_change_lbf
from ratings.models import LedgerEntry
from ratings.paper.style import BODY, HEADING, MONO, SMALL, WIDTH, paragraph
from ratings.pictures import history_points

HOW_TO_CHECK = (
    "The site says how its entries are checked against these pages: “How this site works” at its "
    "foot, “The ledger”."
)


def ledger_section(history: History) -> Iterator[Flowable]:
    yield paragraph("Ledger: every change of line pull, oldest first", HEADING)
    if not history.entries:
        yield paragraph("No entry yet.")
        return
    yield paragraph(HOW_TO_CHECK, SMALL)
    points, until = history_points(history.entries), history.printed_at
    yield DrawingFlowable(
        WIDTH,
        190,
        lambda surface: draw_pull_history(
            surface, points, WIDTH, 190, until=until, units=history.system
        ),
    )
    before: LedgerEntry | None = None
    for entry in history.entries:
        yield KeepTogether(list(_entry(history, before, entry)))
        before = entry


def _entry(history: History, before: LedgerEntry | None, entry: LedgerEntry) -> Iterator[Flowable]:
    system = history.system
    listed_lbf = entry.listed_lbf
    change = pull_change_lbf(before, entry)
    second = history.confirmers.get(entry.pk)
    yield Spacer(1, 5)
    yield paragraph(
        f"Entry {entry.sequence} · {moment_words(entry.occurred_at)} · {entry.judged}",
        BODY,
        bold=True,
    )
    lines = [
        f"Cause: {entry.cause_words}. Recorded {moment_words(entry.recorded_at)} "
        f"by {signer_words(entry)}"
        + (f", confirmed by {signer_words(second)}." if second else "."),
        f"Line pull {pull_words(entry.pull_lbf, system, listed_lbf=listed_lbf)}"
        + (f" ({change_words(change, system)})" if change is not None else "")
        + f"; working capacity "
        f"{capacity_words(entry.working_capacity_lbf, system, listed_lbf=listed_lbf)}; listed "
        f"{listed_words(listed_lbf, system)}.",
        f"Inputs: {_inputs_words(entry, system)}",
        "Differs from the entry before: " + "; ".join(differences(before, entry, system)) + ".",
    ]
    if entry.corrects:
        lines.append(f"Corrects entry {entry.corrects.sequence}.")
    lines += [f"Corrected by entry {each.sequence}." for each in entry.corrections.all()]
    for line in lines:
        yield paragraph(line, SMALL)
    yield paragraph(entry.hash, MONO)


def _inputs_words(entry: LedgerEntry, system: str) -> str:
    inputs, results = entry.inputs, entry.results
    counts = Counter(
        (pad["condition"] or "not counted", pad["lot"] or "no known lot")
        for pad in inputs["positions"]
    )
    pads = ", ".join(
        f"{count} {condition}" + ("" if condition in ("missing", "not counted") else f" of {lot}")
        for (condition, lot), count in sorted(counts.items())
    )
    lots = ", ".join(
        f"{lot['lot']} {Quantity.RATE.words(lot['rate_lbf_in'], system, 1)} to "
        f"{Quantity.LENGTH.words(lot['tested_stretch_in'], system)}"
        for lot in inputs["lots"]
    )
    usable = usable_words(entry, system) if results["usable_travel_in"] else "none"
    return (
        f"pads {pads or 'none'}; rates {lots or 'none'}; travel "
        f"{length_words(inputs['travel_in'], system)}; usable {usable}."
    )
