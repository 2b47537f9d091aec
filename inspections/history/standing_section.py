"""The first section of a unit: how it stands, its figures and how they are calculated."""

from __future__ import annotations

from collections.abc import Iterator

from fleet.dates import day_words, moment_words
from fleet.models import HousingGuide
from fleet.models.housing_guide import sides_words
from fleet.quantities import (
    Quantity,
    capacity_words,
    force_words,
    listed_words,
    pull_words,
    share_words,
)
from inspections.history.facts import Chapter, length_words, usable_words
from inspections.history.ledger_section import judged_at_the_end
from inspections.units.arithmetic import LotLine, hand_arithmetic
from ratings.drawing.pad_map import PadCell, draw_pad_map, pad_map_height
from ratings.drawing.pull_rule import Detail, draw_pull_rule
from ratings.models import LedgerEntry, ProofPull
from ratings.paper.long_paper import CAUTION, SMALL, STRONG, WIDTH, LongPaper
from ratings.pictures import rule_figures

PAD_MAP_WIDTH = 380.0
RULE_HEIGHT = 150.0
CAUTION_WORDS = (
    "Pads and housing are rated by measurement. The crane’s chart, rigging limits, the maker’s "
    "instructions, local code and a qualified person come first. Never pull to the stops while "
    "vibrating. Lock out before counting pads."
)


def standing_section(paper: LongPaper, chapter: Chapter, level: int) -> None:
    """Write how a unit stands at the end of the span."""
    head, standing = chapter.head, judged_at_the_end(chapter)
    when = f"on {day_words(chapter.span.last_day)}" if chapter.span.is_past else "now"
    outage = chapter.outage()
    if outage is not None:
        with paper.section(f"Out of service since {moment_words(outage.since)}", level):
            paper.text(f"It must not go out: {outage.reason}", STRONG)
    room = RULE_HEIGHT + 40.0 if head else 40.0
    with paper.section(f"Standing {when}: {standing}", level, below=room):
        if standing.is_flagged:
            paper.text("FLAGGED: this unit is not shown to meet a listed rating.", STRONG)
        if chapter.span.is_past:
            paper.text(
                "By the last entry on record of what had happened by the end of that day.", SMALL
            )
        if head is None:
            paper.text("Its pads were never counted and its travel never taped.")
        else:
            if head.risk_words:
                paper.text(head.risk_words)
            _figures(paper, chapter, head)
        paper.text(CAUTION_WORDS, CAUTION)
    if head is not None:
        _pads(paper, chapter, head, level)


def _figures(paper: LongPaper, chapter: Chapter, head: LedgerEntry) -> None:
    system, results = chapter.system, head.results
    listed_lbf = head.listed_lbf
    if results["missing"]:
        paper.text(f"Missing: {', '.join(results['missing'])}.")
    pull = pull_words(head.pull_lbf, system, listed_lbf=listed_lbf)
    capacity = capacity_words(head.working_capacity_lbf, system, listed_lbf=listed_lbf)
    listed = listed_words(listed_lbf, system)
    rule = rule_figures(head, system)
    paper.picture(
        WIDTH,
        RULE_HEIGHT,
        lambda surface: draw_pull_rule(surface, rule, WIDTH, RULE_HEIGHT, Detail.LARGE),
        said=f"Pull rule: line pull {pull}, working capacity {capacity}, listed {listed}.",
    )
    paper.space(6)
    header = (
        "Line pull", "Working capacity", "Listed", "Of listed", "Sound pads", "Travel", "Usable",
    )  # fmt: skip
    with paper.rows(header, (100, 98, 90, 46, 58, 52, 84)) as add:
        add(
            (
                pull,
                capacity,
                listed,
                share_words(head.share_of_listed),
                head.sound_pads_words,
                length_words(head.inputs["travel_in"], system),
                usable_words(head, system),
            )
        )
    if not chapter.span.is_past:
        key = chapter.machine.pk
        guide = HousingGuide.objects.in_force_by_housing([key]).get(key)
        paper.text(f"The housing is {sides_words(guide)}.", SMALL)
    for words in _arithmetic(chapter, head):
        paper.text(words, SMALL)
    for words in _cautions_of(chapter, head):
        paper.text(words, STRONG)


