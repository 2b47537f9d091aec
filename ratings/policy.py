"""The policy: how the yard rates its units, and what a change of it re-rates."""

from __future__ import annotations

import uuid
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.models import User
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from fleet import clock
from fleet.context import system_of
from fleet.fields import MeasuredField, NumberField, SubmissionForm
from fleet.housings import lock_all_housings
from fleet.roles import RECORD, signed_in
from fleet.units import Quantity
from ratings.ledger.posting import Cause, post
from ratings.mechanics.unit_rating import Policy
from ratings.models import RatingPolicy
from ratings.models.choices import STALE_RATES
from ratings.models.policy import policy_in_force


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
    stale_rates = forms.ChoiceField(label="A stale rate", choices=STALE_RATES)
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


@transaction.atomic
def change_policy(
    *, submission_id: uuid.UUID, policy: Policy, reason: str, by: User
) -> RatingPolicy:
    """Put a policy in force. Housings that have a ledger are re-rated in the same transaction."""
    housings = lock_all_housings()
    known = RatingPolicy.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    row = RatingPolicy.objects.create(
        submission_id=submission_id,
        confidence=policy.confidence,
        pad_spread_pct=policy.pad_spread_pct,
        linearity_limit_pct=policy.linearity_limit_pct,
        tape_resolution_in=policy.tape_resolution_in,
        rate_valid_days=policy.rate_valid_days,
        coldest_f=policy.coldest_f,
        warmest_f=policy.warmest_f,
        stale_rates=policy.stale_rates,
        reason=reason,
        recorded_by=by,
    )
    post(
        [housing for housing in housings if hasattr(housing, "current_rating")],
        cause=Cause(Cause.POLICY, f"Policy {row.pk}: {reason}", row.pk),
        occurred_at=clock.now(),
        by=by,
    )
    return row


def policy(request: HttpRequest) -> HttpResponse:
    """Show the policy in force and those before it; a manager may change it."""
    rows = list(RatingPolicy.objects.select_related("recorded_by"))
    in_force = policy_in_force(rows[0] if rows else None)
    data = request.POST if request.method == "POST" else None
    form = PolicyForm(data, in_force=in_force, system=system_of(request))
    if request.method == "POST":
        if not signed_in(request).has_perm(RECORD):
            raise PermissionDenied
        if form.is_valid():
            change_policy(
                submission_id=form.cleaned_data["submission_id"],
                policy=form.policy,
                reason=form.cleaned_data["reason"],
                by=signed_in(request),
            )
            messages.success(request, "The policy is in force and every unit is rated by it.")
            return redirect("policy")
    return render(
        request,
        "ratings/policy.html",
        {"section": "policy", "in_force": in_force, "rows": rows, "form": form},
    )
