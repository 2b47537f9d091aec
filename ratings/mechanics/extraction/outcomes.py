"""What an extraction check comes to: each check's outcome, and the verdict on a unit."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from itertools import chain


class Outcome(StrEnum):
    """How one check comes out, from good to bad."""

    HOLDS = "holds"
    CARE = "with care"
    UNKNOWN = "not known"
    FAILS = "fails"


class Verdict(StrEnum):
    """Whether a unit suits a job, best first."""

    SUITABLE = "suitable"
    CARE = "suitable with care"
    CANNOT_BE_JUDGED = "cannot be judged"
    NOT_SUITABLE = "not suitable"

    @property
    def may_go(self) -> bool:
        """Whether a unit of this verdict may be sent to the job."""
        return self in (Verdict.SUITABLE, Verdict.CARE)


class CheckKey(StrEnum):
    """What is checked of forces: each asks something of the unit, and the unit gives something."""

    LINE_PULL = "line pull at the pads"
    CRANE = "hook load on the crane"
    RIGGING = "rigging"
    CENTRIFUGAL = "centrifugal force"
    AMPLITUDE = "amplitude"
    CLAMP = "clamp grip"
    TENSION = "tension in the pile"
    TOGETHER = "vibration and line pull together"
    ACCELERATION = "peak acceleration"
    LIFT = "lifting it once free"


# Checks whose demand grows with the ground's resistance.
BEARS_GROUND = (
    CheckKey.LINE_PULL,
    CheckKey.CRANE,
    CheckKey.RIGGING,
    CheckKey.CENTRIFUGAL,
    CheckKey.CLAMP,
    CheckKey.TENSION,
    CheckKey.TOGETHER,
)


@dataclass(frozen=True)
class Check:
    """One check of force of one unit.

    demand, supply: in lbf; of AMPLITUDE in inches from peak to peak, of ACCELERATION in g; None
        where not known.
    margin: supply over demand.
    judges: whether the verdict rests on it; of the criterion that is not the yard's rule the
        checks are only shown.
    """

    key: CheckKey
    outcome: Outcome
    demand: float | None = None
    supply: float | None = None
    margin: float | None = None
    judges: bool = True


class ConditionKey(StrEnum):
    """What must be so beside the forces before a unit goes."""

    STANDING = "standing"
    INSPECTION = "inspection"
    SERVICE = "service"
    RATING = "rating"
    CALIBRATION = "calibration"
    CLAMP_KIND = "clamp for this pile"
    DATES = "dates"
    DISTANCE = "distance"


class ConditionState(StrEnum):
    """How a condition stands, from good to bad."""

    HOLDS = "holds"
    CARE = "with care"
    TO_DO = "to be done before it goes"
    BLOCKS = "stands in the way"

    @property
    def lets_go(self) -> bool:
        """Whether the unit may leave the yard as far as this condition goes."""
        return self in (ConditionState.HOLDS, ConditionState.CARE)


@dataclass(frozen=True)
class Condition:
    """One condition of one unit.

    value, limit: what there is and the most there may be: of INSPECTION the days since the last
        full count on the first day and the days one holds, of DISTANCE miles; None where the
        condition is a matter of yes or no, or the value isn't known.
    last_value: of INSPECTION the days since that count on the last day.
    """

    key: ConditionKey
    state: ConditionState
    value: float | None = None
    limit: float | None = None
    last_value: float | None = None


_SEVERITY_OF_STATE = {state: place for place, state in enumerate(ConditionState)}


class Told:
    """What the verdict by the forces, the checks and the conditions of a unit come to."""

    verdict: Verdict
    checks: tuple[Check, ...]
    conditions: tuple[Condition, ...]

    def check(self, key: CheckKey) -> Check | None:
        """Return one of the checks, None where the job doesn't ask for it."""
        return next((each for each in self.checks if each.key is key), None)

    def condition(self, key: ConditionKey) -> Condition | None:
        """Return one of the conditions, None where nothing asks for it."""
        return next((each for each in self.conditions if each.key is key), None)

    @property
    def may_go(self) -> bool:
        """Whether the unit may be sent as it stands: by its forces and by every condition."""
        return self.verdict.may_go and all(each.state.lets_go for each in self.conditions)

    @property
    def may_be_promised(self) -> bool:
        """Whether it may be committed: by its forces, and nothing that can't be met in time."""
        return self.verdict.may_go and all(
            each.state is not ConditionState.BLOCKS for each in self.conditions
        )

    @property
    def asks_care(self) -> bool:
        """Whether somebody must know of a force or a condition that holds only with care."""
        return self.verdict is Verdict.CARE or any(
            each.state is ConditionState.CARE for each in self.conditions
        )

    @property
    def to_do(self) -> tuple[Condition, ...]:
        """The conditions to be met before the unit goes."""
        return tuple(each for each in self.conditions if each.state is ConditionState.TO_DO)

    @property
    def blocking(self) -> tuple[Condition, ...]:
        """The conditions that stand in the way."""
        return tuple(each for each in self.conditions if each.state is ConditionState.BLOCKS)


@dataclass(frozen=True)
class UnitVerdict(Told):
    """Whether a unit suits a job by its forces, what governs, and the conditions beside them.

    verdict: of the forces alone. governing: of the checks that judge and come out worst the one
        with the least margin. margin: its margin, None where it has none.
    low, high: the verdict at either end of the ground's range.
    flip_lbf, care_flip_lbf: resistance of the ground above which a check of force fails, or
        holds only with care; None where none that depends on the ground is known.
    conditions: all that must be so beside the forces.
    pile: number of the group of piles that comes out worst, whose checks these are. piles: the
        verdict on every group of the job, () of a check of one pile alone.
    """

    mark: str
    verdict: Verdict
    governing: CheckKey
    margin: float | None
    checks: tuple[Check, ...]
    low: Verdict
    high: Verdict
    flip_lbf: float | None = None
    care_flip_lbf: float | None = None
    conditions: tuple[Condition, ...] = ()
    pile: int = 1
    piles: tuple[UnitVerdict, ...] = ()

    @property
    def holds_over_range(self) -> bool:
        """Whether the verdict is the same at either end of the ground's range."""
        return self.low is self.verdict is self.high


def worst_conditions(listed: Iterable[Iterable[Condition]]) -> tuple[Condition, ...]:
    """Return of several lists of conditions each condition as it stands worst."""
    found: dict[ConditionKey, Condition] = {}
    for condition in chain.from_iterable(listed):
        known = found.setdefault(condition.key, condition)
        if _SEVERITY_OF_STATE[condition.state] > _SEVERITY_OF_STATE[known.state]:
            found[condition.key] = condition
    return tuple(found.values())
