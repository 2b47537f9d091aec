"""An answer on record, told in words: as it was then, whatever has changed since."""

from __future__ import annotations

from dataclasses import dataclass

from ratings.extraction.amounts import amount_words, margin_words
from ratings.extraction.rangewords import range_sentence
from ratings.extraction.sentences import check_sentence
from ratings.extraction.told import ToldCheck
from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.ground import Ground, ground
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.record import read_answer
from ratings.mechanics.extraction.supply import stretch_while_vibrating_in
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.extraction.verdict import UnitVerdict
from ratings.models import JobAnswer


@dataclass(frozen=True)
class ToldAnswer:
    """What the page of a commitment tells."""

    unit: Unit
    job: Job
    verdict: UnitVerdict
    ground: Ground
    checks: tuple[ToldCheck, ...]
    range: str


def tell_recorded(answer: JobAnswer, system: str) -> ToldAnswer:
    """Tell an answer from its document alone."""
    unit, job, policy = read_answer(answer.contents)
    verdict, held = check(unit, job, policy), ground(job, policy)
    stretch_in = stretch_while_vibrating_in(unit, job)
    hammer = answer.contents["hammer"]
    return ToldAnswer(
        unit=unit,
        job=job,
        verdict=verdict,
        ground=held,
        checks=tuple(
            ToldCheck(
                name=each.key,
                outcome=each.outcome,
                demand=amount_words(each, each.demand, system),
                supply=amount_words(each, each.supply, system),
                margin=margin_words(each.margin),
                sentence=check_sentence(each, unit, hammer, job, stretch_in, system),
                governs=each.key is verdict.governing,
            )
            for each in verdict.checks
        ),
        range=range_sentence(verdict, held.low_lbf, held.high_lbf, system),
    )
