"""What a repair order made of a plan offers once the plan is carried out."""

from __future__ import annotations

from typing import Any

from django import template

from inspections.models import RepairOrder, RestorePlan
from inspections.restoring.recording import closable

register = template.Library()


@register.inclusion_tag("restoring/close_order.html", takes_context=True)
def close_by_plan(
    context: dict[str, Any], order: RepairOrder, plan: RestorePlan | None
) -> dict[str, Any]:
    """Offer who records to close an order with the pads of its plan, once all of them went in."""
    came = closable(plan, order) if plan and context.get("may_record") else None
    return {"order": order, "came": came, "csrf_token": context.get("csrf_token")}
