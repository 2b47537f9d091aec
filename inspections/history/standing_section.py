"""The first section: how the unit stands, its figures and how they are calculated."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.platypus import Flowable, KeepTogether, Spacer

from fleet.dates import moment_words
from fleet.models.housing_guide import sides_words
from fleet.quantities import (
    Quantity,
    capacity_words,
    force_words,
    listed_words,
    pull_words,
    share_words,
)
from inspections.history.facts import History, length_words, usable_words
from inspections.units.arithmetic import LotLine, hand_arithmetic
from ratings.drawing.pad_map import PadCell, draw_pad_map, pad_map_height
from ratings.drawing.pdf import DrawingFlowable
from ratings.drawing.pull_rule import Detail, draw_pull_rule
from ratings.mechanics.standing import Standing
from ratings.models import LedgerEntry
from ratings.paper.style import CAUTION, HEADING, SMALL, TITLE, WIDTH, paragraph, table
from ratings.pictures import rule_figures

PAD_MAP_WIDTH = 380.0
CAUTION_WORDS = (
    "Pads and housing are rated by measurement. The crane’s chart, rigging limits, the maker’s "
    "instructions, local code and a qualified person come first. Never pull to the stops while "
    "vibrating. Lock out before counting pads."
)


def standing_section(history: History) -> Iterator[Flowable]:
    housing, head = history.housing, history.head
    standing = head.judged if head else Standing.UNRATED
    yield paragraph(f"History of housing {housing.mark}", TITLE)
    yield paragraph(f"{history.hammer_words} · {housing.yard.name}")
    if housing.bumper:
        yield paragraph(f"Bumper in the stop: {housing.bumper}")
    if history.outage is not None:
        yield paragraph(f"Out of service since {moment_words(history.outage.since)}", HEADING)
        yield paragraph(f"It must not go out: {history.outage.reason}", bold=True)
    yield paragraph(f"Standing now: {standing}", HEADING)
    if standing.is_flagged:
        yield paragraph("FLAGGED: this unit is not shown to meet a listed rating.", bold=True)
    if head is not None and head.risk_words:
        yield paragraph(head.risk_words)
    if head is None:
        yield paragraph("Its pads were never counted and its travel never taped.")
    else:
        yield from _figures(history, head)
    yield paragraph(CAUTION_WORDS, CAUTION)
    if head is not None:
        yield KeepTogether(list(_pads_now(head)))


def _figures(history: History, head: LedgerEntry) -> Iterator[Flowable]:
    system, results = history.system, head.results
    listed_lbf = head.listed_lbf
    if results["missing"]:
        yield paragraph(f"Missing: {', '.join(results['missing'])}.")
    rule = rule_figures(head, system)
    yield DrawingFlowable(
        WIDTH, 150, lambda surface: draw_pull_rule(surface, rule, WIDTH, 150, Detail.LARGE)
    )
    yield Spacer(1, 6)
    travel = head.inputs["travel_in"]
    yield table(
        ("Line pull", "Working capacity", "Listed", "Of listed", "Sound pads", "Travel", "Usable"),
        [
            (
                pull_words(head.pull_lbf, system, listed_lbf=listed_lbf),
                capacity_words(head.working_capacity_lbf, system, listed_lbf=listed_lbf),
                listed_words(listed_lbf, system),
                share_words(head.share_of_listed),
                head.sound_pads_words,
                length_words(travel, system),
                usable_words(head, system),
            )
        ],
        (100, 98, 90, 46, 58, 52, 86),
    )
    yield paragraph(f"The housing is {sides_words(history.guide)}.", SMALL)
    yield from _arithmetic(history, head)
    for words in _cautions_of(history, head):
        yield paragraph(words, bold=True)


def _why_nothing(line: LotLine, system: str) -> str:
    """Say why a lot's sound pads add nothing."""
    if line.is_short:
        tested = Quantity.LENGTH.words(line.share.tested_stretch_in, system, 3)
        return f"tested to {tested} only"
    if line.is_on_the_other_side:
        return "none of them on the weaker side"
    return "it would add more doubt than pull"


def _arithmetic(history: History, head: LedgerEntry) -> Iterator[Flowable]:
    arithmetic = hand_arithmetic(head)
    if arithmetic is None:
        return
    system = history.system
    travel = Quantity.LENGTH.words(head.usable_travel_in or 0.0, system, 3)
    for line in arithmetic.lots:
        share = line.share
        off = f", {line.off_pct:.1f} % off for what its tests left out" if line.off_pct else ""
        if share.counted:
            part = (
                ""
                if line.counted_pct is None
                else f" × {line.counted_pct:.1f} % (more would add more doubt than pull)"
            )
            words = (
                f"{share.counted} pad{'' if share.counted == 1 else 's'} counted of "
                f"{share.count} sound × {force_words(share.force_per_pad_lbf, system)} at "
                f"{travel}, by its load curve{off}{part} = {force_words(share.pull_lbf, system)}"
            )
        else:
            words = f"{share.count} sound, adds nothing: {_why_nothing(line, system)}"
        yield paragraph(f"Lot {share.lot}: {words}", SMALL)
    if head.results["weaker_side"]:
        yield paragraph(
            "Nothing keeps both sides alike: the line pull is twice that of side "
            f"{head.results['weaker_side']}, the weaker.",
            SMALL,
        )
    if head.results["proof_ratio"]:
        yield paragraph(
            "A proof pull of the whole unit measured "
            f"{100.0 * head.results['proof_ratio']:.1f} % of what its pads should give; the lower "
            "of the two counts.",
            SMALL,
        )
    uncertainty = force_words(head.results["standard_uncertainty_lbf"], system)
    assumed = (
        f", assumed pad-to-pad spread {arithmetic.pad_spread_pct:g} %"
        if head.results["is_assumed_spread"]
        else ""
    )
    yield paragraph(
        f"Line pull {force_words(head.pull_lbf, system)} less "
        f"{head.results['coverage_factor']:.4f} × standard uncertainty {uncertainty} = working "
        "capacity "
        f"{force_words(head.working_capacity_lbf, system)} (one-sided "
        f"{arithmetic.confidence_pct:g} %{assumed}), stated, rounded down, as "
        f"{capacity_words(head.working_capacity_lbf, system, listed_lbf=head.listed_lbf)}.",
        SMALL,
    )


def _cautions_of(history: History, head: LedgerEntry) -> Iterator[str]:
    """What the unit's own page warns of, as it stood when the last entry was posted."""
    results, housing = head.results, history.housing
    if results["stale_lots"]:
        yield f"Stale rating: lot {', '.join(results['stale_lots'])}."
    if results["is_out_of_balance"]:
        yield "Out of balance: the sides differ by more than one pad’s worth."
    if history.softness is not None:
        pull = history.softness
        yield (
            f"Softer than its pads say: proof pull {pull.pk} measured {share_words(pull.ratio)} of "
            "what they should give, and the unit is rated by it."
        )
    if housing.is_taped_beyond_design:
        yield "Travel beyond design: have the stops looked at before the unit pulls."


def _pads_now(head: LedgerEntry) -> Iterator[Flowable]:
    cells = [PadCell(**pad | {"lot": pad["lot"] or ""}) for pad in head.inputs["positions"]]
    yield paragraph("Pads as the newest facts have them", HEADING)
    yield DrawingFlowable(
        PAD_MAP_WIDTH,
        pad_map_height(cells, PAD_MAP_WIDTH),
        lambda surface: draw_pad_map(surface, cells, PAD_MAP_WIDTH),
    )
