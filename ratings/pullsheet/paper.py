"""The pull sheet on paper: the front for the crew at the hammer, the back for what it rests on.

Letter pages on their side, so that the rule fits at true scale. Nothing but paper lies within 24
points of the short way's edges, so that it prints on A4 at 100 % as well.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph, Spacer, Table

from fleet.quantities import Quantity, capacity_words, plain_number, pull_figure, pull_words
from ratings.drawing.pdf import PdfSurface
from ratings.drawing.shapes import draw_verdict
from ratings.drawing.stop_rule import HEIGHT, StopFigures, draw_stop_rule
from ratings.jobs.may_go import range_reasons
from ratings.jobs.stops import STOPS_SHORT, WHOSE, cut_words, stops_short_words, tape_words
from ratings.jobs.validity import Word
from ratings.jobs.words import (
    about,
    at_most,
    capitalized,
    margin_words,
    range_words,
    short_condition,
)
from ratings.mechanics.extraction.outcomes import CheckKey, ConditionState, Verdict
from ratings.paper.letters import write
from ratings.paper.scan_code import draw_code
from ratings.paper.style import (
    BODY,
    INK,
    MONO,
    RULE,
    SMALL,
    WARN,
    cells,
    marked_up,
    paragraph,
    ruled,
)
from ratings.pullsheet.back import draw_back
from ratings.pullsheet.facts import Sheet
from ratings.pullsheet.layout import (
    GUTTER,
    MARGIN,
    PAGE_HEIGHT,
    PAGE_WIDTH,
    WIDTH,
    force_words,
    place,
)
from ratings.rerating.telling import AGAIN

# Where a sheet that holds no more says so.
BAND = 40.0
TOP = PAGE_HEIGHT - BAND - 2

CODE = 100.0
HEAD_WIDTH = WIDTH - CODE - 10
HEAD_BOTTOM = TOP - 60
BOXES = 63.0
BOXES_BOTTOM = HEAD_BOTTOM - BOXES

BOTTOM = 24.0
SIGN = 26.0
FOOT_TOP = BOTTOM + SIGN + 46
RULE_TOP = FOOT_TOP + HEIGHT
COLUMNS = BOXES_BOTTOM - RULE_TOP - 8


TITLE = BODY.clone("sheet-title", fontName="Helvetica-Bold", fontSize=21, leading=24)
SITE = BODY.clone("sheet-site", fontName="Helvetica-Bold", fontSize=12, leading=14)
PILE = BODY.clone("sheet-pile", fontSize=11, leading=13.5)
STAMP = SMALL.clone("stamp", fontSize=8.6, leading=11)
CAPTION = SMALL.clone("caption", fontSize=8, leading=9.2, alignment=1)
VERDICT_SIZE = 12.0


def draw_head(canvas: Canvas, sheet: Sheet) -> None:
    record = sheet.record
    lines: list[Flowable] = [
        paragraph(f"Pull sheet {record.number}: {record.housing} on {record.hammer}", TITLE),
        paragraph(f"{record.site} · {record.days}", SITE),
        paragraph(_pile_words(sheet), PILE),
    ]
    place(canvas, lines, MARGIN, TOP, HEAD_WIDTH, TOP - HEAD_BOTTOM)
    _draw_code(canvas, sheet)


def draw_band(canvas: Canvas, sheet: Sheet) -> None:
    """Say across the top whether the sheet holds; loudly where it does not."""
    is_valid = sheet.state.word is Word.VALID
    if is_valid and not sheet.again:
        if sheet.printed:
            words = f"Valid when printed, {sheet.printed}. Scan the code: it may be void by now."
            place(canvas, [paragraph(words, STAMP)], MARGIN, PAGE_HEIGHT - 24, WIDTH, 14)
        return
    canvas.saveState()
    canvas.setFillColor(WARN)
    canvas.rect(0, PAGE_HEIGHT - BAND, PAGE_WIDTH, BAND, stroke=0, fill=1)
    words = f"{sheet.state.word.upper()}: {' '.join(sheet.state.reasons)}"
    if is_valid:
        words = f"{AGAIN.upper()}: {sheet.again}"
    style = BODY.clone(
        "band", fontName="Helvetica-Bold", fontSize=13, leading=15, textColor="white"
    )
    # Clear of the edge that an A4 page cuts off.
    place(canvas, [paragraph(words, style)], MARGIN, PAGE_HEIGHT - 8, WIDTH, BAND - 8)
    canvas.restoreState()


def draw_void(canvas: Canvas, sheet: Sheet) -> None:
    """Say it across the whole page too, so that no part of a copy passes for a sheet."""
    if not sheet.state.is_void:
        return
    canvas.saveState()
    canvas.setFillColor(WARN)
    canvas.setFillAlpha(0.16)
    canvas.setFont("Helvetica-Bold", 190)
    canvas.translate(PAGE_WIDTH / 2, PAGE_HEIGHT / 2 - 60)
    canvas.rotate(22)
    canvas.drawCentredString(0, 0, "VOID")
    canvas.restoreState()


def draw_verdict_line(
    canvas: Canvas, sheet: Sheet, x: float, top: float, width: float, height: float
) -> None:
    """The verdict with its shape, what asks for care, and the check that governs."""
    verdict, lines = verdict_lines(sheet)
    draw_verdict(PdfSurface(canvas, x, top), verdict, 0, 0, VERDICT_SIZE + 2)
    first = BODY.clone("verdict", fontName="Helvetica-Bold", fontSize=VERDICT_SIZE, leading=14)
    rest = BODY.clone("verdict-rest", fontName="Helvetica-Bold", fontSize=9.4, leading=11)
    written = [paragraph(words, rest if n else first) for n, words in enumerate(lines)]
    place(canvas, [*written, Spacer(0, 0)], x + 20, top, width - 20, height)


def verdict_lines(sheet: Sheet) -> tuple[Verdict, tuple[str, ...]]:
    """Return the verdict as the crew is told it, and its lines.

    One with a condition that holds only with care, that turns within the ground's range, or whose
    pull must stop short, is told as suitable with care: the crew has no other head to read it in.
    """
    verdict, unit = sheet.answer.verdict, sheet.answer.unit
    margin = "" if verdict.margin is None else f", {margin_words(verdict.margin)}"
    governs = f"{verdict.governing}{margin}"
    cares = [
        short_condition(each, unit)
        for each in verdict.conditions
        if each.state is ConditionState.CARE
    ]
    short = any(each.stops_short for each in sheet.groups)
    ranges = [*range_reasons(verdict), *([STOPS_SHORT] if short else [])]
    if not verdict.verdict.may_go or not (cares or ranges):
        return verdict.verdict, (f"{capitalized(verdict.verdict)}: {governs}",)
    if verdict.verdict is Verdict.CARE:
        cares.append(governs)
    first, rest = (cares, ranges) if cares else (ranges, [])
    if verdict.verdict is not Verdict.CARE:
        rest = [*rest, f"least margin: {governs}"]
    lead = f"{capitalized(Verdict.CARE)}: {'; '.join(first)}"
    return Verdict.CARE, (lead, capitalized("; ".join(rest))) if rest else (lead,)


SHORT = BODY.clone(
    "stops-short", fontName="Helvetica-Bold", fontSize=10, leading=11.6, textColor="white"
)


def draw_stops_short(canvas: Canvas, sheet: Sheet, x: float, top: float, width: float) -> float:
    """Say loudly that the pull must stop before the pull expected; return the height taken."""
    words = stops_short_words(sheet.groups, sheet.worst, sheet.system)
    if not words:
        return 0.0
    written = paragraph(words, SHORT)
    _, height = written.wrap(width - 12, PAGE_HEIGHT)
    canvas.saveState()
    canvas.setFillColor(WARN)
    canvas.rect(x, top - height - 6, width, height + 6, stroke=0, fill=1)
    place(canvas, [written], x + 6, top - 2, width - 12, height + 2)
    canvas.restoreState()
    return float(height) + 11.0


def _draw_code(canvas: Canvas, sheet: Sheet) -> None:
    left = PAGE_WIDTH - MARGIN - CODE
    draw_code(canvas, sheet.url, left, TOP - CODE, CODE)
    words = "Scan before the pull: does this sheet still hold?"
    place(canvas, [paragraph(words, CAPTION)], left, TOP - CODE - 1, CODE, 20)


def _pile_words(sheet: Sheet) -> str:
    pile = sheet.answer.job.pile
    length, embedment = (
        Quantity.DEPTH.words(value, sheet.system, 1)
        for value in (pile.length_ft, pile.embedment_ft)
    )
    many = sum(each.pile.count for each in sheet.groups)
    count = f"{many} piles in {len(sheet.groups)} groups, this the hardest: "
    if len(sheet.groups) == 1:
        count = f"{many} piles alike: " if many > 1 else ""
    return (
        f"{count}{pile.kind} pile, {length} long, {embedment} in the ground · "
        f"{sheet.answer.job.method}"
    )


FIGURE_NAME = SMALL.clone("box-name", fontName="Helvetica-Bold", fontSize=8.6, leading=10.5)
FIGURE = BODY.clone("box-figure", fontName="Helvetica-Bold", fontSize=20, leading=23)
NOTE = SMALL.clone("box-note", fontSize=8.4, leading=9.8)
GAP = 6.0


@dataclass(frozen=True)
class Figure:
    """A box: its name, its figure, and what there is to say of it."""

    name: str
    words: str
    note: str


def figures_of(sheet: Sheet) -> tuple[Figure, ...]:
    """Return the boxes from left to right."""
    return (_stop(sheet), _expected(sheet), _capacity(sheet), _hook_figure(sheet))


def draw_boxes(canvas: Canvas, sheet: Sheet) -> None:
    figures = figures_of(sheet)
    width = (HEAD_WIDTH + GAP) / len(figures)
    for number, figure in enumerate(figures):
        x = MARGIN + number * width
        is_stop = number == 0
        canvas.setStrokeColor(WARN if is_stop else RULE)
        canvas.setLineWidth(2.0 if is_stop else 0.8)
        canvas.rect(x, BOXES_BOTTOM, width - GAP, BOXES - 2)
        lines: list[Flowable] = [
            paragraph(figure.name, FIGURE_NAME),
            paragraph(figure.words, FIGURE),
            paragraph(figure.note, NOTE),
        ]
        place(canvas, lines, x + 5, BOXES_BOTTOM + BOXES - 4, width - GAP - 9, BOXES - 6)


def limit_name(sheet: Sheet) -> str:
    """Return whose limit the hook load to stop at is."""
    return f"{WHOSE[sheet.stops.by]} limit"


def _stop(sheet: Sheet) -> Figure:
    own = tape_words(sheet.pads_stop_in, sheet.system)
    if sheet.is_by_load:
        whose = WHOSE[sheet.stops.stretch_by]
        unknown = sheet.answer.unit.unknown_stiffness or "pads beyond what they were tested to"
        note = f"no stretch stands for {whose} limit: {unknown} of no known stiffness. Never past"
        hook, _ = _stood_behind(sheet.stops.hook_lbf, sheet)
        return Figure("Stop by the load indicator", hook, f"{note} {own}.")
    if sheet.stops_before_line:
        whose = WHOSE[sheet.stops.stretch_by]
        note = f"from rest: there stiff pads may be at {whose} limit, before the pads’ own {own}"
        return Figure("Stretch not to pass", tape_words(sheet.stop_in, sheet.system), note)
    travel = Quantity.LENGTH.words(sheet.answer.unit.usable_travel_in or 0.0, sheet.system)
    note = f"from rest: the usable travel of {travel}"
    if sheet.answer.job.is_vibrating:
        note += " less half the amplitude"
    return Figure("Stretch not to pass", tape_words(sheet.stop_in, sheet.system), note)


def _expected(sheet: Sheet) -> Figure:
    low, high = (
        _aloud(sheet.hanging_lb + each, sheet.system)
        for each in (sheet.answer.ground.low_lbf, sheet.answer.ground.high_lbf)
    )
    if sheet.system == "si":
        # In one unit, to no more figures than the ground is known by.
        words, beside = about(sheet.expected_lbf, sheet.system), ""
    else:
        words, beside = _aloud_and_beside(pull_words(sheet.expected_lbf, sheet.system))
    hook = _aloud(sheet.worst.hook_lbf, sheet.system)
    at = ""
    if sheet.expected_in is not None:
        at = f"at about {tape_words(sheet.expected_in, sheet.system)}"
    if sheet.expected_in is not None and sheet.expected_in > sheet.stop_in:
        at += ", beyond the stop line"
    note = (
        f"{beside}{f'{at}, ' if at else ''}{hook} on the hook; the ground’s range {low} to {high}"
    )
    return Figure("Pull expected at the pads", words, note)


def _capacity(sheet: Sheet) -> Figure:
    words, beside = _stood_behind(sheet.capacity_lbf, sheet)
    unused = _capacity_unused(sheet)
    if unused:
        return Figure("Capacity at this pull’s stretch", words, f"{beside}{unused}")
    at = "" if sheet.capacity_in is None else f"at about {_capacity_at(sheet)}; "
    note = f"{beside}{at}the yard stands behind no more"
    return Figure("Capacity at this pull’s stretch", words, note)


def _capacity_unused(sheet: Sheet) -> str:
    """Say that the pads' capacity is not to be pulled to where the pull stops before it."""
    if not sheet.is_by_load and sheet.capacity_in is not None and sheet.capacity_in > sheet.stop_in:
        stop = tape_words(sheet.stop_in, sheet.system)
        return f"not to be used: the stop comes first at {stop}"
    if sheet.stops.by is not CheckKey.LINE_PULL:
        hook, _ = _stood_behind(sheet.stops.hook_lbf, sheet)
        return f"not to be used: the stop comes first at {hook} on the hook"
    return ""


