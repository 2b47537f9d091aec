"""What a bench test may leave out, and what each such shortcut costs the rating."""

from __future__ import annotations

from enum import StrEnum

# Fewer stretches than these leave much of the load curve unread.
ENOUGH_STRETCHES = 5


class Shortcut(StrEnum):
    """Something a quick bench test leaves out. It still rates, at a price or not, by policy."""

    LOADING_ONLY = "no unloading read"
    NOT_CONDITIONED = "not conditioned"
    FEW_STRETCHES = "few stretches read"
    TEMPERATURE_UNKNOWN = "rubber temperature not read"
    UNMARKED_PADS = "pads without marks"

    @property
    def remedy(self) -> str:
        """What would do away with it, as the beginning of "… would add 4,100 lbf"."""
        return _REMEDIES[self]


_REMEDIES = {
    Shortcut.LOADING_ONLY: "reading the unloading too",
    Shortcut.NOT_CONDITIONED: "stretching the pads first, as often as the policy asks",
    Shortcut.FEW_STRETCHES: "reading one stretch more between each two",
    Shortcut.TEMPERATURE_UNKNOWN: "reading the rubber’s temperature",
    Shortcut.UNMARKED_PADS: "marking the pads",
}
