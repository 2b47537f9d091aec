"""Tags that write the figures of an answer in the reader's units."""

from __future__ import annotations

from typing import Any

from django import template
from django.utils.safestring import SafeString, mark_safe

from ratings.jobs import words
from ratings.jobs.may_go import ASSUMED, Go
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
    ASSUMED: "first",
    Verdict.CANNOT_BE_JUDGED: "unknown",
    Outcome.UNKNOWN: "unknown",
}

# One shape for each: a full arrow up, a hollow triangle with a stroke, a clock, a lozenge with a
# question, a full square with a bar. Written here and not by a template: a table has hundreds.
_DRAWN = {
    "good": '<path d="M8 1 14.5 8H11v7H5V8H1.5z" fill="currentColor"/>',
    "care": '<path d="M8 1.5 15 14.5H1zM8 6v4.5M8 11.8v1.4"/>',
    "first": '<circle cx="8" cy="8" r="6.5"/><path d="M8 4v4.3l3 1.7"/>',
    "unknown": '<path d="M8 1 15 8 8 15 1 8zM6.2 6.6C6.2 4.2 9.8 4.2 9.8 6.4 9.8 7.8 8 7.8 8 9.2'
    'M8 10.4v1.4"/>',
    "bad": '<path d="M1.5 1.5h13v13h-13z" fill="currentColor"/>'
    '<path d="M4 8h8" stroke="var(--paper)" stroke-width="2.4"/>',
}
_MARKS = {
    name: mark_safe(  # drawn above, nothing in it is anybody's
        '<svg viewBox="0 0 16 16" aria-hidden="true" fill="none" stroke="currentColor" '
        f'stroke-width="1.6">{drawn}</svg>'
    )
    for name, drawn in _DRAWN.items()
}


@register.filter
def mark(name: str) -> SafeString:
    """Return the drawing of a shape, by the name that `shape` gives it."""
    return _MARKS[name]


@register.filter
def shape(state: str) -> str:
    """Return which shape stands beside a state: that of what is bad for one not known here."""
    return _SHAPES.get(state, "bad")


@register.simple_tag(takes_context=True)
def about(context: dict[str, Any], lbf: float) -> str:
    """Write a force to three figures."""
    return words.about(lbf, str(context.get("units", "us")))