def _capacity_at(sheet: Sheet) -> str:
    """Return the stretch at the capacity, cut down: no more is stood behind."""
    return "" if sheet.capacity_in is None else cut_words(sheet.capacity_in, sheet.system)


def _hook_figure(sheet: Sheet) -> Figure:
    words, beside = _stood_behind(sheet.stops.hook_lbf, sheet)
    note = f"{beside}block and all: {limit_name(sheet)}"
    if sheet.stops.by in sheet.stops.margin_used_up:
        note += " leaves no more than the pull expected"
    elif sheet.stops.by is not CheckKey.LINE_PULL:
        margin = plain_number(sheet.answer.policy.care_margin, 2)
        note += f" less the yard’s margin, {margin}×"
    return Figure("Hook load to stop at", words, note)


def _stood_behind(force_lbf: float, sheet: Sheet) -> tuple[str, str]:
    """Return a force rounded down, large, and what stands beside it."""
    return _aloud_and_beside(capacity_words(force_lbf, sheet.system))


def _aloud_and_beside(words: str) -> tuple[str, str]:
    """Part "12.4 tons (24,800 lbf)" into what is large and what stands beside it, if anything."""
    aloud, _, beside = words.partition(" (")
    return aloud, f"{beside.rstrip(')')}, " if beside else ""


