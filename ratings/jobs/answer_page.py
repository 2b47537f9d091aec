"""An answer as its pages show it: worded and drawn, with nothing calculated again."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace

from django.utils.safestring import SafeString

from fleet.dates import day_words
from fleet.quantities import Quantity, capacity_words, plain_number, pull_words
from ratings.drawing.demand_curve import DemandFigures, curve_words, draw_demand_curve
from ratings.drawing.load_path import (
    Part,
    PathFigures,
    Supply,
    draw_load_path,
    load_path_height,
    path_words,
)
from ratings.jobs.answer import Answer, Row, UnitAnswer, calculate
from ratings.jobs.doubt_words import doubt_sentence
from ratings.jobs.may_go import ASSUMED, MayGo, reason_words
from ratings.jobs.open_findings import open_findings_words
from ratings.jobs.remedies import Excavation, Refit
from ratings.jobs.stops import go_of
from ratings.jobs.words import (
    NONE,
    UNKNOWN,
    Place,
    about,
    amount_words,
    at_least,
    check_sentence,
    condition_amounts,
    condition_sentence,
    margin_words,
    missing_sentences,
    range_sentence,
    range_words,
    short_words,
)
from ratings.jobs.workings import Group, Line, input_groups, workings
from ratings.mechanics.extraction.doubts import layer_doubts
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.job import Job, PileOfJob
from ratings.mechanics.extraction.left_out import left_out
from ratings.mechanics.extraction.outcomes import (
    Check,
    CheckKey,
    Condition,
    ConditionKey,
    ConditionState,
    Outcome,
    UnitVerdict,
)
from ratings.mechanics.extraction.rules import Criterion, ExtractionPolicy
from ratings.mechanics.extraction.supply import stretch_while_vibrating_in
from ratings.models.choices import CRITERIA
from ratings.pictures import GRAPH_SIZES, pictures

WIDTHS = {"wide": 720.0, "phone": 360.0}
MOST_LOTS_NAMED = 3
# A drawing by the name of its width.
Drawn = dict[str, SafeString]


@dataclass(frozen=True)
class CheckLine:
    """A check in words."""

    name: str
    outcome: str
    demand: str
    supply: str
    margin: str
    sentence: str
    governs: bool
    judges: bool = True


@dataclass(frozen=True)
class RemedyLine:
    """One thing to do, and where. field: of the job's form, where it is entered there."""

    words: str
    where: Place = Place.NOWHERE
    field: str = ""


@dataclass(frozen=True)
class UnitPage:
    """One unit's answer in words and drawings, whether it is asked now or recorded.

    stops_short: that its pull must stop before the pull expected, as its pull sheet says it.
    """

    answer: UnitAnswer
    system: str
    checks: tuple[CheckLine, ...]
    conditions: tuple[CheckLine, ...]
    range: str
    remedies: tuple[RemedyLine, ...]
    workings: tuple[Line, ...]
    paths: Drawn
    curves: Drawn
    may_go: MayGo
    criteria: tuple[CriterionLine, ...]
    piles: tuple[PileLine, ...]
    doubts: tuple[str, ...]
    left_out: tuple[str, ...]
    stops_short: str = ""

    @property
    def governing(self) -> CheckLine:
        """The check that governs."""
        return next(each for each in self.checks if each.governs)

    @property
    def inputs(self) -> tuple[Group, ...]:
        """All that the answer rests on."""
        return tuple(input_groups(self.answer, self.system))


def describe(answer: UnitAnswer, system: str, assumed: Collection[ConditionKey] = ()) -> UnitPage:
    """Return one unit's answer as a page shows it, in the reader's units of measure.

    assumed: conditions that hold only once something is done which isn't yet.
    """
    verdict, hold = answer.verdict, answer.ground
    checks = tuple(
        CheckLine(
            name=check.key,
            outcome=check.outcome,
            demand=amount_words(check, check.demand, system),
            supply=amount_words(check, check.supply, system),
            margin=margin_words(check.margin),
            sentence=_sentence(answer, check, system),
            governs=check.key is verdict.governing,
            judges=check.judges,
        )
        for check in verdict.checks
    )
    conditions = tuple(
        _assumed_line(line) if each.key in assumed and each.state.lets_go else line
        for each in verdict.conditions
        for line in (_condition_line(answer, each, system),)
    )
    paths, curves = drawings(answer, system)
    may_go, stops_short = go_of(answer, system)
    return UnitPage(
        answer=answer,
        system=system,
        checks=checks,
        conditions=conditions,
        range=range_sentence(verdict, hold.low_lbf, hold.high_lbf, system),
        remedies=tuple(remedy_lines(answer, system)),
        workings=workings(answer, system),
        paths=paths,
        curves=curves,
        may_go=may_go,
        criteria=criteria(verdict, answer.policy),
        piles=pile_lines(answer, system),
        doubts=doubts_of(answer.job, answer.policy, system),
        left_out=left_out(answer.job),
        stops_short=stops_short,
    )


