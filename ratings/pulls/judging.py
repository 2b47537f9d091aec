"""How what pulls measured stands to what was calculated: within its range, and by soil and pile."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import median

from ratings.mechanics.extraction.learning import CONFIDENCE
from ratings.models import PullRecord


class Within(StrEnum):
    """Where what was measured lies beside the range calculated of the ground."""

    BELOW = "below the range"
    INSIDE = "inside the range"
    ABOVE = "above the range"
    UNKNOWN = "not known"


def within_range(pull: PullRecord) -> Within:
    """Return where a pull lies; of one that did not come only that it held too much is known."""
    measured, low, high = pull.measured_lbf, pull.low_lbf, pull.high_lbf
    if measured is None or low is None or high is None:
        return Within.UNKNOWN
    if pull.is_lower_bound:
        return Within.ABOVE if measured > high else Within.UNKNOWN
    if not pull.is_break_out:
        return Within.UNKNOWN
    if measured < low:
        return Within.BELOW
    return Within.ABOVE if measured > high else Within.INSIDE


@dataclass(frozen=True)
class Calibration:
    """How many pulls lie inside the range calculated for them, of those that tell.

    low, high: between what the share lies nine times in ten, by the exact binomial interval
    (Clopper and Pearson, Biometrika 26, 1934). not_told: pulls that say nothing of it.
    """

    inside: int
    below: int
    above: int
    not_told: int

    @property
    def told(self) -> int:
        return self.inside + self.below + self.above

    @property
    def share(self) -> float | None:
        return self.inside / self.told if self.told else None

    @property
    def interval(self) -> tuple[float, float] | None:
        if not self.told:
            return None
        from scipy.special import betaincinv

        tail, k, n = (1.0 - CONFIDENCE) / 2.0, self.inside, self.told
        low = 0.0 if k == 0 else float(betaincinv(k, n - k + 1, tail))
        high = 1.0 if k == n else float(betaincinv(k + 1, n - k, 1.0 - tail))
        return low, high


def calibration(pulls: Iterable[PullRecord]) -> Calibration:
    """Return how the range calculated stands to what pulls measured."""
    places = [within_range(pull) for pull in pulls]
    inside, below, above, not_told = (
        places.count(each) for each in (Within.INSIDE, Within.BELOW, Within.ABOVE, Within.UNKNOWN)
    )
    return Calibration(inside, below, above, not_told)


@dataclass(frozen=True)
class Compared:
    """Pulls of one soil and kind of pile, pulled one way: what they measured over calculated.

    ratios: of those that came. middle: their median, None for none. spread: lowest and highest.
    """

    soil: str
    pile: str
    method: str
    pulls: int
    jobs: int
    ratios: tuple[float, ...]
    stayed: int

    @property
    def middle(self) -> float | None:
        return median(self.ratios) if self.ratios else None

    @property
    def spread(self) -> tuple[float, float] | None:
        return (min(self.ratios), max(self.ratios)) if self.ratios else None


def compared(pulls: Iterable[PullRecord]) -> list[Compared]:
    """Return measured against calculated by soil, kind of pile and way of pulling."""
    groups: dict[tuple[str, str, str], list[PullRecord]] = defaultdict(list)
    for pull in pulls:
        groups[pull.soil, pull.get_pile_kind_display(), pull.method].append(pull)
    return [_compared(key, each) for key, each in sorted(groups.items())]


def _compared(key: tuple[str, str, str], pulls: Sequence[PullRecord]) -> Compared:
    ratios = [pull.ratio for pull in pulls if pull.is_break_out and pull.ratio is not None]
    return Compared(
        *key,
        pulls=len(pulls),
        jobs=len({pull.commitment.job_id for pull in pulls}),
        ratios=tuple(each for each in ratios if math.isfinite(each)),
        stayed=sum(pull.is_lower_bound for pull in pulls),
    )
