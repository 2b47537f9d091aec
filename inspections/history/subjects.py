"""What a history is asked of: a unit or a machine, a yard, or the whole fleet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fleet.models import MachineSort, Yard
from fleet.models.machine import sort_of
from fleet.outages import named
from fleet.units import MODELS
from inspections.history.facts import Chapter
from inspections.history.span import Span

FLEET = "fleet"
YARD = "yard"


@dataclass(frozen=True)
class Subject:
    """A unit by its housing, a machine, a yard, or the fleet where of is None."""

    of: Any = None

    @property
    def key(self) -> str:
        """How an address names it, such as "housing-3" or "fleet"."""
        if self.of is None:
            return FLEET
        kind = YARD if isinstance(self.of, Yard) else sort_of(self.of).slug
        return f"{kind}-{self.of.pk}"

    @property
    def is_one(self) -> bool:
        """Whether it is a single unit or machine."""
        return self.of is not None and not isinstance(self.of, Yard)

    @property
    def words(self) -> str:
        """Say what it is, as in "History of …"."""
        if self.of is None:
            return "the fleet"
        return f"yard {self.of.name}" if isinstance(self.of, Yard) else named(self.of)

    @property
    def owner(self) -> str:
        """Whose paper it is: the yard's, of the fleet every yard's."""
        if self.of is None:
            return ", ".join(Yard.objects.values_list("name", flat=True)) or "no yard yet"
        return str(self.of.name if isinstance(self.of, Yard) else self.of.yard.name)

    def chapters(self, span: Span, system: str) -> list[Chapter]:
        """Return a chapter for it; of a yard or the fleet one for each unit, then each machine."""
        if self.is_one:
            return [Chapter(self.of, span, system)]
        found = []
        for sort in (MachineSort.HOUSING, *(each for each in MachineSort if each != "housing")):
            machines = MODELS[sort].objects.select_related("yard").order_by("mark")
            if self.of is not None:
                machines = machines.filter(yard=self.of)
            found += [Chapter(machine, span, system) for machine in machines]
        return found


def subject_of(key: str) -> Subject | None:
    """Return what a key names, None where there is no such thing."""
    if key == FLEET:
        return Subject()
    kind, _, number = key.rpartition("-")
    if not (number.isascii() and number.isdecimal() and len(number) < 19):
        return None
    models = {YARD: Yard, **{sort.slug: MODELS[sort] for sort in MachineSort}}
    if kind not in models:
        return None
    records = models[kind].objects
    if kind != YARD:
        records = records.select_related("yard")
    found = records.filter(pk=int(number)).first()
    return Subject(found) if found is not None else None
