"""The policy: how the yard rates its units, and what a change of it re-rates."""

from __future__ import annotations

import uuid
from dataclasses import asdict
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
from fleet.fields import FactForm, field_of
from fleet.housings import lock_all_housings
from fleet.quantities import Quantity, plain_number
from fleet.roles import RECORD, signed_in
from fleet.tables import ChangesTable, Column, table_of
from ratings.ledger.posting import Cause, post
from ratings.mechanics.unit_rating import Policy
from ratings.models import RatingPolicy
from ratings.models.choices import SHORTCUTS, STALE_RATES
from ratings.models.policy import policy_in_force


class PolicyForm(FactForm):
    """How the yard rates."""

    confidence_pct = field_of(
        RatingPolicy,
        "confidence",
        label="Confidence of the working capacity, %",
        least=50,
        most=99.99,
        example="95",
    )
    stale_rates = forms.ChoiceField(label="A stale rate", choices=STALE_RATES)
    refused_shortcuts = forms.MultipleChoiceField(
        label="A bench test rates nothing with",
        choices=SHORTCUTS,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="What is not ticked still rates, at its price.",
    )
    field_order = ("confidence_pct",)

    class Meta:
        model = RatingPolicy
        fields = (
            "pad_spread_pct",
            "pad_spread_degrees_of_freedom",
            "conditions_pct",
            "unknown_temperature_pct",
            "seal_friction_pct",
            "first_stretch_pct",
            "conditioning_cycles",
            "gap_band_pct",
            "linearity_limit_pct",
            "largest_strain_pct",
            "tape_resolution_in",
            "rate_valid_days",
            "coldest_f",
            "warmest_f",
            "stale_rates",
            "refused_shortcuts",
            "reason",
        )

    def __init__(self, *args: Any, in_force: Policy, **kwargs: Any) -> None:
        self.in_force = in_force
        initial = asdict(in_force) | {"confidence_pct": in_force.confidence * 100}
        super().__init__(*args, initial=initial, **kwargs)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
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
        given = self.cleaned_data
        # Rounded, so that 95 % is 0.95 and not a neighbour of it.
        confidence = round(given["confidence_pct"] / 100.0, 12)
        kept = {name: given[name] for name in asdict(self.in_force) if name in given}
        return Policy(confidence=confidence, **kept)


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
        **asdict(policy),
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


class PolicyTable(ChangesTable):
    """Every policy there was."""

    figures = Column("Figures", empty_values=(), orderable=False, css="small")

    def render_figures(self, record: RatingPolicy) -> str:
        """Every figure of a policy: an auditor looks for what changed."""
        coldest, warmest = (
            Quantity.TEMPERATURE.words(each, self.system)
            for each in (record.coldest_f, record.warmest_f)
        )
        strain = record.largest_strain_pct
        return "; ".join(
            (
                f"confidence {plain_number(record.confidence * 100, 2)} %",
                f"spread {plain_number(record.pad_spread_pct, 2)} % worth "
                f"{plain_number(record.pad_spread_degrees_of_freedom, 1)} degrees of freedom",
                f"in use ± {plain_number(record.conditions_pct, 2)} %, temperature not read ± "
                f"{plain_number(record.unknown_temperature_pct, 2)} % more",
                f"seal friction {plain_number(record.seal_friction_pct, 2)} %",
                f"first stretch {plain_number(record.first_stretch_pct, 2)} % below "
                f"{record.conditioning_cycles} cycles",
                f"between readings ± {plain_number(record.gap_band_pct, 2)} %",
                f"bent beyond {plain_number(record.linearity_limit_pct, 2)} %",
                "no strain limit" if strain is None else f"strain {plain_number(strain, 1)} %",
                f"tape {Quantity.DIAMETER.words(record.tape_resolution_in, self.system)}",
                f"{record.rate_valid_days} days",
                f"tested at {coldest} to {warmest}",
                f"a stale rate {STALE_RATES[record.stale_rates]}",
                f"refused: {', '.join(record.refused_shortcuts) or 'nothing'}",
            )
        )


def policy(request: HttpRequest) -> HttpResponse:
    """Show the policy in force and those before it; a manager may change it."""
    rows = RatingPolicy.objects.select_related("recorded_by")
    in_force = policy_in_force(rows.first())
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
        {
            "section": "policy",
            "in_force": in_force,
            "refused": in_force.refused_shortcuts,
            "table": table_of(request, PolicyTable, rows),
            "form": form,
        },
    )
