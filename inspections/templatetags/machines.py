"""What goes with a machine that is moved, and what stays."""

from __future__ import annotations

from typing import Any

from django import template

from fleet.models.machine import sort_of
from fleet.units import unit_of
from inspections.models import Finding
from inspections.schedule.due import due_of_machine

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
