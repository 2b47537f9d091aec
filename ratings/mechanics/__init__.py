"""The physics of pads and housings: pure Python, no Django, no database, no clock.

What other programs may lean on can be had from here. Each name is fetched from its module when
it is first asked for, so that a page that needs one light module waits for no other.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ratings.mechanics.bench import Cylinder
    from ratings.mechanics.extraction.supply import amplitude_in, centrifugal_force_lbf
    from ratings.mechanics.line_fit import fit_line, fit_rate
    from ratings.mechanics.linepull import PadGroup, line_pull
    from ratings.mechanics.uncertainty import Component, combine, tolerance_factor
    from ratings.mechanics.unit_rating import rate_unit

__all__ = [
    "Component",
    "Cylinder",
    "PadGroup",
    "amplitude_in",
    "centrifugal_force_lbf",
    "combine",
    "fit_line",
    "fit_rate",
    "line_pull",
    "rate_unit",
    "tolerance_factor",
]

# No module here may be named like one of these: importing it would hide the function.
_MODULES = {
    "Component": "uncertainty",
    "Cylinder": "bench",
    "PadGroup": "linepull",
    "amplitude_in": "extraction.supply",
    "centrifugal_force_lbf": "extraction.supply",
    "combine": "uncertainty",
    "fit_line": "line_fit",
    "fit_rate": "line_fit",
    "line_pull": "linepull",
    "rate_unit": "unit_rating",
    "tolerance_factor": "uncertainty",
}


def __getattr__(name: str) -> object:
    if name not in _MODULES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_MODULES[name]}"), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
