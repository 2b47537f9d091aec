"""What a load path shows: its parts and what bears them, from the hook down, and in words."""

from __future__ import annotations

from dataclasses import dataclass

from ratings.drawing.scales import Scale, force_scale

__all__ = ["Part", "PathFigures", "Supply", "force_words", "path_words", "supply_words"]

_UNKNOWN = "not known"
# The same figure reckoned two ways is not short.
_HAIR = 1e-12


@dataclass(frozen=True)
class Part:
    """A weight or a force of the path, lbf, and all from the ground up to and with it."""

    label: str
    force_lbf: float | None
    total_lbf: float | None


@dataclass(frozen=True)
class Supply:
    """What bears all below a place of the path, lbf, and what it must bear.

    borne: what the load is called, where it isn't just the sum of what is below.
    """

    label: str
    demand_lbf: float | None
    supply_lbf: float | None
    borne: str = "in all"

    @property
    def is_short(self) -> bool:
        if self.demand_lbf is None or self.supply_lbf is None:
            return False
        return self.demand_lbf * (1.0 - _HAIR) > self.supply_lbf


@dataclass(frozen=True)
class PathFigures:
    """The rows of the path from the hook down."""

    rows: tuple[Part | Supply, ...]
    units: str = "us"


def force_words(scale: Scale, force_lbf: float | None) -> str:
    """Return a force with its unit; words where it isn't known."""
    return _UNKNOWN if force_lbf is None else scale.words(force_lbf)


def supply_words(scale: Scale, row: Supply) -> str:
    """Return what there is at a place, and what it has to spare or is short of."""
    if row.supply_lbf is None:
        return f"{row.label}: {_UNKNOWN}"
    lead = f"{row.label} {scale.words(row.supply_lbf)}"
    if row.demand_lbf is None:
        return f"{lead}: load {_UNKNOWN}"
    end = "short" if row.is_short else "to spare"
    # Between the figures as they are written, so that a reader who subtracts finds the same.
    given, asked = (_written(scale, each) for each in (row.supply_lbf, row.demand_lbf))
    between = abs(given - asked)
    if row.is_short and not between:
        return f"{lead}: just short"
    return f"{lead}: {scale.words(between / scale.factor)} {end}"


def path_words(figures: PathFigures) -> str:
    """Return the whole path in words, for those who don't see it."""
    scale = force_scale(figures.units)
    return " ".join(f"{_row_words(scale, row)}." for row in figures.rows)


def _row_words(scale: Scale, row: Part | Supply) -> str:
    if isinstance(row, Supply):
        return f"{supply_words(scale, row)}; {row.borne} {force_words(scale, row.demand_lbf)}"
    return f"{row.label[0].upper()}{row.label[1:]} {force_words(scale, row.force_lbf)}"


def _written(scale: Scale, force_lbf: float) -> float:
    return round(scale.shown(force_lbf), scale.decimals)
