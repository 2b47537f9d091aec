"""What an extraction check comes to: each check's outcome, and the verdict on a unit."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


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
    """What is checked."""

    LINE_PULL = "line pull at the pads"
    CRANE = "hook load on the crane"
    RIGGING = "rigging"
    CENTRIFUGAL = "centrifugal force"
    AMPLITUDE = "amplitude"
    CLAMP = "clamp grip"
    TENSION = "tension in the pile"
    STANDING = "standing"
    INSPECTION = "inspection"
    SERVICE = "service"
    RATING = "rating"
    DATES = "dates"
    DISTANCE = "distance"


# Checks whose demand grows with the ground's resistance.
BEARS_GROUND = (
    CheckKey.LINE_PULL,
    CheckKey.CRANE,
    CheckKey.RIGGING,
    CheckKey.CENTRIFUGAL,
    CheckKey.CLAMP,
    CheckKey.TENSION,
)


@dataclass(frozen=True)
class Check:
    """One check of one unit.

    demand, supply: in lbf; of AMPLITUDE in inches from peak to peak, of INSPECTION in days, of
        DISTANCE in miles; None where not known, and of a check that is a matter of yes or no.
    margin: supply over demand.
    """

    key: CheckKey
    outcome: Outcome
    demand: float | None = None
    supply: float | None = None
    margin: float | None = None


@dataclass(frozen=True)
class UnitVerdict:
    """Whether a unit suits a job, and what governs.

    governing: of the checks that come out worst the one with the least margin.
    margin: its margin, None where it has none.
    low, high: the verdict at either end of the ground's range.
    flip_lbf, care_flip_lbf: resistance of the ground above which a check of force fails, or
        holds only with care; None where none that depends on the ground is known.
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

    def check(self, key: CheckKey) -> Check | None:
        """Return one of the checks, None where the job doesn't ask for it."""
        return next((each for each in self.checks if each.key is key), None)

    @property
    def holds_over_range(self) -> bool:
        """Whether the verdict is the same at either end of the ground's range."""
        return self.low is self.verdict is self.high
