"""An answer on record, told in words: as it was then, whatever has changed since."""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass

from django.utils.safestring import SafeString

from ratings.extraction.answer import UnitAnswer
from ratings.extraction.candidates import Candidate
from ratings.extraction.inputwords import Group, input_groups
from ratings.extraction.pictures import demand_curve_svgs, load_path_svgs
from ratings.extraction.rangewords import range_sentence
from ratings.extraction.reckoning import Line, reckoning
from ratings.extraction.told import ToldCheck, tell_checks
from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.demand import demand_curve, load_path
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.record import read_answer
from ratings.mechanics.extraction.supply import stretch_while_vibrating_in
from ratings.models import JobAnswer


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
