"""What goes with a machine that is moved, and what stays."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django import template

from fleet.models import Hammer
from fleet.models.machine import sort_of
from fleet.units import Hung, hung_on_hammer, unit_of, yards_apart
from inspections.models import Finding
from inspections.schedule.due import due_of_hung, due_of_machine

register = template.Library()


@register.inclusion_tag("machine/what_moves.html")
def what_moves(machine: Any) -> dict[str, Any]:
    """Return what is due and open at a machine, and at those it hangs together with now."""
    others = [each for each in unit_of(machine).machines if each != machine]
    return {"moved": _stands(machine), "staying": [_stands(each) for each in others]}


def _stands(machine: Any) -> dict[str, Any]:
    found = due_of_machine(machine)
    return {
        "machine": machine,
        "sort": sort_of(machine),
        "due": [*found.overdue, *found.soon] or list(found.kinds[:1]),
        "findings": list(Finding.objects.open().of(machine).order_by("pk")[:5]),
    }


@register.inclusion_tag("machine/due_then.html")
def due_then(machine: Any, hammer: Hammer | None) -> dict[str, Any]:
    """Return what would be due at the unit a machine becomes part of, once it is on a hammer.

    hammer: None where it is taken off, and is a spare.
    """
    sort = sort_of(machine)
    before = hung_on_hammer(hammer) if hammer else Hung()
    found = due_of_hung(replace(before, **{sort.column: machine}))
    comes_off = getattr(before, sort.column)
    return {
        "machine": machine,
        "hammer": hammer,
        "apart": yards_apart(machine, hammer) if hammer else "",
        "due": found,
        "comes_off": comes_off if comes_off != machine else None,
        "findings": list(Finding.objects.open().of_any(each.machine for each in found.machines)),
    }
