"""The pad map as it is sent: a condition and a lot for each position of a housing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from django.http import QueryDict

from fleet.models import PadLot, SuppressorHousing
from fleet.models.housing import Condition

PREFIXES = ("condition-", "lot-")


@dataclass
class PadCell:
    """One position of the map: what was chosen, and what is wrong with it."""

    side: str
    number: int
    condition: str = ""
    lot: str = ""
    errors: list[str] = field(default_factory=list)

    @property
    def name(self) -> str:
        return f"{self.side}{self.number}"

    @property
    def lot_id(self) -> int | None:
        """The lot's key; None where the pad is missing, whatever was chosen before it was."""
        return int(self.lot) if self.lot and self.condition != Condition.MISSING else None


class PadMap:
    """Reads the cells of a map from a request, and keeps what was chosen for showing again."""

    def __init__(self, housing: SuppressorHousing, lots: Iterable[PadLot]) -> None:
        self.housing = housing
        self.lots = list(lots)
        self.cells = [PadCell(side, number) for side, number in housing.position_keys]
        self.errors: list[str] = []

    @property
    def sides(self) -> dict[str, list[PadCell]]:
        return {side: [cell for cell in self.cells if cell.side == side] for side in ("A", "B")}

    @property
    def is_counted(self) -> bool:
        """Whether any position was; one that only tapes or reads leaves all of them open."""
        return any(cell.condition for cell in self.cells)

    @property
    def left_open(self) -> list[PadCell]:
        """Positions that a count begun has said nothing of, once it was found wanting."""
        return [cell for cell in self.cells if cell.errors and not cell.condition]

    @property
    def is_valid(self) -> bool:
        return not self.errors and not any(cell.errors for cell in self.cells)

    def fill(self, known: Mapping[tuple[str, int], tuple[str, int | None]]) -> None:
        """Start from what is known of each position: its condition and its lot's key."""
        for cell in self.cells:
            condition, lot_id = known.get((cell.side, cell.number), ("", None))
            cell.condition, cell.lot = condition, str(lot_id or "")

    def read(self, data: QueryDict, *, conditions: bool) -> None:
        """Take the cells from a form; `conditions`: each must have one where any has."""
        self._refuse_strangers(data)
        marks = {str(lot.pk) for lot in self.lots}
        for cell in self.cells:
            # Where no script runs, one tick stands for a choice at every sound pad.
            cell.condition = self._only(data, cell, "condition-") or data.get("rest", "")
            cell.lot = self._only(data, cell, "lot-")
            if cell.lot and cell.lot not in marks:
                cell.errors.append(f"“{cell.lot}” is no lot on record: choose one from the list.")
                cell.lot = ""
        for cell in self.cells if conditions and self.is_counted else ():
            self._check_condition(cell)

    def _refuse_strangers(self, data: QueryDict) -> None:
        known = {prefix + cell.name for cell in self.cells for prefix in PREFIXES}
        for key in data:
            if key.startswith(PREFIXES) and key not in known:
                self.errors.append(
                    f"Position {key.split('-', 1)[1]} is not on housing {self.housing}: it has "
                    f"{self.housing.positions_per_side} on each side."
                )

    def _only(self, data: QueryDict, cell: PadCell, prefix: str) -> str:
        given = data.getlist(prefix + cell.name)
        if len(given) > 1:
            cell.errors.append(f"{cell.name} is given twice: give each position once.")
        return given[0] if given else ""

    def _check_condition(self, cell: PadCell) -> None:
        if not cell.condition:
            cell.errors.append(f"{cell.name} was not counted: say what is in it.")
        elif cell.condition not in Condition.values:
            cell.errors.append(
                f"“{cell.condition}” is no condition: choose {', '.join(Condition.values)}."
            )
