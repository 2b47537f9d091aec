"""A watched pull, step by step, in words the crew can read to each other."""

from __future__ import annotations

VIBRATING = (
    "Read this sheet together. One person watches the stretch and nothing else, and may stop the "
    "pull at any time.",
    "With the line slack mark the rest line on housing and frame. Mark the stop line from it, by "
    "the rule below or by tape.",
    "Clear the swing and the ground as far as pile and hammer are long. Nobody under the load.",
    "Clamp the pile. Read the clamp’s pressure, and again after a minute.",
    "Run the hammer with the line just tight, until the pile answers.",
    "Raise the line slowly while it vibrates. Call the stretch aloud at every inch.",
    "At the stop line: stop raising, ease off, let it vibrate and try again. Never pull to the "
    "stops while it vibrates.",
    "If it does not move in a few minutes, stop and ask: the ground holds more than was reckoned.",
    "When it breaks out, ease the line so that the load does not spring.",
    "Lower and secure the pile before the clamp is opened. Count the pads after the pull.",
)
STILL = (
    VIBRATING[0],
    VIBRATING[1],
    VIBRATING[2],
    VIBRATING[3],
    "The hammer stays off. Raise the line slowly and call the stretch aloud at every inch.",
    "At the stop line: stop and hold. Do not jerk the line and do not swing the boom.",
    "If it does not move, lower off and ask: the ground holds more than was reckoned.",
    VIBRATING[8],
    VIBRATING[9],
)


def steps_of(is_vibrating: bool) -> tuple[str, ...]:
    """Return the steps of a pull with the hammer running, or still."""
    return VIBRATING if is_vibrating else STILL


CAUTIONS = (
    "The crane’s chart, rigging limits, the maker’s instructions, local code and a qualified "
    "person come before this sheet. It is void once the unit’s rating changes: pads counted "
    "otherwise, travel taped anew, a lot rated again. Scan the code before the pull to see."
)
