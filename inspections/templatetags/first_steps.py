"""The first steps of a new yard on a page that shows them until they are done or hidden."""

from __future__ import annotations

from typing import Any

from django import template

from fleet.roles import signed_in
from inspections.first_steps.steps import first_steps

register = template.Library()


@register.inclusion_tag("first_steps/on_board.html", takes_context=True)
def first_steps_to_do(context: dict[str, Any]) -> dict[str, Any]:
    """Show an equipment manager the steps that are left; nothing once all are done or hidden."""
    if not context.get("may_record"):
        return {"first": None}
    found = first_steps(signed_in(context["request"]), context.get("known"))
    is_shown = not (found.is_hidden or found.is_all_done)
    return {
        "first": found if is_shown else None,
        "csrf_token": context.get("csrf_token"),
    }


@register.inclusion_tag("first_steps/next.html", takes_context=True)
def next_first_step(context: dict[str, Any]) -> dict[str, Any]:
    """Lead an equipment manager from what was just entered to the next step that is left."""
    if not context.get("may_record"):
        return {"step": None}
    found = first_steps(signed_in(context["request"]))
    is_shown = not (found.is_hidden or found.is_all_done)
    return {"first": found, "step": found.next if is_shown else None}
