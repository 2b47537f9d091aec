"""What a page of one thing offers to whoever is bound to yards."""

from __future__ import annotations

from typing import Any

from django import template
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.people.yards import acts_in, stands_elsewhere, yard_names, yards_bound_to

register = template.Library()
# What a page asks of its reader before it offers an act.
MAY = ("may_record", "may_plan")


@register.simple_tag(takes_context=True)
def acts_here(context: Any, thing: Any) -> bool:
    """Whether its reader may act in the yard of a thing; asks no more of the database for each."""
    return acts_in(context["request"].user, thing.yard_id)


@register.simple_tag(takes_context=True)
def only_in_own_yards(context: Any, *records: Any, any_of_them: bool = False) -> SafeString | str:
    """Offer no act from here on of what stands in a yard where its reader may not act, and say so.

    Above the first act, within the block that holds them all. any_of_them: as of must_act_in. What
    its reader does in yards of their own all the same is offered by `records_elsewhere`.
    """
    person = context["request"].user
    if not any(context.get(name) for name in MAY):
        return ""
    place = stands_elsewhere(person, *records, any_of_them=any_of_them)
    if place is None:
        return ""
    context["records_elsewhere"] = context.get("may_record")
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