def doubts_of(job: Job, policy: ExtractionPolicy, system: str) -> tuple[str, ...]:
    """Return what is doubtful of a job's ground, a sentence each, with the layer it is about."""
    found = layer_doubts(
        job.layers, job.water_depth_ft, policy, job.is_vibrating, job.pile.embedment_ft
    )
    return tuple(
        doubt_sentence(each, system)
        if each.layer is None
        else f"Layer {each.layer + 1}: {doubt_sentence(each, system)}"
        for each in found
    )


def _sentence(answer: UnitAnswer, check: Check, system: str) -> str:
    hammer = answer.candidate.hammer.mark
    words = check_sentence(check, answer.unit, hammer, answer.job, answer.stretch_in, system)
    if check.judges:
        return words
    return f"{words} Shown beside the yard’s own criterion: the verdict does not rest on it."


def _assumed_line(line: CheckLine) -> CheckLine:
    """Return a condition's line marked as one that nothing has met yet."""
    words = f"Not done yet, taken as done on its day. {line.sentence}"
    return replace(line, outcome=ASSUMED, sentence=words)


def _condition_line(answer: UnitAnswer, condition: Condition, system: str) -> CheckLine:
    words, entry = condition_sentence(condition, answer.unit, system), answer.candidate.entry
    if condition.key is ConditionKey.STANDING and entry is not None and entry.risk_words:
        words = f"{words} {entry.risk_words}"
    if condition.key is ConditionKey.INSPECTION and answer.candidate.is_hammer_older:
        seen_on, counted_on = answer.candidate.hammer_seen_on, answer.candidate.pads_counted_on
        seen = f"last inspected on {day_words(seen_on)}" if seen_on else "never inspected"
        hammer = f"hammer {answer.candidate.hammer} was {seen}"
        assert counted_on is not None
        counted = f"Its pads were last counted on {day_words(counted_on)}"
        words = f"{words} {counted}, {hammer}: the older counts."
    if condition.key is ConditionKey.INSPECTION and answer.candidate.looked_at_later_on:
        looked_on = day_words(answer.candidate.looked_at_later_on)
        words = f"{words} Last looked at on {looked_on}, and not counted in full."
    if condition.key is ConditionKey.SERVICE:
        still_open = open_findings_words(answer.candidate.hammer, answer.candidate.housing)
        words = f"{words} {still_open}".rstrip()
    value, limit = condition_amounts(condition, system)
    return CheckLine(
        name=condition.key,
        outcome=condition.state,
        demand=value,
        supply=limit,
        margin="",
        sentence=words,
        governs=False,
    )


@dataclass(frozen=True)
class RowWords:
    """A row of the ranking in words.

    may_go: whether the unit may go at all. pile: which group of piles comes out worst, "" where
        the job has but one. others: what else doesn't hold, beside what governs. criterion: how
        it fares by the criterion that is not the yard's rule, "" where both come to the same.
    """

    may_go: MayGo
    margin: str
    sentence: str
    others: tuple[str, ...]
    range: str
    pile: str = ""
    criterion: str = ""


def describe_row(row: Row, answer: Answer, system: str) -> RowWords:
    """Return a row of the ranking in the reader's units of measure."""
    verdict, candidate = row.verdict, row.candidate
    governing = verdict.check(verdict.governing)
    assert governing is not None, "what governs is one of the checks"
    pile, hold = answer.pile_of(verdict)
    stretch_in = stretch_while_vibrating_in(candidate.unit, pile.job)
    may_go, _ = go_of(calculate(candidate, answer.piles, answer.policy, verdict), system)
    return RowWords(
        may_go=may_go,
        pile=worst_pile_words(pile, len(answer.piles)),
        criterion=other_criterion_words(verdict, answer.policy),
        margin=margin_words(verdict.margin),
        sentence=check_sentence(
            governing, candidate.unit, candidate.hammer.mark, pile.job, stretch_in, system
        ),
        others=(
            *(
                short_words(check)
                for check in verdict.checks
                if check.judges and check.outcome is not Outcome.HOLDS and check is not governing
            ),
            *(
                words
                for each in verdict.conditions
                if each.state is not ConditionState.HOLDS
                and (words := reason_words(each, candidate.unit)) not in may_go.reasons
            ),
        ),
        range=range_words(verdict, hold.high_lbf, system),
    )