def _aloud(force_lbf: float, system: str) -> str:
    """Return a force that hangs on the ground, as it is read aloud."""
    if system == "si":
        return about(force_lbf, system)
    return f"{pull_figure(force_lbf, system)} {Quantity.PULL.symbol(system)}"


LIMIT_NAME = SMALL.clone("limit-name", fontSize=9, leading=10.8)
LIMITS = cells(0, 2, 1.2, 2.4, ruled(0.4))
MOST_UNSOUND = 6


def draw_limits(canvas: Canvas, sheet: Sheet, top: float, width: float, height: float) -> None:
    rows = [
        [paragraph(name, LIMIT_NAME), paragraph(words, LIMIT_NAME, bold=True)]
        for name, words in limit_rows(sheet)
    ]
    table = Table(rows, colWidths=[58, width - 58], style=LIMITS, hAlign="LEFT")
    place(canvas, [table], MARGIN, top, width, height)


def limit_rows(sheet: Sheet) -> list[tuple[str, str]]:
    """Return the rows, each a name and its words."""
    return [
        ("Pads", _pads(sheet)),
        ("Rating", _rating(sheet)),
        ("At the pads", _at_pads(sheet)),
        ("Crane", _crane(sheet)),
        ("Rigging", _rigging(sheet)),
        ("Clamp, pile", _clamp_and_pile(sheet)),
        (
            "The ground",
            range_words(sheet.answer.verdict, sheet.answer.ground.high_lbf, sheet.system),
        ),
    ]