def _why_nothing(line: LotLine, system: str) -> str:
    """Say why a lot's sound pads add nothing."""
    if line.is_short:
        tested = Quantity.LENGTH.words(line.share.tested_stretch_in, system, 3)
        return f"tested to {tested} only"
    if line.is_on_the_other_side:
        return "none of them on the weaker side"
    return "it would add more doubt than pull"


def _arithmetic(chapter: Chapter, head: LedgerEntry) -> Iterator[str]:
    arithmetic = hand_arithmetic(head)
    if arithmetic is None:
        return
    system = chapter.system
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
        yield f"Lot {share.lot}: {words}"
    if head.results["weaker_side"]:
        yield (
            "Nothing keeps both sides alike: the line pull is twice that of side "
            f"{head.results['weaker_side']}, the weaker."
        )
    if head.results["proof_ratio"]:
        yield (
            "A proof pull of the whole unit measured "
            f"{100.0 * head.results['proof_ratio']:.1f} % of what its pads should give; the lower "
            "of the two counts."
        )
    uncertainty = force_words(head.results["standard_uncertainty_lbf"], system)
    assumed = (
        f", assumed pad-to-pad spread {arithmetic.pad_spread_pct:g} %"
        if head.results["is_assumed_spread"]
        else ""
    )
    yield (
        f"Line pull {force_words(head.pull_lbf, system)} less "
        f"{head.results['coverage_factor']:.4f} × standard uncertainty {uncertainty} = working "
        "capacity "
        f"{force_words(head.working_capacity_lbf, system)} (one-sided "
        f"{arithmetic.confidence_pct:g} %{assumed}), stated, rounded down, as "
        f"{capacity_words(head.working_capacity_lbf, system, listed_lbf=head.listed_lbf)}."
    )


def _cautions_of(chapter: Chapter, head: LedgerEntry) -> Iterator[str]:
    """What the unit's own page warns of, as it stood when the last entry was posted."""
    results, housing = head.results, chapter.machine
    if results["stale_lots"]:
        yield f"Stale rating: lot {', '.join(results['stale_lots'])}."
    if results["is_out_of_balance"]:
        yield "Out of balance: the sides differ by more than one pad’s worth."
    if chapter.span.is_past:
        return
    pull = ProofPull.objects.softness_by_housing([housing.pk]).get(housing.pk)
    if pull is not None:
        yield (
            f"Softer than its pads say: proof pull {pull.pk} measured {share_words(pull.ratio)} of "
            "what they should give, and the unit is rated by it."
        )
    if housing.is_taped_beyond_design:
        yield "Travel beyond design: have the stops looked at before the unit pulls."


def _pads(paper: LongPaper, chapter: Chapter, head: LedgerEntry, level: int) -> None:
    cells = [PadCell(**pad | {"lot": pad["lot"] or ""}) for pad in head.inputs["positions"]]
    heading = (
        f"Pads as entry {head.sequence} has them"
        if chapter.span.is_past
        else "Pads as the newest facts have them"
    )
    height = pad_map_height(cells, PAD_MAP_WIDTH)
    with paper.section(heading, level, below=height):
        paper.picture(
            PAD_MAP_WIDTH,
            height,
            lambda surface: draw_pad_map(surface, cells, PAD_MAP_WIDTH),
            said="; ".join(
                f"{cell.side}{cell.number} {cell.condition or 'not counted'}"
                + (f", lot {cell.lot}" if cell.lot else "")
                for cell in cells
            ),
        )


def unit_line(chapter: Chapter) -> tuple[str, ...]:
    """Return how a unit stands, as a row of the table of a yard's units."""
    head, system = chapter.head, chapter.system
    listed_lbf = head.listed_lbf if head else None
    mounted = next((each for each in chapter.mountings if each.removed_at is None), None)
    return (
        chapter.machine.mark,
        mounted.hammer.mark if mounted else "–",
        str(judged_at_the_end(chapter)),
        pull_words(head.pull_lbf if head else None, system, listed_lbf=listed_lbf),
        capacity_words(head.working_capacity_lbf if head else None, system, listed_lbf=listed_lbf),
        listed_words(listed_lbf, system),
        f"{chapter.entries().count():,}",
        f"{chapter.inspections().count():,}",
    )
