"""The form that asks the days of a page's lists, once a page."""

from __future__ import annotations

from typing import Any

from django import template

from fleet.tables import DatedFilter, DaysOfPage

register = template.Library()


@register.inclusion_tag("fleet/days_of_page.html", takes_context=True)
def ask_days(context: dict[str, Any]) -> dict[str, Any]:
    """Write the form where no list of the page before it, and no filter of its own, asks days."""
    days = DaysOfPage.of(context["request"])
    is_asked = days.is_shown or isinstance(context.get("filters"), DatedFilter)
    days.is_shown = True
    return {"days": None if is_asked else days}
