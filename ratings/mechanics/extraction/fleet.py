"""The extraction check of a whole fleet in one pass."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property
from typing import TYPE_CHECKING

from ratings.mechanics.extraction.columns import Columns
from ratings.mechanics.extraction.forces import Asked, force_checks
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.policy import ExtractionPolicy
from ratings.mechanics.extraction.states import state_checks
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.extraction.verdict import (
    Check,
    CheckKey,
    Outcome,
    UnitVerdict,
    Verdict,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from ratings.mechanics.extraction.columns import Numbers

# From good to bad; the worst outcome of a unit's checks is its verdict.
_OUTCOMES = tuple(Outcome)
_VERDICTS = tuple(Verdict)
_CODES = {outcome: code for code, outcome in enumerate(_OUTCOMES)}
# Supply may be short of demand in the last bit where both are the same figure.
_HAIR = 1.0 - 1e-12


def check_fleet(
    units: Sequence[Unit], job: Job, policy: ExtractionPolicy | None = None
) -> FleetVerdict:
    """Check every unit against a job.

    Raises LayerFault where the ground can't be reckoned with.
    """
    return FleetVerdict(tuple(units), job, policy or ExtractionPolicy())


class FleetVerdict:
    """The verdicts on many units, reckoned as columns and told one by one when asked."""

    def __init__(self, units: tuple[Unit, ...], job: Job, policy: ExtractionPolicy) -> None:
        self.ground = ground(job, policy)
        self._units, self._policy = units, policy
        self._asked = force_checks(Columns(units), job, policy, self.ground)
        self._states = [state_checks(unit, job, policy) for unit in units]
        self._worst_state = self._worst_states()

    def __len__(self) -> int:
        return len(self._units)

    @cached_property
    def verdicts(self) -> list[Verdict]:
        """The verdict on every unit, in the order the units were given."""
        return self._verdicts_at(self.ground.resistance_lbf)

    def ranking(self) -> list[int]:
        """Return the units' places, best first.

        By verdict, then by how few checks of force aren't known, then by least margin, then as
        given.
        """
        import numpy as np

        codes = np.array([_VERDICTS.index(each) for each in self.verdicts])
        unknown = np.sum([np.isnan(margins) for _, margins, _ in self._expected], axis=0)
        order = np.lexsort((-self._least_margins, unknown, codes))
        return [int(place) for place in order]

    def unit(self, place: int) -> UnitVerdict:
        """Return the whole verdict on one unit."""
        checks = (*self._force_checks_of(place), *self._states[place])
        governing = min(checks, key=_governs)
        return UnitVerdict(
            mark=self._units[place].mark,
            verdict=self.verdicts[place],
            governing=governing.key,
            margin=governing.margin,
            checks=checks,
            low=self._low[place],
            high=self._high[place],
            flip_lbf=_known(self._flip[place]),
            care_flip_lbf=_known(self._care_flip[place]),
        )

    @cached_property
    def _flip(self) -> Numbers:
        return self._flips(1.0)

    @cached_property
    def _care_flip(self) -> Numbers:
        return self._flips(self._policy.care_margin)

    @cached_property
    def _expected(self) -> list[tuple[Numbers, Numbers, NDArray[np.intp]]]:
        """Demand, margin and outcome of each check at the resistance expected."""
        held, care_margin = self.ground.resistance_lbf, self._policy.care_margin
        return [
            (each.demand(held), _margins(each, held), _codes(each, held, care_margin))
            for each in self._asked
        ]

    @cached_property
    def _low(self) -> list[Verdict]:
        return self._verdicts_at(self.ground.low_lbf)

    @cached_property
    def _high(self) -> list[Verdict]:
        return self._verdicts_at(self.ground.high_lbf)

    @cached_property
    def _least_margins(self) -> Numbers:
        import numpy as np

        margins = [margins for _demand, margins, _code in self._expected]
        least = np.min(np.nan_to_num(np.array(margins), nan=np.inf, posinf=np.inf), axis=0)
        # A unit of which nothing is known comes after those of which something is.
        return np.where(np.isinf(least), 0.0, least)

    def _flips(self, margin: float) -> Numbers:
        import numpy as np

        flips = [each.flip_lbf(margin) for each in self._asked if each.share]
        return np.maximum(np.min(np.nan_to_num(np.array(flips), nan=np.inf), axis=0), 0.0)

    def _verdicts_at(self, resistance_lbf: float) -> list[Verdict]:
        import numpy as np

        codes = [_codes(each, resistance_lbf, self._policy.care_margin) for each in self._asked]
        worst = np.max(np.array([*codes, self._worst_state]), axis=0)
        return [_VERDICTS[code] for code in worst]

    def _worst_states(self) -> NDArray[np.intp]:
        import numpy as np

        worst = (max(_CODES[check.outcome] for check in checks) for checks in self._states)
        return np.array(list(worst), dtype=np.intp)

    def _force_checks_of(self, place: int) -> list[Check]:
        return [
            Check(
                each.key,
                _OUTCOMES[codes[place]],
                _known(demand[place]),
                _known(each.supply[place]),
                _known(margins[place]),
            )
            for each, (demand, margins, codes) in zip(self._asked, self._expected, strict=True)
        ]


def _margins(asked: Asked, resistance_lbf: float) -> Numbers:
    """Supply over demand; infinite where nothing is demanded, nan where either isn't known."""
    import numpy as np

    demand = asked.demand(resistance_lbf)
    none = np.where(np.isnan(asked.supply), np.nan, np.inf)
    # Next to nothing demanded: infinite too.
    with np.errstate(over="ignore"):
        return np.divide(asked.supply, demand, out=none, where=demand != 0.0)


def _codes(asked: Asked, resistance_lbf: float, care_margin: float) -> NDArray[np.intp]:
    import numpy as np

    margins = _margins(asked, resistance_lbf)
    return np.select(
        [
            np.isnan(margins),
            margins < _HAIR,
            margins < care_margin * _HAIR,
        ],
        [_CODES[Outcome.UNKNOWN], _CODES[Outcome.FAILS], _CODES[Outcome.CARE]],
        _CODES[Outcome.HOLDS],
    ).astype(np.intp)


def _known(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _governs(check: Check) -> tuple[int, float, int]:
    """Sort the worst outcome first, then the least margin; yes or no counts as no margin."""
    without = {Outcome.FAILS: 0.0, Outcome.UNKNOWN: 0.0, Outcome.CARE: 1.0}
    margin = check.margin
    if margin is None:
        margin = without.get(check.outcome, math.inf)
    return -_CODES[check.outcome], margin, list(CheckKey).index(check.key)
