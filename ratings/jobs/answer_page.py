"""Drawings of an answer for pages: mechanics in, SVG out."""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe

from ratings.drawing.demandcurve import DemandFigures, curve_words, draw_demand_curve
from ratings.drawing.loadpath import (
    Part,
    PathFigures,
    Supply,
    draw_load_path,
    load_path_height,
    path_words,
)
from ratings.drawing.svg import SvgSurface
from ratings.jobs.answer import Row, UnitAnswer
from ratings.jobs.candidates import Candidate
from ratings.jobs.remedies import Remedy, remedies
from ratings.jobs.words import (
    amount_words,
    check_sentence,
    margin_words,
    range_sentence,
    short_words,
)
from ratings.jobs.workings import Group, Line, input_groups, reckoning
from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.demand import demand_curve, load_path
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.record import read_answer
from ratings.mechanics.extraction.supply import stretch_while_vibrating_in
from ratings.mechanics.extraction.verdict import Check, CheckKey, Outcome
from ratings.models import JobAnswer

WIDTHS = {"wide": 720.0, "phone": 360.0}
CURVE_HEIGHTS = {"wide": 320.0, "phone": 280.0}


def path_figures(answer: UnitAnswer, system: str) -> PathFigures:
    """Return the load path of one unit from the hook down, supplies where they bear."""
    parts = {
        step.name: Part(step.name, step.force_lbf, step.total_lbf) for step in answer.path.steps
    }
    legs = answer.job.crane.leg_factor
    shaken = "with shaking" if answer.job.is_vibrating else "in all"
    rows: list[Part | Supply] = [
        _supply("Crane’s chart allows", answer, CheckKey.CRANE),
        parts["hook block"],
        # A leg's figures, as the whole load the legs bear together.
        _supply("Rigging good for", answer, CheckKey.RIGGING, share=1.0 / legs),
        parts["rigging"],
        parts["housing"],
        _supply("Pads good for", answer, CheckKey.LINE_PULL),
        parts["exciter"],
        parts["clamp"],
        _supply("Clamp grips with", answer, CheckKey.CLAMP, borne=shaken),
        _supply("Pile may be pulled with", answer, CheckKey.TENSION, borne=shaken),
        *([parts["plug"]] if "plug" in parts else []),
        parts["pile"],
        parts["ground"],
    ]
    return PathFigures(tuple(rows), system)


def load_path_svgs(answer: UnitAnswer, system: str) -> dict[str, SafeString]:
    """Return the load path for a wide page and for a phone."""
    figures = path_figures(answer, system)
    return {name: _load_path(figures, answer, width) for name, width in WIDTHS.items()}


def demand_curve_svgs(answer: UnitAnswer, system: str) -> dict[str, SafeString]:
    """Return demand against embedment for a wide page and for a phone; none where not known."""
    if not answer.curve:
        return {}
    supply = _check(answer, CheckKey.LINE_PULL)
    points = tuple(
        (each.embedment_ft, each.low_lbf, each.expected_lbf, each.high_lbf) for each in answer.curve
    )
    figures = DemandFigures(points, supply.supply if supply else None, system)
    return {
        name: _curve(figures, answer, width, CURVE_HEIGHTS[name]) for name, width in WIDTHS.items()
    }


def _supply(
    label: str, answer: UnitAnswer, key: CheckKey, share: float = 1.0, borne: str = "in all"
) -> Supply:
    check = _check(answer, key)
    if check is None:
        return Supply(label, None, None, borne)
    demand, supply = (
        None if value is None else value * share for value in (check.demand, check.supply)
    )
    return Supply(label, demand, supply, borne)


def _check(answer: UnitAnswer, key: CheckKey) -> Check | None:
    return answer.verdict.check(key)


def _load_path(figures: PathFigures, answer: UnitAnswer, width: float) -> SafeString:
    height = load_path_height(figures)
    surface = SvgSurface(
        width,
        height,
        f"Load path of {answer.candidate.housing.mark}",
        f"From the hook down to the ground. {path_words(figures)}",
    )
    draw_load_path(surface, figures, width)
    return mark_safe(surface.render())


