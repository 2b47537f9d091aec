"""Tags that write figures in the reader's units."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from django import template

from fleet.dates import days_words
from fleet.quantities import (
    Quantity,
    capacity_words,
    force_words,
    listed_words,
    money,
    pull_words,
    share_words,
    shortfall_words,
)

register = template.Library()


def _system(context: dict[str, Any]) -> str:
    return str(context.get("units", "us"))


def _known(value: float | str | None) -> float | None:
    # A template gives "" for a figure of what isn't there, such as a head yet to come.
    return None if isinstance(value, str) else value


@register.simple_tag(takes_context=True)
def pull(context: dict[str, Any], lbf: float | None, *, listed: float | None = None) -> str:
    """Write a line pull; listed: the listing it stands beside, such as {% pull p listed=l %}."""
    return pull_words(_known(lbf), _system(context), listed_lbf=_known(listed))


@register.simple_tag(takes_context=True)
def capacity(context: dict[str, Any], lbf: float | None, *, listed: float | None = None) -> str:
    """Write a working capacity, rounded down; listed: the listing it stands beside."""
    return capacity_words(_known(lbf), _system(context), listed_lbf=_known(listed))


@register.simple_tag(takes_context=True)
def listed(context: dict[str, Any], lbf: float | None) -> str:
    return listed_words(_known(lbf), _system(context))


@register.simple_tag(takes_context=True)
def shortfall(context: dict[str, Any], capacity: float, listed: float) -> str:
    """Write what a working capacity lacks to a listing."""
    return shortfall_words(capacity, listed, _system(context))


@register.simple_tag(takes_context=True)
def force(context: dict[str, Any], lbf: float | None) -> str:
    return force_words(_known(lbf), _system(context))


@register.simple_tag(takes_context=True)
def measured(
    context: dict[str, Any], name: str, value: float | None, decimals: int | None = None
) -> str:
    """Write a stored value of a quantity, such as {% measured "LENGTH" unit.travel_in %}."""
    known = _known(value)
    return "–" if known is None else Quantity[name].words(known, _system(context), decimals)


@register.filter
def share(value: float | None) -> str:
    return share_words(_known(value))


@register.filter
def days(first_day: date, last_day: date) -> str:
    """Write a span of days, such as {{ job.first_day|days:job.last_day }}."""
    return days_words(first_day, last_day)


@register.filter("money")
def money_of(amount: Decimal | str, currency: str) -> str:
    """Write an amount as it is kept, such as {{ plan.cost|money:plan.currency }}."""
    return money(Decimal(amount), currency)
