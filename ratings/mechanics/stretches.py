"""The stretch at which most is proven, of all up to the travel.

What is proven need not rise with stretch, nor have one peak: a curve that flattens, or is known
less well between two readings, makes it fall and rise. So no list of stretches will do. Every one
is tried, by bounds: what no stretch between two can beat is left, what surely rises between two
is largest at the longer, and all else is halved again. What is returned is no further below the
largest that there is than the coverage factor is rounded, so an inch of travel, which adds
stretches and takes none away, never lowers it.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Protocol, TypeVar

# Working capacities within a millionth of a pound are alike: then the longer stretch.
_ALIKE_LBF = 1e-6
# The coverage factor is rounded to 4 decimals: what is less than a fifth of its last is no more.
_OF_DOUBT = 2e-5
# Stretches are told apart to a millionth of an inch.
_DECIMALS = 6


class Tried(Protocol):
    """What holds at a stretch."""

    @property
    def stretch_in(self) -> float: ...
    @property
    def capacity_lbf(self) -> float: ...
    @property
    def doubt_lbf(self) -> float: ...


Found = TypeVar("Found", bound=Tried)
Found_co = TypeVar("Found_co", bound=Tried, covariant=True)


class Housing(Protocol[Found_co]):
    """What is asked of what hangs together, all of it by stretch, in."""

    def at(self, stretch_in: float) -> Found_co:
        """Return what holds at a stretch."""

    def most_at(self, stretch_in: float) -> float:
        """Return more than holds at a stretch or any shorter, lbf, at little cost."""

    def may_beat(self, enough_lbf: float, low_in: float, high_in: float) -> bool:
        """Say whether more than enough may hold anywhere beyond the one and up to the other."""

    def surely_rises(self, low_in: float, high_in: float) -> bool:
        """Say whether what holds surely rises all the way from the one to the other."""


def best_stretch(breaks: Sequence[float], housing: Housing[Found]) -> Found:
    """Return what holds at the stretch, up to the travel, where the working capacity is largest.

    breaks: the travel and what lies below it where a curve or what counts changes, longest first,
    down to rest. The housing is asked of no two stretches with one of them between.
    """
    best = housing.at(breaks[0])
    pieces = []
    for high, low in pairwise(breaks):
        # Nothing is proven to more than it carries, nor to more any shorter.
        if housing.most_at(high) <= best.capacity_lbf:
            break
        best = _better(best, housing.at(high))
        pieces.append((low, high))
    # Those beside the longest first: it is there that most is proven.
    waiting = pieces[::-1]
    while waiting:
        low, high = waiting.pop()
        enough = best.capacity_lbf + _OF_DOUBT * best.doubt_lbf + _ALIKE_LBF
        if (
            housing.most_at(high) <= enough
            or housing.surely_rises(low, high)
            or not housing.may_beat(enough, low, high)
        ):
            continue
        middle = round((low + high) / 2.0, _DECIMALS)
        if low < middle < high:
            best = _better(best, housing.at(middle))
            waiting += [(low, middle), (middle, high)]
    return best


def _better(best: Found, other: Found) -> Found:
    return other if other.capacity_lbf > best.capacity_lbf + _ALIKE_LBF else best