def _curve(figures: DemandFigures, answer: UnitAnswer, width: float, height: float) -> SafeString:
    surface = SvgSurface(
        width,
        height,
        f"Demand on {answer.candidate.housing.mark} as the pile comes out",
        curve_words(figures),
    )
    draw_demand_curve(surface, figures, width, height)
    return mark_safe(surface.render())


@dataclass(frozen=True)
class ToldCheck:
    """A check in words."""

    name: str
    outcome: str
    demand: str
    supply: str
    margin: str
    sentence: str
    governs: bool


@dataclass(frozen=True)
class ToldUnit:
    """One unit's answer, told."""

    checks: tuple[ToldCheck, ...]
    range: str
    remedies: tuple[Remedy, ...]
    reckoning: tuple[Line, ...]
    paths: dict[str, SafeString]
    curves: dict[str, SafeString]


def tell_unit(answer: UnitAnswer, system: str) -> ToldUnit:
    """Tell one unit's answer in the reader's units."""
    return ToldUnit(
        checks=tell_checks(answer, system),
        range=range_sentence(answer.verdict, answer.ground.low_lbf, answer.ground.high_lbf, system),
        remedies=tuple(remedies(answer, system)),
        reckoning=reckoning(answer, system),
        paths=load_path_svgs(answer, system),
        curves=demand_curve_svgs(answer, system),
    )


def tell_checks(answer: UnitAnswer, system: str) -> tuple[ToldCheck, ...]:
    """Tell every check of a unit."""
    return tuple(_told(check, answer, system) for check in answer.verdict.checks)


def governing_sentence(row: Row, job: Job, system: str) -> str:
    """Return the sentence of the check that governs a unit in the ranking."""
    check = row.verdict.check(row.verdict.governing)
    assert check is not None, "what governs is one of the checks"
    unit = row.candidate.unit
    stretch_in = stretch_while_vibrating_in(unit, job)
    return check_sentence(check, unit, row.candidate.hammer.mark, job, stretch_in, system)


def other_reasons(row: Row) -> list[str]:
    """Return what else doesn't hold, beside the check that governs."""
    return [
        short_words(check, row.candidate.unit)
        for check in row.verdict.checks
        if check.outcome is not Outcome.HOLDS and check.key is not row.verdict.governing
    ]


def _told(check: Check, answer: UnitAnswer, system: str) -> ToldCheck:
    return ToldCheck(
        name=check.key,
        outcome=check.outcome,
        demand=amount_words(check, check.demand, system),
        supply=amount_words(check, check.supply, system),
        margin=margin_words(check.margin),
        sentence=check_sentence(
            check,
            answer.candidate.unit,
            answer.candidate.hammer.mark,
            answer.job,
            answer.stretch_in,
            system,
        ),
        governs=check.key is answer.verdict.governing,
    )


@dataclass(frozen=True)
class ToldAnswer:
    """What the page of a commitment tells."""

    answer: UnitAnswer
    checks: tuple[ToldCheck, ...]
    range: str
    inputs: tuple[Group, ...]
    reckoning: tuple[Line, ...]
    paths: dict[str, SafeString]
    curves: dict[str, SafeString]


def tell_recorded(answer: JobAnswer, system: str) -> ToldAnswer:
    """Tell an answer from its document alone."""
    then = answer_then(answer)
    return ToldAnswer(
        answer=then,
        checks=tell_checks(then, system),
        range=range_sentence(then.verdict, then.ground.low_lbf, then.ground.high_lbf, system),
        inputs=tuple(input_groups(then, system)),
        reckoning=reckoning(then, system),
        paths=load_path_svgs(then, system),
        curves=demand_curve_svgs(then, system),
    )


def answer_then(answer: JobAnswer) -> UnitAnswer:
    """Reckon an answer again from its document; housing and hammer bear their marks of then."""
    contents = answer.contents
    unit, job, policy = read_answer(contents)
    housing, hammer = copy(answer.housing), copy(answer.hammer)
    housing.mark, hammer.mark = contents["housing"], contents["hammer"]
    return UnitAnswer(
        candidate=Candidate(housing, hammer, answer.entry, unit),
        verdict=check(unit, job, policy),
        job=job,
        policy=policy,
        ground=ground(job, policy),
        path=load_path(unit, job, policy),
        curve=demand_curve(unit, job, policy),
        stretch_in=stretch_while_vibrating_in(unit, job),
    )
