"""What the mechanics have to say of readings, in the reader's units."""

from __future__ import annotations

import math

from fleet.quantities import Measured, Quantity
from ratings.mechanics.remarks import Figure, Measure, Refused, Remark

_QUANTITIES = {
    Measure.LENGTH: Quantity.LENGTH,
    Measure.PRESSURE: Quantity.PRESSURE,
    Measure.TEMPERATURE: Quantity.TEMPERATURE,
    Measure.FORCE: Quantity.FORCE,
    Measure.WEIGHT: Quantity.WEIGHT,
}
# Of what was read or set: two thermometers that differ do so in their first decimal.
_DECIMALS = {Measure.TEMPERATURE: 1}


def remark_words(remark: Remark, system: str) -> str:
    """Return a remark as the reader is told it, each figure in their units."""
    return "".join(
        _figure_words(part, system) if isinstance(part, Figure) else part for part in remark
    )


def refused_sentence(refused: ValueError, system: str) -> str:
    """Return why something was refused as a sentence, in the reader's units where it has any."""
    words = remark_words(refused.remark, system) if isinstance(refused, Refused) else str(refused)
    return words[0].upper() + words[1:] + ("" if words.endswith(".") else ".")


def _figure_words(figure: Figure, system: str) -> str:
    quantity = _QUANTITIES[figure.measure]
    if figure.is_rounded:
        return Measured(quantity, figure.value).words(system)
    if figure.measure in _DECIMALS:
        return quantity.words(figure.value, system, _DECIMALS[figure.measure])
    # As it was typed: six figures bring back what a reading in another unit was stored from.
    shown = abs(quantity.shown(figure.value, system))
    places = 5 - math.floor(math.log10(shown)) if shown else 0
    return quantity.words(figure.value, system, max(0, places))