def _pads(sheet: Sheet) -> str:
    results = sheet.record.results
    lots = ", ".join(f"{lot['count']} of {lot['lot']}" for lot in results["lots"])
    words = f"{results['sound_pads']} sound of {results['positions']} ({lots})"
    unsound = [
        f"{each['side']}{each['number']} {each['condition'] or 'not counted'}"
        for each in sheet.record.positions
        if each["condition"] != "sound"
    ]
    if not unsound:
        return words
    more = len(unsound) - MOST_UNSOUND
    rest = f" and {more} more" if more > 0 else ""
    return f"{words}; not sound: {', '.join(unsound[:MOST_UNSOUND])}{rest}"


def _rating(sheet: Sheet) -> str:
    results, system = sheet.record.results, sheet.system
    listed_lbf = results["listed_lbf"]
    pull = pull_words(results["pull_lbf"], system, listed_lbf=listed_lbf)
    capacity = capacity_words(results["working_capacity_lbf"], system, listed_lbf=listed_lbf)
    travel = Quantity.LENGTH.words(sheet.answer.unit.usable_travel_in or 0.0, sheet.system)
    return (
        f"{sheet.answer.unit.standing}; as rated, at {travel}: line pull {pull}, working capacity "
        f"{capacity}"
    )


def _at_pads(sheet: Sheet) -> str:
    ground = sheet.answer.ground
    resistance, low, high = (
        about(each, sheet.system)
        for each in (ground.resistance_lbf, ground.low_lbf, ground.high_lbf)
    )
    plug = ", plug" if any(step.name == "plug" for step in sheet.answer.path.steps) else ""
    hanging = about(sheet.hanging_lb, sheet.system)
    return (
        f"the ground’s hold {resistance} ({low} to {high}); pile{plug}, clamp and exciter {hanging}"
    )


