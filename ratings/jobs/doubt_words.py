"""What is doubtful of a job's ground, in the reader's units of measure."""

from __future__ import annotations

from fleet.quantities import Quantity
from ratings.mechanics.extraction.doubts import Doubt, Measure

_QUANTITIES = {
    Measure.STRESS: Quantity.STRESS,
    Measure.UNIT_WEIGHT: Quantity.UNIT_WEIGHT,
    Measure.DIAMETER: Quantity.DIAMETER,
}


def doubt_sentence(doubt: Doubt, system: str) -> str:
    """Return a doubt as the reader is told it, each figure in their units."""
    return doubt.words.format(
        *(_QUANTITIES[measure].words(value, system) for measure, value in doubt.figures)
    )