def worst_pile_words(pile: PileOfJob, many: int) -> str:
    """Say which group of piles comes out worst, "" where there is but one."""
    if many < 2:
        return ""
    return f"Worst of {many} groups of piles: {pile_name(pile)}"


def pile_name(pile: PileOfJob) -> str:
    """Return what a group of piles is called: its number, its label, and how many there are."""
    label = f", {pile.label}" if pile.label else ""
    return f"group {pile.number}{label} ({pile.count} pile{'' if pile.count == 1 else 's'})"


_ALONE = (CheckKey.LINE_PULL, CheckKey.CENTRIFUGAL)
_ADDED = (CheckKey.TOGETHER, CheckKey.ACCELERATION)


@dataclass(frozen=True)
class CriterionLine:
    """How a unit fares by one criterion. words: each of its checks with its margin."""

    name: str
    outcome: str
    words: str
    is_rule: bool


def criteria(verdict: UnitVerdict, policy: ExtractionPolicy) -> tuple[CriterionLine, ...]:
    """Return both criteria, the yard's rule first; nothing of a pull with the hammer still."""
    lines = []
    for name, keys, is_rule in (
        (Criterion.EACH_ALONE, _ALONE, not policy.adds_forces),
        (Criterion.ADDED, _ADDED, policy.adds_forces),
    ):
        checks = [found for key in keys if (found := verdict.check(key)) is not None]
        if len(checks) < len(keys):
            return ()
        worst = max((each.outcome for each in checks), key=list(Outcome).index)
        words = "; ".join(f"{each.key} {_margin_or_unknown(each)}" for each in checks)
        lines.append(CriterionLine(CRITERIA[name], worst, words, is_rule))
    return tuple(sorted(lines, key=lambda each: not each.is_rule))


def _margin_or_unknown(check: Check) -> str:
    return UNKNOWN if check.outcome is Outcome.UNKNOWN else margin_words(check.margin)


def other_criterion_words(verdict: UnitVerdict, policy: ExtractionPolicy) -> str:
    """Say how a unit fares by the criterion that is not the yard's rule, where that differs."""
    lines = criteria(verdict, policy)
    if not lines or lines[0].outcome == lines[1].outcome:
        return ""
    other = lines[1]
    return f"By the other criterion, {other.name}: {other.outcome} ({other.words})."


@dataclass(frozen=True)
class PileLine:
    """One group of piles of a job, and how a unit fares on it."""

    number: int
    name: str
    verdict: str
    governing: str
    margin: str
    holds: str
    pads: str
    is_looked_at: bool
    is_worst: bool


def pile_lines(answer: UnitAnswer, system: str) -> tuple[PileLine, ...]:
    """Return every group of piles of the job with its own figures; nothing where it has one."""
    whole = answer.whole or answer.verdict
    if len(answer.piles) < 2:
        return ()
    lines = []
    for pile, verdict in zip(answer.piles, whole.piles, strict=True):
        pads = verdict.check(CheckKey.LINE_PULL)
        lines.append(
            PileLine(
                number=pile.number,
                name=pile_name(pile),
                verdict=verdict.verdict,
                governing=verdict.governing,
                margin=margin_words(verdict.margin),
                holds=about(ground(pile.job, answer.policy).resistance_lbf, system),
                pads=amount_words(pads, pads.demand, system) if pads else NONE,
                is_looked_at=pile.number == answer.verdict.pile,
                is_worst=pile.number == whole.pile,
            )
        )
    return tuple(lines)


