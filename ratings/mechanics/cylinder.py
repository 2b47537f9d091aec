"""The hydraulic cylinder of a test stand."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ratings.mechanics.arguments import not_negative, positive, settle

ENDS = ("blind", "rod")


@dataclass(frozen=True)
class Cylinder:
    """A cylinder by its bore and rod, in.

    Raises ValueError for a bore not above 0, a rod below 0 or a rod as wide as the bore.
    """

    bore_in: float
    rod_in: float = 0.0

    def __post_init__(self) -> None:
        bore_in = positive("bore_in", self.bore_in, "in")
        rod_in = not_negative("rod_in", self.rod_in, "in")
        if rod_in >= bore_in:
            raise ValueError(
                f"rod_in is {rod_in:g}: give a rod narrower than the bore of {bore_in:g} in"
            )
        settle(self, bore_in=bore_in, rod_in=rod_in)

    def area_in2(self, end: str = "blind") -> float:
        """Return the area the pressure acts on, in².

        The whole bore at the blind end, π/4·D²; the ring round the rod at the rod end,
        π/4·(D² − d²). Raises ValueError for any other end.
        """
        if end not in ENDS:
            raise ValueError(f"end is {end!r}: give 'blind' or 'rod'")
        rod_squared = self.rod_in * self.rod_in if end == "rod" else 0.0
        return math.pi / 4.0 * (self.bore_in * self.bore_in - rod_squared)

    def force_lbf(self, pressure_psi: float, end: str = "blind") -> float:
        """Return pressure times area, lbf. Raises ValueError for a pressure below 0."""
        return not_negative("pressure_psi", pressure_psi, "psi") * self.area_in2(end)