def _crane(sheet: Sheet) -> str:
    above = force_words((sheet.answer.path.at_crane_lbf or 0.0) - sheet.expected_lbf, sheet)
    crane, share = sheet.answer.job.crane, sheet.answer.policy.crane_share
    lead = f"chart allows {force_words(crane.capacity_lbf or 0.0, sheet)}"
    allowed_lbf, share_lbf = crane.allowed_lbf(share) or 0.0, share * (crane.capacity_lbf or 0.0)
    if allowed_lbf < share_lbf:
        lead += f", the hoist line {force_words(allowed_lbf, sheet)}"
    elif share < 1.0:
        share_words = f"{plain_number(share * 100.0, 1)} %"
        lead += f", of which {share_words} for a pull, {force_words(allowed_lbf, sheet)}"
    left = _left(CheckKey.CRANE, sheet)
    return f"{lead}; less block, rigging and housing {above}, {left} at the pads with the margin"


def _rigging(sheet: Sheet) -> str:
    crane = sheet.answer.job.crane
    limit = force_words(crane.rigging_limit_lbf or 0.0, sheet)
    left = _left(CheckKey.RIGGING, sheet)
    lead = f"working load limit {limit}"
    if crane.legs > 1 or crane.leg_angle_deg < 90.0:
        counted = ", two of them counted" if crane.legs > crane.bearing_legs else ""
        legs = f"{crane.legs} leg{'' if crane.legs == 1 else 's'}"
        angle = plain_number(crane.leg_angle_deg, 1)
        lead += f" each of {legs} at {angle}° from level{counted}"
    return f"{lead}; leaves {left} at the pads with the margin"


def _clamp_and_pile(sheet: Sheet) -> str:
    clamp, pile = (_left(key, sheet) for key in (CheckKey.CLAMP, CheckKey.TENSION))
    named = sheet.record.particulars.get("clamp")
    who = f"clamp {named}" if named else "the clamp"
    return f"{who} grips up to {clamp} at the pads, the pile bears up to {pile} there"


def _left(key: CheckKey, sheet: Sheet) -> str:
    return at_most(sheet.stops.at_pads_lbf[key], sheet.system)


STEP = SMALL.clone(
    "step", fontSize=11, leading=12.6, leftIndent=19, bulletFontName="Helvetica-Bold",
    bulletFontSize=11,
)  # fmt: skip


