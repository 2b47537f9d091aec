"""A line on each page whose figures may change in a minute, since units are being rated again."""

from __future__ import annotations

from typing import Any

from django import template
from django.db.models import Model

from fleet.models import SuppressorHousing
from ratings.rerating.telling import last_of, that_rate, under_way

register = template.Library()


@register.inclusion_tag("rerating/under_way.html")
def reratings_under_way(housing: SuppressorHousing | None = None) -> dict[str, Any]:
    """Say what rates units again at present: this unit, where one is given, else any."""
    return {"all": under_way() if housing is None else that_rate(housing)}


@register.inclusion_tag("rerating/last.html")
def last_rerating(about: Model) -> dict[str, Any]:
    """Say what rates the units of a lot again, or all by the policy, or what came of the last."""
    return {"told": last_of(about)}
