"""Tags that write what is known of a pad's rubber."""

from __future__ import annotations

from django import template

from ratings.mechanics.plausibility import strain_pct

register = template.Library()

NO_THICKNESS = "not known: the rubber’s thickness is not on record"


@register.simple_tag
def strain(stretch_in: float | None, thickness_in: float | None) -> str:
    """Write how far rubber is strained at a stretch, such as "125 %"."""
    if thickness_in is None:
        return NO_THICKNESS
    if stretch_in is None:
        return "not known: no stretch is on record"
    return f"{strain_pct(stretch_in, thickness_in):.0f} %"
