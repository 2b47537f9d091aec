"""Tags that write the figures of an answer in the reader's units."""

from __future__ import annotations

from typing import Any

from django import template

from ratings.jobs import words

register = template.Library()


@register.simple_tag(takes_context=True)
def about(context: dict[str, Any], lbf: float) -> str:
    """Write a force to three figures."""
    return words.about(lbf, str(context.get("units", "us")))
