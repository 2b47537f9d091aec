from __future__ import annotations

from typing import Any

from django import forms

from fleet.forms.measured import MeasuredField, NumberField
from fleet.quantities import Quantity
from ratings.forms.submission import SubmissionForm
from ratings.mechanics.unit_rating import Policy
from ratings.models import RatingPolicy
from ratings.models.policy import StaleRates


class PolicyForm(SubmissionForm):
    """How the yard rates."""

    confidence_pct = NumberField(
        label="Confidence of the working capacity, %",
        least=50,
        above_least=True,
        most=99.99,
        example="95",
        help_text="One-sided: how sure the yard is that the unit pulls at least this much.",
    )
    pad_spread_pct = NumberField(
        label="Assumed pad-to-pad spread, % of the rate",
        least=0,
        most=100,
        example="5",
        help_text="Standard deviation from pad to pad, where no tests show it.",
    )
    linearity_limit_pct = NumberField(
        label="Linearity limit, % of full scale",
        least=0,
        above_least=True,
        most=100,
        example="5",
        help_text="Beyond it a lot counts as not linear and its load curve is used.",
    )
    tape_resolution_in = MeasuredField(
        Quantity.DIAMETER,
        label="Travel is taped to the nearest",
        least=0.001,
        most=2,
        example="0.125",
    )
    rate_valid_days = NumberField(
        label="A rate holds for, days after its newest test",
        least=1,
        most=36_500,
        whole=True,
        example="730",
    )
    coldest_f = MeasuredField(
        Quantity.TEMPERATURE, label="Coldest rubber to test at", least=-40, most=200, example="40"
    )
    warmest_f = MeasuredField(
        Quantity.TEMPERATURE, label="Warmest rubber to test at", least=-40, most=200, example="100"
    )
    stale_rates = forms.ChoiceField(label="A stale rate", choices=StaleRates)
    reason = forms.CharField(label="Why it changes", max_length=200)

    def __init__(self, *args: Any, in_force: Policy, **kwargs: Any) -> None:
        self.in_force = in_force
        initial = {
            "confidence_pct": f"{in_force.confidence * 100:g}",
            "pad_spread_pct": f"{in_force.pad_spread_pct:g}",
            "linearity_limit_pct": f"{in_force.linearity_limit_pct:g}",
            "tape_resolution_in": in_force.tape_resolution_in,
            "rate_valid_days": str(in_force.rate_valid_days),
            "coldest_f": in_force.coldest_f,
            "warmest_f": in_force.warmest_f,
            "stale_rates": in_force.stale_rates,
        }
        super().__init__(*args, initial=initial, **kwargs)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        coldest_f, warmest_f = cleaned.get("coldest_f"), cleaned.get("warmest_f")
        if coldest_f is not None and warmest_f is not None and warmest_f <= coldest_f:
            self.add_error("warmest_f", "This is no warmer than the coldest: give a warmer one.")
        if self.errors or self.is_on_record(RatingPolicy):
            return cleaned
        if self.policy == self.in_force:
            raise forms.ValidationError("Nothing differs from the policy now in force: change one.")
        return cleaned

    @property
    def policy(self) -> Policy:
        """The policy entered; the form must be valid."""
        return Policy(
            # Rounded, so that 95 % is 0.95 and not a neighbour of it.
            confidence=round(self.cleaned_data["confidence_pct"] / 100.0, 12),
            pad_spread_pct=self.cleaned_data["pad_spread_pct"],
            linearity_limit_pct=self.cleaned_data["linearity_limit_pct"],
            tape_resolution_in=self.cleaned_data["tape_resolution_in"],
            rate_valid_days=self.cleaned_data["rate_valid_days"],
            coldest_f=self.cleaned_data["coldest_f"],
            warmest_f=self.cleaned_data["warmest_f"],
            stale_rates=self.cleaned_data["stale_rates"],
        )