def draw_steps(
    canvas: Canvas, sheet: Sheet, x: float, top: float, width: float, height: float
) -> None:
    lines: list[Flowable] = []
    for number, step in enumerate(steps_of(sheet), start=1):
        lines += [Paragraph(marked_up(step), STEP, bulletText=f"{number}"), Spacer(0, 2.2)]
    place(canvas, lines, x, top, width, height)


def steps_of(sheet: Sheet) -> tuple[str, ...]:
    """Return the steps of a pull with the hammer running, or still."""
    return (
        *_before(sheet),
        *(_vibrating(sheet) if sheet.answer.job.is_vibrating else _still(sheet)),
        *_after(),
    )


def _before(sheet: Sheet) -> Iterator[str]:
    yield (
        "Read this sheet together. One person watches the stretch and nothing else; anybody may "
        "stop the pull. Clear the swing, and the ground as far as pile and hammer could fall: "
        "nobody under the load."
    )
    yield (
        "Plumb the hook over the pile and keep the line plumb. Tie a safety line from the pile to "
        "the hook, so that it cannot fall should the jaws let go."
    )
    yield (
        "Clamp the pile. Read the clamp’s pressure, again after a minute, and watch it all through "
        "the pull: if it falls, stop."
    )
    again = (
        " Mark it anew for each group of piles: the back has its stop." if sheet.has_groups else ""
    )
    # In one piece: "2" at the end of a line and "1/4 in" on the next is read as 2 in.
    stop = tape_words(sheet.stop_in, sheet.system).replace(" ", "\N{NO-BREAK SPACE}")
    yield (
        "With the line just taut, holding the housing and no more, mark the rest line on housing "
        f"and frame, and the stop line {stop} from it.{again} "
        "Keep the tape in reach."
    )


def _vibrating(sheet: Sheet) -> Iterator[str]:
    yield (
        "With the line just taut, bring the hammer to full speed before pulling: slow speeds shake "
        "crane and housing. Let the pile answer."
    )
    yield "Raise the line slowly while it vibrates. Call the stretch aloud as it grows."
    yield (
        f"{_at_the_stop(sheet)}: stop raising, slack off, vibrate, try again. Never pull to the "
        "stops while it vibrates."
    )
    yield "No movement in a few minutes: stop and ask. The ground holds more than was calculated."
    yield "At break-out the boom recoils: ease the line, so that the load does not spring."


def _still(sheet: Sheet) -> Iterator[str]:
    yield "The hammer stays off all through the pull."
    yield (
        "Raise the line slowly and steadily, boom and hook straight above the pile. Call the "
        "stretch aloud as it grows."
    )
    yield (f"{_at_the_stop(sheet)}: stop and hold. Never jerk the line, never swing the boom.")
    yield "No movement: lower off and ask. The ground holds more than was calculated."
    yield (
        "At break-out the pads let go at once and the boom recoils: ease the line, so that the "
        "load does not spring."
    )


def _at_the_stop(sheet: Sheet) -> str:
    if sheet.is_by_load:
        return (
            "No load indicator that reads true: do not pull. At "
            f"{_hook(sheet)} on it, which alone tells here, and never past the stop line"
        )
    return f"At the stop line, or {_hook(sheet)} on the hook, whichever comes first"


def _after() -> Iterator[str]:
    yield "Lower the pile and block it before the clamp is opened."
    yield "Lock the power pack out, then count the pads; a pad not sound makes this sheet void."


def _hook(sheet: Sheet) -> str:
    return figures_of(sheet)[-1].words


SIGNERS = ("Dispatcher", "Crane operator", "Rigger", "Watches the stretch")
CAUTIONS = (
    "A screening aid: the crane’s chart, rigging limits, the maker’s instructions, local code and "
    "a qualified person come first. What the figures leave out stands on the back. Never pull to "
    "the stops while vibrating. Lock out before counting pads. Void once the unit’s rating "
    "changes: pads counted otherwise, travel taped again, a lot rated again."
)
CAUTION = SMALL.clone("sheet-caution", fontName="Helvetica-Bold", fontSize=8.6, leading=10)
TRACE = MONO.clone("sheet-trace", fontSize=6.8, leading=8)


