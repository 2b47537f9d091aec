"""Which kinds of inspection there are: the common ones, and those the yard added."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError

from fleet import together
from fleet.characters import check_name
from fleet.models import MachineSort
from inspections.models import InspectionKind, OwnKind
from inspections.models.kind import SORTS_OF_COMMON_KINDS

# What a kind may need: without it an inspection is kept, and is none of its kind.
PADS, TRAVEL, HOURS = "pads", "travel", "hours"
NEED_WORDS = {
    PADS: "every pad counted",
    TRAVEL: "the travel taped",
    HOURS: "the hour meter read",
}
# Not of what it holds but of who signs it.
QUALIFIED = "qualified"
NEED_OR_SIGNER_WORDS = NEED_WORDS | {QUALIFIED: "signed by somebody qualified, as yearly ones are"}
FULL_COUNT = (PADS, TRAVEL)
COMMON_NEEDS: dict[str, tuple[str, ...]] = {
    InspectionKind.PAD_COUNT: (PADS,),
    InspectionKind.SHIFT: (),
    InspectionKind.MONTHLY: FULL_COUNT,
    InspectionKind.YEARLY: FULL_COUNT,
    InspectionKind.AFTER_REPAIR: FULL_COUNT,
    InspectionKind.BEFORE_EXTRACTION: FULL_COUNT,
}


@dataclass(frozen=True)
class Kind:
    """A kind as it is offered.

    key: what forms call it. sorts: the machines it looks at. needs: what an inspection must hold
    to count as one of it. wants_qualified: whether the kind itself asks for a qualified person; a
    yearly one asks where the policy does. own: the yard's record, if it is one.
    """

    key: str
    name: str
    sorts: tuple[MachineSort, ...]
    needs: tuple[str, ...]
    wants_qualified: bool = False
    own: OwnKind | None = None

    @property
    def columns(self) -> dict[str, Any]:
        """What a record of this kind holds in its columns."""
        return {"kind": "" if self.own else self.name, "own_kind": self.own}


COMMON = tuple(
    Kind(kind.value.replace(" ", "_"), kind.value, SORTS_OF_COMMON_KINDS[kind], COMMON_NEEDS[kind])
    for kind in InspectionKind
)
_OF_HOUSING = re.compile(r"pad|housing|travel", re.IGNORECASE)


def kinds_in_use() -> list[Kind]:
    """Return every kind that is offered, the common ones first. Three queries."""
    own = OwnKind.objects.in_use().with_changes()
    return [*COMMON, *(_own(kind) for kind in own)]


def _own(kind: OwnKind, at: datetime | None = None) -> Kind:
    needs = kind.needs_at(at)
    return Kind(
        f"own_{kind.pk}",
        kind.name,
        kind.sorts_at(at),
        needs=tuple(need for need in needs if need != QUALIFIED),
        wants_qualified=QUALIFIED in needs,
        own=kind,
    )


def sorts_by_kind(
    own: Iterable[OwnKind] | None = None,
) -> dict[str, tuple[MachineSort, ...]]:
    """Return what each kind looks at today, by its name, one no longer offered too.

    own: the yard's own kinds where they are read already. Three queries otherwise.
    """
    listed = own
    if listed is None:
        listed = together.once("own kinds", lambda: list(OwnKind.objects.with_changes()))
    return {kind.name: kind.sorts for kind in COMMON} | {kind.name: kind.sorts for kind in listed}


def likely_sorts(name: str) -> tuple[MachineSort, ...]:
    """Return what a kind of the yard's own looks at by its name, where nobody says."""
    return (MachineSort.HOUSING if _OF_HOUSING.search(name) else MachineSort.HAMMER,)


def new_name(given: str) -> str:
    """Return the name of a kind to be added: single-spaced and in small letters, as the others.

    Raises ValidationError where it has a slash, which an address can't hold, or is taken.
    """
    name = " ".join(given.split()).lower()
    check_name(name)
    if "/" in name:
        raise ValidationError("The name of a kind holds no “/”: write it another way.")
    if any(kind.name == name for kind in COMMON):
        raise ValidationError(f"“{name}” is one of the common kinds already.")
    known = OwnKind.objects.filter(name=name).select_related("retirement").first()
    if known is not None:
        is_retired = hasattr(known, "retirement")
        state = "was added before, and retired" if is_retired else "is there already"
        raise ValidationError(f"“{known}” {state}: choose another name.")
    return name


def kind_named(name: str, at: datetime | None = None) -> Kind:
    """Return the kind of a name, one no longer offered too, since a late record may bear it.

    at: when what bears it was seen. What the kind looked at and needed then counts, so that one
    begun on a phone before a change of it is held to what was asked of it; today's otherwise.
    Raises ValidationError at "kind" where there is none.
    """
    small = name.lower()
    for kind in COMMON:
        if kind.name == small:
            return kind
    named = OwnKind.objects.with_changes().filter(name=small)
    own = together.once(("own kind", small), named.first)
    if own is None:
        raise ValidationError(
            {
                "kind": f"“{name[:40]}” is no kind of inspection here: choose "
                f"{', '.join(kind.name for kind in kinds_in_use())}."
            }
        )
    return _own(own, at)
