from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.models.machine import Machine, OnHammer
from fleet.models.measured_fields import MeasuredField
from fleet.models.yard import named_once
from fleet.quantities import Quantity


class PowerPack(Machine):
    """An engine with its pumps, that drives a hammer and its clamp through hoses."""

    power_hp = MeasuredField(
        "power",
        quantity=Quantity.POWER,
        least=0,
        above_least=True,
        most=10_000,
        example="325",
        null=True,
        help_text="Of its engine or motor, as rated.",
    )
    flow_gpm = MeasuredField(
        "flow",
        quantity=Quantity.FLOW,
        least=0,
        above_least=True,
        most=5_000,
        example="110",
        null=True,
        help_text="Of oil to the hammer at full speed, as rated.",
    )
    pressure_psi = MeasuredField(
        "pressure",
        quantity=Quantity.PRESSURE,
        least=0,
        above_least=True,
        most=15_000,
        example="4500",
        null=True,
        help_text="Of oil to the hammer, the most it is rated for.",
    )

    class Meta(Machine.Meta):
        constraints = [
            named_once("mark", "power_pack_marked_once"),
            models.CheckConstraint(
                name="power_pack_figures_in_range",
                condition=(Q(power_hp__isnull=True) | Q(power_hp__gt=0))
                & (Q(flow_gpm__isnull=True) | Q(flow_gpm__gt=0))
                & (Q(pressure_psi__isnull=True) | Q(pressure_psi__gt=0)),
            ),
        ]

    @property
    def figures(self) -> dict[str, float | None]:
        """The figures somebody read off it, by the name of their field."""
        return {
            "power_hp": self.power_hp,
            "flow_gpm": self.flow_gpm,
            "pressure_psi": self.pressure_psi,
        }


class PowerPackConnection(OnHammer):
    """A power pack that drives a hammer, from one time to another: one of each at a time."""

    power_pack = models.ForeignKey(PowerPack, models.PROTECT, related_name="fittings")

    class Meta(OnHammer.Meta):
        constraints = [
            *OnHammer.Meta.constraints,
            models.UniqueConstraint(
                name="power_pack_on_one_hammer",
                fields=["power_pack"],
                condition=Q(removed_at=None),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.power_pack} drives {self.hammer}"
