"""Units as columns of numbers, so that a whole fleet is reckoned in one pass."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.linepull import PadGroup, shared_lbf
from ratings.mechanics.uncertainty import coverage_factor

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Columns:
    """The facts of many units, one number of each per unit; nan where not on record."""

    units: tuple[Unit, ...]

    def __len__(self) -> int:
        return len(self.units)

    def of(self, name: str) -> Numbers:
        """Return one fact of every unit."""
        import numpy as np

        given = (getattr(unit, name) for unit in self.units)
        return np.array([math.nan if value is None else value for value in given], dtype=float)

    @cached_property
    def pads(self) -> PadColumns:
        return PadColumns(self.units)


class PadColumns:
    """The pad groups of many units, one below the other, and the working capacity they give.

    The same reckoning as linepull.line_pull, a column at a time.
    """

    def __init__(self, units: Sequence[Unit]) -> None:
        import numpy as np

        owned = [(place, group) for place, unit in enumerate(units) for group in unit.groups]
        self._many = len(units)
        self._owner = np.array([place for place, _ in owned], dtype=np.intp)
        self._groups = [group for _, group in owned]
        self._count = self._column("count")
        self._rate = self._column("rate_lbf_in")
        self._error = self._column("standard_error_lbf_in")
        self._spread = self._column("spread_lbf_in")
        self._freedom = self._column("degrees_of_freedom")
        self._spread_freedom = self._column("spread_degrees_of_freedom")
        self._tape = np.array([unit.travel_uncertainty_in for unit in units], dtype=float)
        self._confidence = [unit.confidence for unit in units]

    def _column(self, name: str) -> Numbers:
        import numpy as np

        return np.array([float(getattr(group, name)) for group in self._groups], dtype=float)

    def capacity_lbf(self, stretch_in: Numbers) -> Numbers:
        """Return each unit's working capacity at its stretch, lbf; nan where that is nan.

        stretch_in: none beyond a unit's tested stretch. At a stretch of 0 there is none.
        """
        import numpy as np

        at = np.where(np.isfinite(stretch_in), np.maximum(stretch_in, 0.0), 0.0)
        force, slope, shared = self._per_pad(at[self._owner])
        pull = self._sum(self._count * force)
        rate = self._sum(self._count * slope)
        scatter = self._spread / self._rate * force
        scatter_squared = self._count * scatter * scatter
        whole_shared = self._sum(shared)
        tape = rate * self._tape
        own = self._sum(scatter_squared) + tape * tape
        uncertainty = np.sqrt(own + whole_shared * whole_shared)
        freedom = self._degrees_of_freedom(shared, scatter_squared, whole_shared, uncertainty)
        capacity = np.maximum(pull - self._factors(freedom) * uncertainty, 0.0)
        return np.where(np.isfinite(stretch_in), capacity, np.nan)

    def _sum(self, values: Numbers) -> Numbers:
        import numpy as np

        return np.bincount(self._owner, weights=values, minlength=self._many).astype(float)

    def _least(self, values: Numbers, counts: NDArray[np.bool_]) -> Numbers:
        import numpy as np

        least = np.full(self._many, np.inf)
        np.minimum.at(least, self._owner[counts], values[counts])
        return least

    def _per_pad(self, at: Numbers) -> tuple[Numbers, Numbers, Numbers]:
        force, slope = self._rate * at, self._rate.copy()
        shared = self._count * self._error * at
        for place, group in enumerate(self._groups):
            if group.curve is not None:
                stretch = _within(group, float(at[place]))
                force[place] = group.curve.force_lbf(stretch)
                slope[place] = group.curve.slope_lbf_in(stretch)
                shared[place] = shared_lbf(group, stretch)
        return force, slope, shared

    def _degrees_of_freedom(
        self, shared: Numbers, scatter_squared: Numbers, whole: Numbers, uncertainty: Numbers
    ) -> Numbers:
        """Welch–Satterthwaite as linepull has it, cut down to whole numbers."""
        import numpy as np

        worst = self._least(self._freedom, shared != 0.0)
        of_spread = self._least(self._spread_freedom, scatter_squared != 0.0)
        of_shared = np.full(self._many, np.inf)
        # A shared error next to nothing has as good as infinitely many, which is no fault.
        with np.errstate(over="ignore"):
            ratio = np.divide(
                uncertainty, whole, out=np.full(self._many, np.inf), where=whole != 0.0
            )
            finite = np.isfinite(worst) & np.isfinite(ratio)
            of_shared[finite] = worst[finite] * (ratio[finite] ** 2) * (ratio[finite] ** 2)
        effective = np.minimum(of_shared, of_spread)
        whole_number = np.maximum(1.0, np.floor(effective))
        return np.where(effective < 1e9, whole_number, np.inf)

    def _factors(self, freedom: Numbers) -> Numbers:
        import numpy as np

        pairs = list(zip(self._confidence, freedom.tolist(), strict=True))
        known = {pair: coverage_factor(*pair) for pair in set(pairs)}
        return np.array([known[pair] for pair in pairs], dtype=float)


def _within(group: PadGroup, stretch_in: float) -> float:
    """Rounding must not take a stretch a hair beyond the tested one."""
    return min(stretch_in, group.tested_stretch_in)
