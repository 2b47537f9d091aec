"""An answer in words and drawings, as its page tells it."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.safestring import SafeString

from ratings.extraction.amounts import amount_words, margin_words
from ratings.extraction.answer import Row, UnitAnswer
from ratings.extraction.pictures import demand_curve_svgs, load_path_svgs
from ratings.extraction.rangewords import range_sentence
from ratings.extraction.reckoning import Line, reckoning
from ratings.extraction.remedies import Remedy, remedies
from ratings.extraction.sentences import check_sentence, short_words
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.supply import stretch_while_vibrating_in
from ratings.mechanics.extraction.verdict import Check, Outcome


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
