"""How a unit stands against its listing: a guarded decision (JCGM 106)."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from ratings.mechanics.arguments import not_negative


class Standing(StrEnum):
    """A unit's state against its listed rating. Everything but the first is flagged."""

    MEETS_LISTING = "meets listing"
    NOT_PROVEN = "not proven"
    BELOW_LISTING = "below listing"
    UNRATED = "unrated"

    @property
    def is_flagged(self) -> bool:
        """Whether somebody must look at the unit."""
        return self is not Standing.MEETS_LISTING


def judge(
    pull_lbf: float | None, working_capacity_lbf: float | None, listed_lbf: float | None
) -> Standing:
    """Judge line pull P and working capacity W against the listed rating L, all in lbf.

    W ≥ L meets the listing; P ≥ L > W is not proven; P < L is below it; with any of the three
    missing (None) the unit is unrated. Raises ValueError for a negative number and for W > P.
    """
    if pull_lbf is None or working_capacity_lbf is None or listed_lbf is None:
        return Standing.UNRATED
    pull = not_negative("pull_lbf", pull_lbf, "lbf")
    capacity = not_negative("working_capacity_lbf", working_capacity_lbf, "lbf")
    listed = not_negative("listed_lbf", listed_lbf, "lbf")
    if capacity > pull:
        raise ValueError(
            f"working_capacity_lbf is {capacity:g}: give no more than the pull of {pull:g} lbf"
        )
    if capacity >= listed:
        return Standing.MEETS_LISTING
    return Standing.NOT_PROVEN if pull >= listed else Standing.BELOW_LISTING


def conformance_probability(
    pull_lbf: float,
    standard_uncertainty_lbf: float,
    degrees_of_freedom: float,
    listed_lbf: float,
) -> float:
    """Return how likely it is that a unit measured at this pull meets its listing, from 0 to 1.

    F((P − L) / u), with F Student's t at the degrees of freedom, or the normal distribution
    where they are infinite (JCGM 106:2012, 7.3). Nothing is presumed of the unit but what was
    measured of it. With no uncertainty at all it is 1 where P ≥ L, else 0.
    Raises ValueError for a negative number and for degrees of freedom not above 0.
    """
    pull = not_negative("pull_lbf", pull_lbf, "lbf")
    doubt = not_negative("standard_uncertainty_lbf", standard_uncertainty_lbf, "lbf")
    listed = not_negative("listed_lbf", listed_lbf, "lbf")
    return _chance_above(pull, doubt, degrees_of_freedom, listed)


@dataclass(frozen=True)
class DecisionRisks:
    """What may be wrong with a decision on a unit, whichever way it goes; chances from 0 to 1.

    consumer: that a unit let go as meeting its listing is below it.
    producer: that a unit flagged as not meeting it meets it all the same.
    """

    consumer: float
    producer: float


def specific_risks(
    pull_lbf: float,
    standard_uncertainty_lbf: float,
    degrees_of_freedom: float,
    listed_lbf: float,
) -> DecisionRisks:
    """Return both risks of a decision on the one unit that was measured (JCGM 106:2012, 9.3).

    Arguments and refusals as of conformance_probability, which is the producer's.
    """
    meets = conformance_probability(
        pull_lbf, standard_uncertainty_lbf, degrees_of_freedom, listed_lbf
    )
    return DecisionRisks(consumer=1.0 - meets, producer=meets)


def risks_of_the_rule(
    true_pull_lbf: float,
    standard_uncertainty_lbf: float,
    degrees_of_freedom: float,
    listed_lbf: float,
    confidence: float,
) -> DecisionRisks:
    """Return how often the rule W ≥ L goes wrong on units that truly pull so much, from 0 to 1.

    Such a unit meets the rule where P − t·u ≥ L, so with the chance F((P_true − L)/u − t), with
    t the one-sided factor at this confidence: below the listing that is the consumer's risk,
    1 − confidence at the most and less the further below; at the listing or above, what lacks to
    1 is the producer's. The other of the two is 0. The guard band t·u is the price of the first.
    Raises ValueError for a number that can't be, and unless confidence lies between 0.5 and 1.
    """
    true_pull = not_negative("true_pull_lbf", true_pull_lbf, "lbf")
    doubt = not_negative("standard_uncertainty_lbf", standard_uncertainty_lbf, "lbf")
    listed = not_negative("listed_lbf", listed_lbf, "lbf")
    # On need, as below: most who import this module only ask how a unit stands.
    from ratings.mechanics.uncertainty import coverage_factor

    guard_lbf = coverage_factor(confidence, degrees_of_freedom) * doubt
    accepted = _chance_above(true_pull, doubt, degrees_of_freedom, listed + guard_lbf)
    if true_pull < listed:
        return DecisionRisks(consumer=accepted, producer=0.0)
    return DecisionRisks(consumer=0.0, producer=1.0 - accepted)


def _chance_above(
    estimate_lbf: float, doubt_lbf: float, degrees_of_freedom: float, limit_lbf: float
) -> float:
    from ratings.mechanics.uncertainty import cumulative_t

    above_lbf = estimate_lbf - limit_lbf
    # A doubt so small that the quotient has no size left decides as no doubt does.
    if abs(above_lbf) >= doubt_lbf * 1e9:
        cumulative_t(0.0, degrees_of_freedom)
        return 1.0 if above_lbf >= 0.0 else 0.0
    return cumulative_t(above_lbf / doubt_lbf, degrees_of_freedom)
