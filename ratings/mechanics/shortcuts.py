"""What a bench test may leave out, and what each such shortcut costs the rating."""

from __future__ import annotations

from enum import StrEnum


class Shortcut(StrEnum):
    """Something a quick bench test leaves out. It still rates, at a price or not, by policy."""

    LOADING_ONLY = "no unloading read"
    NOT_CONDITIONED = "not conditioned"
    FEW_STRETCHES = "few stretches read"
    TEMPERATURE_UNKNOWN = "rubber temperature not read"
    UNMARKED_PADS = "pads without marks"
