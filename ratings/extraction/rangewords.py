"""Whether a verdict holds over the range of the ground, and at what resistance it turns."""

from __future__ import annotations

from ratings.extraction.amounts import about, at_most
from ratings.mechanics.extraction.verdict import CheckKey, Outcome, UnitVerdict, Verdict

# Checks whose demand grows with the ground's hold.
BEARS_GROUND = (
    CheckKey.LINE_PULL,
    CheckKey.CRANE,
    CheckKey.RIGGING,
    CheckKey.CENTRIFUGAL,
    CheckKey.CLAMP,
    CheckKey.TENSION,
)


def range_sentence(verdict: UnitVerdict, low_lbf: float, high_lbf: float, system: str) -> str:
    """Return whether a verdict holds over the ground's range, and where it turns, in full."""
    low, high = about(low_lbf, system), about(high_lbf, system)
    if verdict.holds_over_range:
        lead = f"{_begin(verdict.verdict)} over the whole of the ground’s range, {low} to {high}."
    else:
        lead = (
            f"The verdict does not hold over the ground’s range: {verdict.low} at {low} of "
            f"resistance, {verdict.high} at {high}."
        )
    turns = _turns(verdict, system)
    return f"{lead} {turns}" if turns else lead


def range_words(verdict: UnitVerdict, high_lbf: float, system: str) -> str:
    """Return the same in a line, for a row of the ranking."""
    held = "Holds over the range of the ground" if verdict.holds_over_range else ""
    if not verdict.verdict.may_go:
        turns = _turns(verdict, system)
        return turns or (f"{held}." if held else "")
    if not held:
        return f"{_within(verdict, high_lbf, system)}."
    flip_lbf = verdict.flip_lbf
    return f"{held}." if flip_lbf is None else f"{held}; {_turns_not_suitable(flip_lbf, system)}."


def _within(verdict: UnitVerdict, high_lbf: float, system: str) -> str:
    """Where within the range it turns: to care, or to not suitable."""
    range_end = f"and the range goes to {about(high_lbf, system)}"
    if verdict.flip_lbf is not None and not verdict.high.may_go:
        words = _turns_not_suitable(verdict.flip_lbf, system)
    elif verdict.high is Verdict.CARE and verdict.care_flip_lbf is not None:
        at = at_most(verdict.care_flip_lbf, system)
        words = f"turns suitable only with care above {at} of ground resistance"
    else:
        words = f"{verdict.low} at the low end of the range, {verdict.high} at the high end"
        return f"{words[0].upper()}{words[1:]}"
    return f"{words[0].upper()}{words[1:]}, {range_end}"


def _turns(verdict: UnitVerdict, system: str) -> str:
    flip_lbf, care_lbf = verdict.flip_lbf, verdict.care_flip_lbf
    if flip_lbf is None:
        return ""
    known = "" if _all_known(verdict) else "By the checks that can be reckoned: "
    if flip_lbf <= 0.0:
        words = "Its forces fall short even without the ground’s hold."
    elif verdict.verdict.may_go:
        words = f"It {_turns_not_suitable(flip_lbf, system)}."
        if care_lbf is not None and 0.0 < care_lbf < flip_lbf:
            at = at_most(care_lbf, system)
            words = (
                f"Its forces hold with the margin wanted up to {at} of ground resistance; it "
                f"{_turns_not_suitable(flip_lbf, system)}."
            )
    else:
        words = f"Its forces hold up to {at_most(flip_lbf, system)} of ground resistance."
    return f"{known}{words[0].lower()}{words[1:]}" if known else words


def _turns_not_suitable(flip_lbf: float, system: str) -> str:
    return f"turns not suitable above {at_most(flip_lbf, system)} of ground resistance"


def _all_known(verdict: UnitVerdict) -> bool:
    return not any(
        each.key in BEARS_GROUND and each.outcome is Outcome.UNKNOWN for each in verdict.checks
    )


def _begin(verdict: Verdict) -> str:
    return f"{verdict[0].upper()}{verdict[1:]}"
