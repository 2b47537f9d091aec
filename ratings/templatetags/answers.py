"""Tags that write the figures of an answer in the reader's units."""

from __future__ import annotations

from typing import Any

from django import template

from ratings.jobs import words
from ratings.jobs.going import Go
from ratings.mechanics.extraction.outcomes import ConditionState, Outcome, Verdict

register = template.Library()

# The shape and colour of each state; every state is told by its word as well.
_SHAPES: dict[str, str] = {
    Verdict.SUITABLE: "good",
    Outcome.HOLDS: "good",
    Go.GO: "good",
    Verdict.CARE: "care",
    Outcome.CARE: "care",
    Go.CARE: "care",
    ConditionState.TO_DO: "first",
    Go.FIRST: "first",
    Verdict.CANNOT_BE_JUDGED: "unknown",
    Outcome.UNKNOWN: "unknown",
}


@register.filter
def shape(state: str) -> str:
    """Return which shape stands beside a state: that of what is bad for one not known here."""
    return _SHAPES.get(state, "bad")


@register.simple_tag(takes_context=True)
def about(context: dict[str, Any], lbf: float) -> str:
    """Write a force to three figures."""
    return words.about(lbf, str(context.get("units", "us")))