# What is to be put right first, where the check is no matter of force.
_FIRST = {
    ConditionKey.STANDING: RemedyLine(
        "Bring it to its listing: its own page says with which pads.", Place.UNIT
    ),
    ConditionKey.INSPECTION: RemedyLine(
        "Inspect it: count the pads and tape the travel before the first day.", Place.COUNT
    ),
    ConditionKey.SERVICE: RemedyLine(
        "Release it to service, once what took it out is repaired.", Place.SERVICE
    ),
    ConditionKey.RATING: RemedyLine(
        "Bench-test pads of the stale lot again, and have it approved."
    ),
    ConditionKey.CALIBRATION: RemedyLine(
        "Have it calibrated before the first day, or choose another load indicator on the job.",
        Place.JOB,
        "indicator",
    ),
    ConditionKey.CLAMP_KIND: RemedyLine("A clamp on its hammer that holds this kind of pile."),
    ConditionKey.DATES: RemedyLine(
        "Other days, or release it from the job that holds it.", Place.UNIT
    ),
    ConditionKey.DISTANCE: RemedyLine(
        "A unit of a nearer yard, or a longer haul.", Place.JOB, "haul_limit_mi"
    ),
}
_STRONGER = {
    CheckKey.CRANE: "A crane, or a radius, whose chart allows {needed}: a pull may use but the "
    "share of it that the rules say.",
    CheckKey.RIGGING: "Rigging with a working load limit of {needed} on each leg, or more legs or "
    "steeper ones.",
    CheckKey.CENTRIFUGAL: "A hammer whose turning weights make {needed}.",
    CheckKey.AMPLITUDE: "A hammer with an eccentric moment of {needed}, of this one’s weight.",
    CheckKey.CLAMP: "A clamp whose jaws press with {needed}.",
    CheckKey.TOGETHER: "A hammer and pads that make {needed} together.",
    CheckKey.TENSION: "The pile itself is the limit: loosen the ground first, or have an engineer "
    "say what it may be pulled with.",
}


def remedy_lines(answer: UnitAnswer, system: str) -> list[RemedyLine]:
    """Return what would make a unit suitable: missing facts first, then check by check."""
    remedies = answer.remedies
    unknown = [
        each.key
        for each in answer.verdict.checks
        if each.judges and each.outcome is Outcome.UNKNOWN
    ]
    lines = [
        RemedyLine(words, fact.place, fact.field if fact.place is Place.JOB else "")
        for fact, words in missing_sentences(
            unknown, answer.unit, answer.job, answer.candidate.hammer.mark
        )
    ]
    for check in answer.verdict.checks:
        key, needed = check.key, remedies.needed.get(check.key)
        if key is CheckKey.LINE_PULL:
            lines += [_refit_line(each, system) for each in remedies.refits[:MOST_LOTS_NAMED]]
        elif needed is not None:
            words = (
                Quantity.ECCENTRIC_MOMENT.words(needed, system)
                if key is CheckKey.AMPLITUDE
                else at_least(needed, system)
            )
            lines.append(RemedyLine(_STRONGER[key].format(needed=words)))
    lines += [
        _FIRST[each.key]
        for each in answer.verdict.conditions
        if each.state is not ConditionState.HOLDS
    ]
    if remedies.bite is not None:
        # Cut down to what can be measured on a pile, so that it is raised no less than it must be.
        left = _tenths(remedies.bite.left_ft, system)
        raised = _tenths(answer.job.pile.embedment_ft, system, math.ceil) - left
        left_words, raised_words = (
            f"{plain_number(each, 1)} {Quantity.DEPTH.symbol(system)}" for each in (left, raised)
        )
        no_dig = (
            "Digging does not come to the same."
            if remedies.digs
            else "No depth of digging alone is enough."
        )
        suits = "Suits with care" if remedies.bite.is_with_care else "Suits"
        lines.append(
            RemedyLine(
                f"A lighter bite first. {suits} from {left_words} of embedment: only once another "
                f"unit has raised the pile by {raised_words}, its toe with it. {no_dig}"
            )
        )
    lines += [_dig_line(each, system) for each in remedies.digs]
    if remedies.also_short:
        many = len(remedies.also_short) > 1
        numbers = ", ".join(str(each) for each in remedies.also_short)
        lines.append(
            RemedyLine(
                f"Raising and digging are told of group {answer.verdict.pile}. Group{'s' * many} "
                f"{numbers} of the piles {'fall' if many else 'falls'} short too: look at "
                f"{'each' if many else 'it'} above."
            )
        )
    return lines


# A hole deeper than this is shored by an engineer's design: 29 CFR 1926.652, from memory.
DEEP_HOLE_FT = 20.0


def _dig_line(dig: Excavation, system: str) -> RemedyLine:
    """Say how deep to dig, raised to what can be measured, so that no less is dug."""
    depth = _tenths(dig.depth_ft, system, math.ceil)
    symbol = Quantity.DEPTH.symbol(system)
    suits = "Suits with care" if dig.is_with_care else "Suits"
    dug = f"once the ground about the pile is dug away to {plain_number(depth, 1)} {symbol}"
    deep = ""
    if dig.depth_ft > DEEP_HOLE_FT:
        deep = f" Deeper than {Quantity.DEPTH.words(DEEP_HOLE_FT, system, 0)}: by a design only."
    if not dig.width_ft:
        return RemedyLine(
            f"Dig. {suits} {dug} below its surface, in a hole of any width: the shaft below it "
            f"holds as before. Shore or slope the hole, and keep the crane clear of its edge.{deep}"
        )
    width = Quantity.DEPTH.words(dig.width_ft, system, 0)
    return RemedyLine(
        f"Or dig wide. {suits} {dug} in a hole {width} wide or more at its level bottom, which "
        "takes weight off the sand below. The sand may keep part of its grip: have an engineer "
        f"agree before you rest on this one.{deep}"
    )


