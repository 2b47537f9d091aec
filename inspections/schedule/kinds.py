"""Which kinds of inspection there are: the common ones, and those the yard added."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError

from fleet.characters import check_name
from inspections.models import InspectionKind, OwnKind


@dataclass(frozen=True)
class Kind:
    """A kind as it is offered. key: what forms call it. own: the yard's record, if it is one."""

    key: str
    name: str
    own: OwnKind | None = None

    @property
    def columns(self) -> dict[str, Any]:
        """What a record of this kind holds in its columns."""
        return {"kind": "" if self.own else self.name, "own_kind": self.own}


COMMON = tuple(Kind(value.replace(" ", "_"), value) for value in InspectionKind.values)


def kinds_in_use() -> list[Kind]:
    """Return every kind that is offered, the common ones first. One query."""
    own = OwnKind.objects.in_use()
    return [*COMMON, *(Kind(f"own_{kind.pk}", kind.name, kind) for kind in own)]


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


def kind_named(name: str) -> Kind:
    """Return the kind of a name, one no longer offered too, since a late record may bear it.

    Raises ValidationError at "kind" where there is none.
    """
    small = name.lower()
    for kind in COMMON:
        if kind.name == small:
            return kind
    own = OwnKind.objects.filter(name=small).first()
    if own is None:
        raise ValidationError(
            {
                "kind": f"“{name[:40]}” is no kind of inspection here: choose "
                f"{', '.join(kind.name for kind in kinds_in_use())}."
            }
        )
    return Kind(f"own_{own.pk}", own.name, own)
