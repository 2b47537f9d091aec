"""Which hammer suits pulling a pile out of the ground: the extraction check."""

from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.fleet import check_fleet
from ratings.mechanics.extraction.vibration import amplitude_in, centrifugal_force_lbf

__all__ = ["amplitude_in", "centrifugal_force_lbf", "check", "check_fleet"]
