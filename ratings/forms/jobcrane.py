"""The crane of a job and what hangs on it."""

from __future__ import annotations

from typing import Any

from django import forms

from fleet.forms.measured import MeasuredField, MeasuredForm, NumberField
from fleet.quantities import Quantity
from ratings.models.job import Method

MOST_WEIGHT_LB = 2_000_000


class CraneFields(MeasuredForm):
    """What pulls."""

    capacity_lbf = MeasuredField(
        Quantity.FORCE,
        label="Crane capacity for this pull",
        least=100,
        most=20_000_000,
        required=False,
        example="100000",
        help_text="Read it from the crane’s own chart for this radius. Blank: no unit can be "
        "judged suitable.",
    )
    hook_block_lb = MeasuredField(
        Quantity.WEIGHT,
        label="Hook block",
        least=0,
        most=MOST_WEIGHT_LB,
        required=False,
        initial=0.0,
        example="1500",
    )
    rigging_weight_lb = MeasuredField(
        Quantity.WEIGHT,
        label="Rigging weight",
        least=0,
        most=MOST_WEIGHT_LB,
        required=False,
        initial=0.0,
        example="500",
        help_text="All between hook and housing.",
    )
    rigging_limit_lbf = MeasuredField(
        Quantity.FORCE,
        label="Working load limit of one leg",
        least=100,
        most=20_000_000,
        required=False,
        example="50000",
        help_text="As tagged on the sling or shackle, the weakest of them.",
    )
    legs = NumberField(
        label="Legs",
        least=1,
        most=4,
        whole=True,
        initial="1",
        example="2",
        help_text="More than two count as two: a housing is rigid and may hang on two.",
    )
    leg_angle_deg = NumberField(
        label="Angle of a leg, degrees",
        least=30,
        most=90,
        initial="90",
        example="60",
        help_text="From the level: 90 hangs straight down.",
    )
    method = forms.ChoiceField(label="How it is pulled", choices=Method)

    def clean_hook_block_lb(self) -> float:
        return self.cleaned_data["hook_block_lb"] or 0.0

    def clean_rigging_weight_lb(self) -> float:
        return self.cleaned_data["rigging_weight_lb"] or 0.0

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        limit_lbf, weight_lb = cleaned.get("rigging_limit_lbf"), cleaned.get("rigging_weight_lb")
        if limit_lbf is not None and weight_lb is not None and limit_lbf < weight_lb:
            # A leg that can't hold the rigging itself holds nothing.
            self.add_error(
                "rigging_limit_lbf",
                f"This is below the rigging’s own weight of "
                f"{Quantity.WEIGHT.words(weight_lb, self.system)}: read the tag again or mend the "
                "weight.",
            )
        return cleaned
