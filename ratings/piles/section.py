from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Section:
    """A pile section with what the extraction check needs of it.

    kind: one of the mechanics' PileKind. plug_area_in2: of the soil within, where plugged.
    source: where its figures are from.
    """

    name: str
    kind: str
    area_in2: float
    weight_lb_ft: float
    perimeter_in: float
    plug_area_in2: float
    source: str
