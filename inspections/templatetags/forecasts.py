"""What kept forecasts say, in a page's own words."""

from __future__ import annotations

from django import template

from inspections.forecast.tables import horizon_rows
from inspections.models import Forecast

register = template.Library()


@register.filter
def days_ahead(forecast: Forecast) -> list[str]:
    """Say of each day a forecast looks ahead to how likely the unit is to stand, and pads lost."""
    return [
        f"within {each['days']} days can’t be told, because {each['why_not']}"
        if each["why_not"]
        else f"within {each['days']} days: meets its listing {each['meets']}, not proven "
        f"{each['not_proven']}, below {each['below']}; pads lost {each['lost']}"
        for each in horizon_rows(forecast.document)
    ]
