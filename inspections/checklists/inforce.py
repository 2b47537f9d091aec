"""Which checklist is in force for each kind of inspection."""

from __future__ import annotations

from dataclasses import dataclass

from inspections.checklists.defaults import DEFAULTS
from inspections.kinds import kinds_in_use
from inspections.models import Checklist


@dataclass(frozen=True)
class ListItem:
    """One thing to look at: what names it, what it belongs to, what to see."""

    key: str
    part: str
    text: str


@dataclass(frozen=True)
class ListInForce:
    """The items of a kind, and the edition they come from; None where it's the default."""

    kind: str
    edition: int | None
    items: tuple[ListItem, ...]


def checklists_in_force() -> dict[str, ListInForce]:
    """Return the list of every kind in use, in two queries."""
    editions: dict[str, Checklist] = {}
    for row in Checklist.objects.select_related("own_kind").order_by("pk"):
        editions[row.kind_name] = row
    return {kind.name: _in_force(kind.name, editions.get(kind.name)) for kind in kinds_in_use()}


def _in_force(kind: str, row: Checklist | None) -> ListInForce:
    if row is None:
        items = tuple(ListItem(*item) for item in DEFAULTS.get(kind, ()))
        return ListInForce(kind, None, items)
    return ListInForce(kind, row.pk, tuple(ListItem(**item) for item in row.items))
