"""What a page of one thing offers to whoever is bound to yards."""

from __future__ import annotations

from typing import Any

from django import template
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.people.yards import stands_elsewhere, yard_names, yards_bound_to

register = template.Library()
# What a page asks of its reader before it offers an act.
MAY = ("may_record", "may_plan")


@register.simple_tag(takes_context=True)
def only_in_own_yards(context: Any, record: Any) -> SafeString | str:
    """Offer no act from here on of what stands in a yard where its reader may not act, and say so.

    Above the first act, within the block that holds them all.
    """
    person = context["request"].user
    if not any(context.get(name) for name in MAY):
        return ""
    place = stands_elsewhere(person, record)
    if place is None:
        return ""
    for name in MAY:
        context[name] = False
    return format_html(
        '<p class="note">{} {}; you record for {}. <a href="{}#yards">Why nothing is offered'
        "</a></p>",
        place.what,
        place.yard or "every yard",
        yard_names(yards_bound_to(person)),
        reverse("how"),
    )
