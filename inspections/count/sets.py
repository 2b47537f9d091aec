"""Fill the form of a replacement by a link: a set of positions from one lot, or a whole plan.

A link only fills: it records nothing, and what it asks for is judged again when it is signed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping

from django.db.models import TextChoices
from django.http import QueryDict
from django.urls import reverse
from django.utils.http import urlencode

from fleet.fields import whole_number
from fleet.models import PadLot, SuppressorHousing
from fleet.models.housing import Condition
from inspections.count.forms import PadMap
from inspections.count.submission import not_on_housing


class PadSet(TextChoices):
    """Positions that are fitted together, from one lot."""

    UNSOUND = "unsound", "All empty and unsound"
    SIDE_A = "A", "Whole side A"
    SIDE_B = "B", "Whole side B"
    WHOLE = "all", "Whole housing"


def filled_form(housing_id: int, pads: Iterable[tuple[str, int, int]]) -> str:
    """Return the address of the replacement form, filled: (side, number, key of the lot) each."""
    fit = ",".join(f"{side}{number}:{lot_id}" for side, number, lot_id in pads)
    # Both signs are safe in a query, and an address is read aloud better with them.
    query = urlencode({"fit": fit}).replace("%3A", ":").replace("%2C", ",")
    return f"{reverse('replace-pads', args=[housing_id])}?{query}"


def fill(
    pad_map: PadMap,
    query: QueryDict,
    housing: SuppressorHousing,
    stocked: Mapping[PadLot, int],
) -> list[str]:
    """Fill the map as the address asks, and return what of it can't be, in words.

    stocked: the lots that can be fitted here, and how many pads of each.
    """
    wanted, troubles = _wanted(pad_map, query, housing)
    here = {lot.pk: pads for lot, pads in stocked.items()}
    marks = {lot.pk: lot.mark for lot in pad_map.lots}
    cells = {cell.name: cell for cell in pad_map.cells}
    for name, lot_id in wanted.items():
        if lot_id in here:
            cells[name].lot = str(lot_id)
    for lot_id, pads in sorted(Counter(wanted.values()).items()):
        many = here.get(lot_id, 0)
        if many < pads:
            troubles.append(
                f"Lot {marks[lot_id]}: {pads} pad{'' if pads == 1 else 's'} asked for, {many} "
                f"on the shelf of {housing.yard}. Choose another lot for some, or move pads here "
                "first."
            )
    return troubles


def _wanted(
    pad_map: PadMap, query: QueryDict, housing: SuppressorHousing
) -> tuple[dict[str, int], list[str]]:
    """Return the key of the lot for each position named, and what was not understood."""
    known = {lot.pk for lot in pad_map.lots}
    names = {cell.name for cell in pad_map.cells}
    wanted: dict[str, int] = {}
    troubles: list[str] = []
    for part in filter(None, query.get("fit", "").replace("\0", "").split(",")):
        name, _, given = part.partition(":")
        lot_id = whole_number(given)
        if name not in names:
            troubles.append(not_on_housing(housing, name[:20]))
        elif lot_id not in known:
            troubles.append(f"{name}: “{given[:20]}” is no lot on record: choose one below.")
        else:
            wanted[name] = lot_id
    if "set" in query:
        of, lot_id = query["set"], whole_number(query.get("lot", ""))
        if of not in PadSet.values or lot_id not in known:
            troubles.append("No set is filled in: choose a lot, then which positions to fit.")
        else:
            wanted |= dict.fromkeys(_of_set(PadSet(of), housing, pad_map), lot_id)
    return wanted, troubles


def _of_set(of: PadSet, housing: SuppressorHousing, pad_map: PadMap) -> list[str]:
    if of is PadSet.UNSOUND:
        sound = set(
            housing.positions.filter(condition=Condition.SOUND)
            .order_by()
            .values_list("side", "number")
        )
        return [each.name for each in pad_map.cells if (each.side, each.number) not in sound]
    return [each.name for each in pad_map.cells if of in (PadSet.WHOLE, each.side)]
