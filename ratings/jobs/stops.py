"""Where the pull of each group of piles stops: the same on a page and on the pull sheet."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from fractions import Fraction

from fleet.quantities import Quantity
from ratings.jobs.answer import UnitAnswer, calculate
from ratings.jobs.may_go import MayGo, may_go_of
from ratings.mechanics.extraction.job import PileOfJob
from ratings.mechanics.extraction.outcomes import CheckKey
from ratings.mechanics.extraction.stops import BESIDE_THE_PADS, slack_lbf
from ratings.mechanics.extraction.supply import stop_stretch_in, stretch_at_pull_in

# In a few words, beside a verdict.
STOPS_SHORT = "the pull must stop before the pull expected"


def on_the_tape_in(stretch_in: float, system: str) -> float:
    """Cut a stretch down to the last sixteenth of an inch, or millimetre, that a tape shows."""
    division_in = 0.0625 if system == "us" else Quantity.LENGTH.stored(1.0, "si")
    return math.floor(stretch_in / division_in + 1e-9) * division_in


def tape_words(stretch_in: float, system: str) -> str:
    """Return a stretch as a tape shows it, such as "5 5/8 in"; in SI in millimetres."""
    if system == "si":
        return Quantity.LENGTH.words(stretch_in, system)
    whole, sixteenths = divmod(round(stretch_in * 16), 16)
    if not sixteenths:
        return f"{whole} in"
    part = Fraction(sixteenths, 16)
    fraction = f"{part.numerator}/{part.denominator} in"
    return f"{whole} {fraction}" if whole else fraction


def cut_words(stretch_in: float, system: str) -> str:
    """Return a stretch cut down to what a tape shows."""
    return tape_words(on_the_tape_in(stretch_in, system), system)


BEARS_PULL = (CheckKey.LINE_PULL, *BESIDE_THE_PADS)


@dataclass(frozen=True)
class Stops:
    """Where a pull stops.

    at_pads_lbf: the pull at the pads that each may come to, the yard's margin kept; of the pads
        their working capacity at the stretch of this pull, which has its own.
    by: whose limit comes first. hook_lbf: the hook load then, block and all.
    stretch_by: whose limit but the pads' own the stiffest pads reach first, and stretch_in at what
        stretch: infinite where nowhere in the usable travel, None where that isn't known.
    margin_used_up: limits that leave less than the yard's margin at the pull expected, so that
        nothing more than that pull is allowed.
    """

    at_pads_lbf: dict[CheckKey, float]
    by: CheckKey
    hook_lbf: float
    stretch_by: CheckKey
    stretch_in: float | None
    margin_used_up: tuple[CheckKey, ...] = ()


def stops_of(answer: UnitAnswer) -> Stops:
    """Return where the pull of a unit stops that may go.

    Raises ValueError where a limit isn't known, which no committed unit's is.
    """
    path = answer.path
    if path.at_pads_lbf is None or path.at_crane_lbf is None:
        raise ValueError("a weight of the load path is not known: no hook load can be given")
    slack = {key: _slack_lbf(answer, key) for key in BEARS_PULL}
    by = min(slack, key=lambda key: slack[key])
    stretch_by = min(BESIDE_THE_PADS, key=lambda key: slack[key])
    at_pads = {key: path.at_pads_lbf + each for key, each in slack.items()}
    return Stops(
        at_pads_lbf=at_pads,
        by=by,
        hook_lbf=path.at_crane_lbf + slack[by],
        stretch_by=stretch_by,
        stretch_in=stop_stretch_in(answer.unit, max(0.0, at_pads[stretch_by])),
        margin_used_up=tuple(key for key in BESIDE_THE_PADS if slack[key] <= 0.0),
    )


def _slack_lbf(answer: UnitAnswer, key: CheckKey) -> float:
    """Return what the pull may grow by until a check is at its limit. Raises ValueError."""
    check = answer.verdict.check(key)
    slack = slack_lbf(check, answer.job.crane, answer.policy) if check else None
    if slack is None:
        raise ValueError(f"the check of {key} is not known: no hook load can be given")
    return slack


WHOSE = {
    CheckKey.LINE_PULL: "the pads’",
    CheckKey.CRANE: "the crane’s",
    CheckKey.RIGGING: "the rigging’s",
    CheckKey.CLAMP: "the clamp’s",
    CheckKey.TENSION: "the pile’s",
}


@dataclass(frozen=True)
class GroupSheet:
    """A group of piles of the job, and where the pull of one of them stops.

    answer: of this group alone. pads_stop_in: the usable travel, less half the amplitude while
    vibrating, cut down to what a tape shows. stop_in: the stretch not to pass, the least of that
    and of the stretch at which crane, rigging, clamp or pile may be at its limit.
    expected_in: stretch at the pull expected, None where it isn't known.
    """

    pile: PileOfJob
    answer: UnitAnswer
    stops: Stops
    pads_stop_in: float
    stop_in: float
    expected_in: float | None

    @property
    def is_by_load(self) -> bool:
        """Whether no stretch stands for the limit that comes first: the load indicator tells."""
        return self.stops.stretch_in is None

    @property
    def stops_short(self) -> bool:
        """Whether the pull must stop before the pull expected is reached."""
        return self.expected_in is not None and self.expected_in > self.stop_in

    @property
    def hook_lbf(self) -> float:
        """The hook load expected, block and all."""
        return self.answer.path.at_crane_lbf or 0.0


def group_sheets(answer: UnitAnswer, system: str) -> tuple[tuple[GroupSheet, ...], GroupSheet]:
    """Return where the pull of each group of piles stops, and that of the group the answer is of.

    Raises ValueError where a limit isn't known, which no committed unit's is.
    """
    groups = tuple(_group_sheet(each, _answer_of(answer, each), system) for each in answer.piles)
    return groups, next(each for each in groups if each.pile.number == answer.verdict.pile)


def _answer_of(answer: UnitAnswer, pile: PileOfJob) -> UnitAnswer:
    """Return the answer of one group of piles, judged already with the others."""
    if pile.number == answer.verdict.pile:
        return answer
    judged = next(each for each in answer.verdict.piles if each.pile == pile.number)
    return calculate(answer.candidate, (pile,), answer.policy, judged)


def _group_sheet(pile: PileOfJob, answer: UnitAnswer, system: str) -> GroupSheet:
    stops = stops_of(answer)
    pads_stop_in = on_the_tape_in(answer.stretch_in or 0.0, system)
    stop_in = pads_stop_in
    if stops.stretch_in is not None and not math.isinf(stops.stretch_in):
        stop_in = min(pads_stop_in, on_the_tape_in(stops.stretch_in, system))
    expected_in = stretch_at_pull_in(answer.unit, answer.path.at_pads_lbf or 0.0)
    return GroupSheet(pile, answer, stops, pads_stop_in, stop_in, expected_in)


def stops_short_words(groups: Collection[GroupSheet], worst: GroupSheet, system: str) -> str:
    """Return that a pull must stop before the pull expected, and what limits it; "" if none."""
    short = [each for each in groups if each.stops_short]
    if not short:
        return ""
    # Told of the group that comes out worst, where it is one of them.
    told = worst if worst in short else short[0]
    of = f"Group {told.pile.number}: the" if len(groups) > 1 else "The"
    if told.is_by_load or told.stop_in >= told.pads_stop_in:
        limit = "there the pads are at the end of their travel"
    else:
        limit = f"there stiff pads may be at {WHOSE[told.stops.stretch_by]} limit"
    expected = tape_words(told.expected_in or 0.0, system)
    others = [str(each.pile.number) for each in short if each is not told]
    also = f" So with group{'s' * (len(others) > 1)} {', '.join(others)}." if others else ""
    return (
        f"{of} pull must stop before the pull expected: at {tape_words(told.stop_in, system)}"
        f", {limit}; the pull expected comes at about {expected}. It probably can’t be made as "
        f"planned: ask the dispatcher before you start.{also}"
    )


def stops_short_of(answer: UnitAnswer, system: str) -> str:
    """Return the same of an answer, whichever group is looked at; "" of one that can't go."""
    whole = answer.whole or answer.verdict
    if not whole.verdict.may_go:
        return ""
    if answer.whole is not None:
        answer = calculate(answer.candidate, answer.piles, answer.policy, whole)
    try:
        groups, worst = group_sheets(answer, system)
    except ValueError:
        # A limit isn't known: no stop line can be told, nor a sheet printed.
        return ""
    return stops_short_words(groups, worst, system)


def go_of(answer: UnitAnswer, system: str) -> tuple[MayGo, str]:
    """Return whether a unit may go, and that its pull must stop short; "" where it needn't.

    The one verdict of the ranking, of the unit's own page and of its commitment.
    """
    short = stops_short_of(answer, system)
    cares = (STOPS_SHORT,) if short else ()
    return may_go_of(answer.whole or answer.verdict, answer.unit, cares), short
