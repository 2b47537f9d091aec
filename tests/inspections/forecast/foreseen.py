"""A unit whose pads wear out, and its forecast kept."""

from __future__ import annotations

import uuid

from inspections.forecast.recording import keep_forecast
from inspections.models import Forecast
from tests.builders import Unit
from tests.inspections.lives.worn import worn_unit


def kept_forecast(unit: Unit | None = None) -> Forecast:
    """A forecast kept as of now, of a worn unit where none is given."""
    unit = unit or worn_unit()
    return keep_forecast(submission_id=uuid.uuid4(), housing=unit.housing, by=unit.manager)