def _refit_line(refit: Refit, system: str) -> RemedyLine:
    way, rating, verdict = refit.way, refit.rating, refit.verdict
    places = ", ".join(f"{each.side}{each.number}" for each in way.positions)
    pull = verdict.check(CheckKey.LINE_PULL)
    if refit.margin < 1.0:
        then = "Still short."
    elif verdict.verdict.may_go:
        then = f"The unit is then {verdict.verdict}."
    else:
        then = f"The pads then carry it; {verdict.governing} still stands in the way."
    return RemedyLine(
        f"Fit {way.count} pad{'' if way.count == 1 else 's'} of lot {way.lot} from stock at "
        f"{places}: line pull "
        f"{pull_words(rating.pull_lbf, system, listed_lbf=rating.listed_lbf)}, working capacity "
        f"{capacity_words(rating.working_capacity_lbf, system, listed_lbf=rating.listed_lbf)}, "
        "of which "
        f"{capacity_words(pull.supply if pull else None, system)} at the stretch of "
        f"this pull, a margin of {margin_words(refit.margin)}. {then}"
    )


def _tenths(depth_ft: float, system: str, whole: Callable[[float], int] = math.floor) -> float:
    return whole(round(Quantity.DEPTH.shown(depth_ft, system) * 10.0, 6)) / 10.0


_OF_EVERY_PATH = (
    "ground",
    "pile",
    "plug",
    "clamp",
    "exciter",
    "housing",
    "rigging",
    "hook block",
)


def path_figures(answer: UnitAnswer, system: str) -> PathFigures:
    """Return the load path of one unit from the hook down, supplies where they bear."""
    parts = {
        step.name: Part(step.name, step.force_lbf, step.total_lbf) for step in answer.path.steps
    }
    shaken = "with shaking" if answer.job.is_vibrating else "in all"

    def supply(label: str, key: CheckKey, borne: str = "in all", legs: float = 1.0) -> Supply:
        asked, given = (
            None if value is None else value / legs
            for value in (answer.demand(key), answer.supply(key))
        )
        return Supply(label, asked, given, borne)

    return PathFigures(
        (
            supply("A pull may use of the chart", CheckKey.CRANE),
            parts["hook block"],
            # A leg's figures, as the whole load the legs bear together.
            supply("Rigging good for", CheckKey.RIGGING, legs=answer.job.crane.leg_factor),
            parts["rigging"],
            parts["housing"],
            supply("Pads good for", CheckKey.LINE_PULL),
            parts["exciter"],
            parts["clamp"],
            supply("Clamp grips with", CheckKey.CLAMP, shaken),
            supply("Pile may be pulled with", CheckKey.TENSION, shaken),
            *([parts["plug"]] if "plug" in parts else []),
            parts["pile"],
            # Other holds, and soil within, from the pile down.
            *(
                parts[step.name]
                for step in reversed(answer.path.steps[1:])
                if step.name not in _OF_EVERY_PATH
            ),
            parts["ground"],
        ),
        system,
    )


def drawings(answer: UnitAnswer, system: str) -> tuple[Drawn, Drawn]:
    """Return the load path, and the demand against embedment, for a wide page and for a phone.

    No demand where it is not known.
    """
    mark, path = answer.candidate.housing.mark, path_figures(answer, system)
    paths = pictures(
        {name: (width, load_path_height(path)) for name, width in WIDTHS.items()},
        f"Load path of {mark}",
        f"From the hook down to the ground. {path_words(path)}",
        lambda surface, width, _: draw_load_path(surface, path, width),
    )
    if not answer.curve:
        return paths, {}
    points = tuple(
        (each.embedment_ft, each.low_lbf, each.expected_lbf, each.high_lbf) for each in answer.curve
    )
    demand = DemandFigures(points, answer.supply(CheckKey.LINE_PULL), system)
    return paths, pictures(
        GRAPH_SIZES,
        f"Demand on {mark} as the pile comes out",
        curve_words(demand),
        lambda surface, *size: draw_demand_curve(surface, demand, *size),
    )
