from __future__ import annotations

from typing import Any

from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.models import ClampFitting, PowerPackConnection
from fleet.models.machine import Machine
from fleet.quantities import Quantity
from fleet.tables import Column, DayColumn, MeasuredColumn, MomentColumn, PersonColumn, RecordsTable


class MachineTable(RecordsTable):
    """Machines of one kind, each with the hammer it is on."""

    machine_page = ""
    fittings: Any = None
    owner = ""

    mark = Column("Mark")
    hammer = Column("On hammer", empty_values=(), orderable=False)
    yard = Column("Yard", accessor="yard__name")

    def load_page(self, records: list[Machine]) -> None:
        current = self.fittings.objects.current().filter(**{f"{self.owner}__in": records})
        self.hammers = {
            getattr(fitting, f"{self.owner}_id"): fitting.hammer.mark
            for fitting in current.select_related("hammer")
        }

    def render_mark(self, record: Machine) -> SafeString:
        url = reverse(self.machine_page, args=[record.pk])
        below = " ".join(part for part in (record.make, record.type_name) if part)
        more = format_html('<br><span class="small faint">{}</span>', below) if below else ""
        return format_html('<a href="{}"><strong>{}</strong></a>{}', url, record.mark, more)

    def render_hammer(self, record: Machine) -> SafeString | str:
        if record.retired_on is not None:
            return format_html("<strong>{}</strong>", "out of use")
        return str(self.hammers.get(record.pk, "none"))


class ClampTable(MachineTable):
    caption = "Clamps"
    anchor = "clamps"
    own_prefix = "clamps-"
    empty_words = "No clamp is on record: enter the first."
    machine_page, owner, fittings = "clamp", "clamp", ClampFitting

    kinds = Column("Holds", accessor="kinds_words", orderable=False)
    weight_lb = MeasuredColumn(Quantity.WEIGHT, "Weight")
    clamp_force_lbf = MeasuredColumn(Quantity.FORCE, "Clamp force")

    class Meta:
        sequence = ("mark", "hammer", "kinds", "weight_lb", "clamp_force_lbf", "yard")


class PowerPackTable(MachineTable):
    caption = "Power packs"
    anchor = "power-packs"
    own_prefix = "packs-"
    empty_words = "No power pack is on record: enter the first."
    machine_page, owner, fittings = "power-pack", "power_pack", PowerPackConnection

    power_hp = MeasuredColumn(Quantity.POWER, "Power")
    flow_gpm = MeasuredColumn(Quantity.FLOW, "Flow")
    pressure_psi = MeasuredColumn(Quantity.PRESSURE, "Pressure")

    class Meta:
        sequence = ("mark", "hammer", "power_hp", "flow_gpm", "pressure_psi", "yard")


class OnHammerTable(RecordsTable):
    """The hammers one machine was on, the last first."""

    caption = "On hammers"
    anchor = "hammers"
    empty_words = "It was on no hammer yet."
    dated_by = ("fitted_at", "removed_at")

    hammer = Column("Hammer", accessor="hammer__mark")
    fitted_at = MomentColumn("From")
    removed_at = MomentColumn("To", default="now")
    by = PersonColumn("Put on by")
    recorded_at = DayColumn("Recorded")
