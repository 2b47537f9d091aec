"""How a unit stands against its listing: a guarded decision (JCGM 106)."""

from __future__ import annotations

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
