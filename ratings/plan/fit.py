"""Whether a unit fits a job as a plan takes it: from the verdict on it, in words."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ratings.jobs.ahead import Plan, cares_of
from ratings.jobs.words import short_condition, short_words
from ratings.mechanics.extraction.outcomes import (
    CheckKey,
    ConditionKey,
    ConditionState,
    Outcome,
    UnitVerdict,
)
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.planning import Fit

# What can be done about it before the job, by somebody of the yard.
_TO_DO = {
    ConditionKey.INSPECTION: "count its pads",
    ConditionKey.SERVICE: "release it to service",
}


@dataclass(frozen=True)
class UnitFit:
    """How a unit fits a job. care: what asks for care; why_not, remedy: as of an Offer.

    pull_margin: of its line pull; least_margin: of all its forces; None where not known.
    to_do: what must be done before it goes, or while it is held.
    """

    fit: Fit
    care: str = ""
    why_not: str = ""
    remedy: str = ""
    pull_margin: float | None = None
    least_margin: float | None = None
    to_do: tuple[Plan, ...] = ()


def fit_of(verdict: UnitVerdict, unit: Unit) -> UnitFit:
    """Return how a unit fits a job by the verdict on it. Its dates are for the plan to weigh."""
    judging = [check for check in verdict.checks if check.judges]
    margins = [check.margin for check in judging if check.margin is not None]
    if any(check.outcome is Outcome.UNKNOWN for check in judging):
        # Nobody can say how near it comes.
        margins = []
    pull = verdict.check(CheckKey.LINE_PULL)
    fits = UnitFit(
        Fit.OUTRIGHT,
        pull_margin=pull.margin if pull else None,
        least_margin=min(margins, default=None),
    )
    bad = [check for check in judging if check.outcome in (Outcome.FAILS, Outcome.UNKNOWN)]
    unmet = [each for each in verdict.conditions if not each.state.lets_go]
    if not verdict.may_go:
        todo = [_TO_DO[each.key] for each in unmet if each.key in _TO_DO]
        return replace(
            fits,
            fit=Fit.NO,
            why_not="; ".join(
                [
                    *(short_words(check) for check in bad),
                    *(short_condition(each, unit) for each in unmet),
                ]
            ),
            remedy=" and ".join(todo) if len(todo) == len(bad) + len(unmet) else "",
        )
    if cares_of(verdict):
        of_force = (short_words(check) for check in judging if check.outcome is Outcome.CARE)
        others = (
            short_condition(each, unit)
            for each in verdict.conditions
            if each.state is ConditionState.CARE
        )
        of_range = () if verdict.holds_over_range else ("its verdict turns in the ground’s range",)
        care = "; ".join([*of_force, *others, *of_range])
        return replace(fits, fit=Fit.CARE, care=care)
    return fits