def draw_foot(canvas: Canvas, sheet: Sheet) -> None:
    record = sheet.record
    canvas.setStrokeColor(RULE)
    canvas.setLineWidth(0.6)
    canvas.line(MARGIN, FOOT_TOP, PAGE_WIDTH - MARGIN, FOOT_TOP)
    lines = [
        paragraph(CAUTIONS, CAUTION),
        paragraph(
            f"rating  {record.entry_hash}  ledger entry {record.entry_sequence} of "
            f"{record.housing}",
            TRACE,
        ),
        paragraph(f"answer  {record.answer_hash}  committed {record.committed}", TRACE),
    ]
    place(canvas, [*lines], MARGIN, FOOT_TOP - 2, WIDTH, FOOT_TOP - BOTTOM - SIGN - 2)
    _draw_signers(canvas, record.particulars.get("watched_by", ""))
    write(canvas, MARGIN, 11, sheet.sealed, "Helvetica", 6)


def signers(watched_by: str) -> tuple[str, ...]:
    """Return who signs the sheet: of who watches the pull the name, where it is known."""
    if not watched_by:
        return SIGNERS
    return (*SIGNERS[:-1], f"Watched by {watched_by}")


def _draw_signers(canvas: Canvas, watched_by: str) -> None:
    room = WIDTH / len(SIGNERS)
    canvas.setStrokeColor(INK)
    canvas.setFillColor(INK)
    canvas.setFont("Helvetica", 8)
    for number, signer in enumerate(signers(watched_by)):
        x = MARGIN + number * room
        canvas.line(x, BOTTOM + 9, x + room - 14, BOTTOM + 9)
        asks = "time" if signer not in SIGNERS else "name and time"
        words = paragraph(f"{signer}, {asks}", CAPTION.clone("signer", alignment=0, leading=8))
        place(canvas, [words], x, BOTTOM + 8.5, room - 14, 9)


LEFT = 0.44 * WIDTH
# So much for the verdict; where it has two lines, more.
VERDICT, VERDICT_OF_TWO = 20.0, 33.0


def pull_sheet_pdf(sheet: Sheet) -> bytes:
    """Return the sheet's bytes: front and back."""
    buffer, record = BytesIO(), sheet.record
    canvas = Canvas(buffer, pagesize=(PAGE_WIDTH, PAGE_HEIGHT), invariant=1)
    canvas.setTitle(f"Pull sheet {record.number}, {record.housing}")
    canvas.setAuthor("Line-Pull Ledger")
    draw_head(canvas, sheet)
    draw_boxes(canvas, sheet)
    _draw_columns(canvas, sheet)
    draw_stop_rule(PdfSurface(canvas, MARGIN, RULE_TOP), stop_figures(sheet), WIDTH)
    draw_foot(canvas, sheet)
    draw_void(canvas, sheet)
    draw_band(canvas, sheet)
    canvas.showPage()
    draw_back(canvas, sheet, TOP, BOTTOM)
    draw_void(canvas, sheet)
    draw_band(canvas, sheet)
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def stop_figures(sheet: Sheet) -> StopFigures:
    """Return the rule's marks; where another limit comes before the pads', that one's."""
    words = tape_words(sheet.stop_in, sheet.system)
    if sheet.is_by_load:
        words = f"{words} at the most; the load indicator tells before"
    elif sheet.stops_before_line:
        words = f"{words}: {WHOSE[sheet.stops.stretch_by]} limit"
    expected_in = sheet.expected_in
    return StopFigures(
        sheet.stop_in,
        expected_in,
        None if sheet.is_by_load or sheet.stops_before_line else sheet.capacity_in,
        sheet.system,
        words,
        "" if expected_in is None else tape_words(expected_in, sheet.system),
        _capacity_at(sheet),
    )


def _draw_columns(canvas: Canvas, sheet: Sheet) -> None:
    top = BOXES_BOTTOM - 6
    _, lines = verdict_lines(sheet)
    verdict = VERDICT_OF_TWO if len(lines) > 1 else VERDICT
    draw_verdict_line(canvas, sheet, MARGIN, top, LEFT, verdict - 4)
    draw_limits(canvas, sheet, top - verdict, LEFT, COLUMNS - verdict)
    right, width = MARGIN + LEFT + GUTTER, WIDTH - LEFT - GUTTER
    taken = draw_stops_short(canvas, sheet, right, top + 2, width)
    draw_steps(canvas, sheet, right, top - taken, width, COLUMNS - taken)
