from __future__ import annotations

from typing import Any

from fleet.fields import FactForm
from ratings.models import SurveillancePlan


class PlanForm(FactForm):
    """How many pads are drawn from service a year, and why so many."""

    class Meta:
        model = SurveillancePlan
        fields = ("pads_a_year", "reason")

    def __init__(self, *args: Any, is_of_lot: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        pads = self.fields["pads_a_year"]
        if is_of_lot:
            pads.help_text = (
                "0 where none are to be drawn; left blank, the lot follows the plan for all lots."
            )
        else:
            pads.required = True
