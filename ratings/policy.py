"""The policy: how the yard rates its units, and what a change of it re-rates."""

from __future__ import annotations

import uuid
from dataclasses import asdict
from functools import partial
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.models import User
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from fleet import clock
from fleet.context import system_of
from fleet.fields import FactForm, field_of
from fleet.housings import lock_all_housings
from fleet.models import LongWork
from fleet.people.yards import in_every_yard
from fleet.quantities import Quantity, plain_number
from fleet.roles import RECORD, managers_but, signed_in
from fleet.tables import ChangesTable, Column, table_of
from ratings.ledger.ahead import rated_ahead
from ratings.ledger.facts import AsIf
from ratings.ledger.posting import Cause, post
from ratings.mechanics.unit_rating import Policy
from ratings.models import CurrentRating, RatingPolicy, What
from ratings.models.choices import SHORTCUTS, STALE_RATES
from ratings.models.policy import Safeguards, policy_in_force, safeguards, safeguards_of
from ratings.proposals.acts import Act, Arguments, SecondPersonNeeded, second_person
from ratings.proposals.views import may_propose
from ratings.rerating.long_work import record_or_begin


def _safeguard_choices(prefix: str) -> list[tuple[str, str]]:
    names = [name for name in vars(Safeguards()) if name.startswith(prefix)]
    return [
        (name, str(RatingPolicy._meta.get_field(name).verbose_name))  # type: ignore[union-attr]
        for name in names
    ]


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
    second_person = forms.MultipleChoiceField(
        label="Ask for a second person",
        choices=partial(_safeguard_choices, "second_person_"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="One equipment manager proposes it, another confirms it; nothing is recorded "
        "before. While any is ticked, taking away a tick here or below needs the second person "
        "too.",
    )
    qualified = forms.MultipleChoiceField(
        label="Ask for a qualification that holds that day",
        choices=partial(_safeguard_choices, "qualified_"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="On record on the page of whoever approves or signs, under People.",
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

    def __init__(
        self, *args: Any, in_force: Policy, asks_in_force: Safeguards, **kwargs: Any
    ) -> None:
        self.in_force, self.asks_in_force = in_force, asks_in_force
        ticked = [name for name, on in asdict(asks_in_force).items() if on]
        initial = asdict(in_force) | {
            "confidence_pct": in_force.confidence * 100,
            "second_person": ticked,
            "qualified": ticked,
        }
        super().__init__(*args, initial=initial, **kwargs)
        # Why comes last, after all that changes.
        self.order_fields([name for name in self.fields if name != "reason"] + ["reason"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        coldest_f, warmest_f = cleaned.get("coldest_f"), cleaned.get("warmest_f")
        if coldest_f is not None and warmest_f is not None and warmest_f <= coldest_f:
            self.add_error("warmest_f", "This is no warmer than the coldest: give a warmer one.")
        if self.errors or self.is_on_record(RatingPolicy):
            return cleaned
        if self.policy == self.in_force and self.asks == self.asks_in_force:
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

    @property
    def asks(self) -> Safeguards:
        """What is asked for beyond one person's word; the form must be valid."""
        ticked = {*self.cleaned_data["second_person"], *self.cleaned_data["qualified"]}
        return Safeguards(**{name: name in ticked for name in asdict(Safeguards())})


def _asks(given: Arguments) -> bool:
    """Whether this change needs a second person: the policy says so, or it asks for one no more."""
    in_force = safeguards()
    wanted = given.get("asks") or in_force
    dropped = in_force.asked - wanted.asked
    return in_force.second_person_policy or bool(in_force.second_person and dropped)


def _details(given: Arguments, system: str) -> list[tuple[str, str]]:
    """What a change would change, before and after."""
    before = RatingPolicy.objects.first()
    figures = policy_figures(policy_in_force(before), safeguards_of(before), system)
    asks = given["asks"] or safeguards_of(before)
    after = policy_figures(given["policy"], asks, system)
    changed = [(each, then) for each, then in zip(after, figures, strict=True) if each != then]
    return [
        *(("Changes", f"{then} → {each}") for each, then in changed),
        ("Why it changes", given["reason"]),
    ]


POLICY_ACT = Act(
    What.POLICY,
    asks=_asks,
    title=lambda given: f"A change of the policy: {given['reason']}",
    about=lambda given: RatingPolicy.objects.first() or RatingPolicy(pk=0),
    facts=lambda given: {"the policy in force": str(RatingPolicy.objects.first() or "the first")},
    details=_details,
    page=lambda given: reverse("policy"),
    known=RatingPolicy,
    cause=Cause.POLICY,
    rates_many=True,
)


@rated_ahead(as_if=lambda given: AsIf(policy=given["policy"]))
@second_person(POLICY_ACT)
@in_every_yard
@transaction.atomic
def change_policy(
    *,
    submission_id: uuid.UUID,
    policy: Policy,
    reason: str,
    by: User,
    asks: Safeguards | None = None,
) -> RatingPolicy:
    """Put a policy in force. Housings that have a ledger are re-rated in the same transaction.

    asks: what it asks for beyond one person's word; as before where it is None. Raises
    ValidationError where a second person is to be asked for and nobody else could be one.
    """
    housings = lock_all_housings()
    known = RatingPolicy.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    before = safeguards()
    asks = asks or before
    if asks.second_person - before.second_person and not managers_but(by).exists():
        raise ValidationError(
            {
                "second_person": "Nobody but you keeps records here, so that nobody could confirm "
                "anything: let another equipment manager in first, under People."
            }
        )
    row = RatingPolicy.objects.create(
        submission_id=submission_id,
        **asdict(policy),
        **asdict(asks),
        reason=reason,
        recorded_by=by,
    )
    rated = set(CurrentRating.objects.values_list("housing", flat=True))
    post(
        [housing for housing in housings if housing.pk in rated],
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
        return "; ".join(
            policy_figures(policy_in_force(record), safeguards_of(record), self.system)
        )


def policy_figures(policy: Policy, asks: Safeguards, system: str) -> tuple[str, ...]:
    """Return every figure of a policy, and whom it asks for, in words; always as many."""
    coldest, warmest = (
        Quantity.TEMPERATURE.words(each, system) for each in (policy.coldest_f, policy.warmest_f)
    )
    strain = policy.largest_strain_pct
    return (
        f"confidence {plain_number(policy.confidence * 100, 2)} %",
        f"spread {plain_number(policy.pad_spread_pct, 2)} % worth "
        f"{plain_number(policy.pad_spread_degrees_of_freedom, 1)} degrees of freedom",
        f"in use ± {plain_number(policy.conditions_pct, 2)} %, temperature not read ± "
        f"{plain_number(policy.unknown_temperature_pct, 2)} % more",
        f"seal friction {plain_number(policy.seal_friction_pct, 2)} %",
        f"first stretch {plain_number(policy.first_stretch_pct, 2)} % below "
        f"{policy.conditioning_cycles} cycles",
        f"between readings ± {plain_number(policy.gap_band_pct, 2)} %",
        f"bent beyond {plain_number(policy.linearity_limit_pct, 2)} %",
        "no strain limit" if strain is None else f"strain {plain_number(strain, 1)} %",
        f"tape {Quantity.DIAMETER.words(policy.tape_resolution_in, system)}",
        f"{policy.rate_valid_days} days",
        f"tested at {coldest} to {warmest}",
        f"a stale rate {STALE_RATES[policy.stale_rates]}",
        f"refused: {', '.join(policy.refused_shortcuts) or 'nothing'}",
        f"second person: {asked_words(asks, 'second_person_')}",
        f"qualification: {asked_words(asks, 'qualified_')}",
    )


def asked_words(asks: Safeguards, prefix: str) -> str:
    """Say for what a second person, or a qualification, is asked for."""
    asked = asdict(asks)
    words = [label for name, label in _safeguard_choices(prefix) if asked[name]]
    return ", ".join(words) or "for nothing"


@may_propose
def policy(request: HttpRequest) -> HttpResponse:
    """Show the policy in force and those before it; a manager may change it."""
    rows = RatingPolicy.objects.select_related("recorded_by")
    newest = rows.first()
    in_force, asks = policy_in_force(newest), safeguards_of(newest)
    data = request.POST if request.method == "POST" else None
    form = PolicyForm(data, in_force=in_force, asks_in_force=asks, system=system_of(request))
    if request.method == "POST":
        if not signed_in(request).has_perm(RECORD):
            raise PermissionDenied
        if form.is_valid() and (changed := _change(request, form)) is not None:
            if isinstance(changed, LongWork):
                return redirect("rerating", changed.pk)
            messages.success(request, "The policy is in force and every unit is rated by it.")
            return redirect("policy")
    return render(
        request,
        "ratings/policy.html",
        {
            "section": "policy",
            "newest": newest or RatingPolicy(),
            "in_force": in_force,
            "refused": in_force.refused_shortcuts,
            "second_person": asked_words(asks, "second_person_"),
            "qualified": asked_words(asks, "qualified_"),
            "table": table_of(request, PolicyTable, rows),
            "form": form,
        },
    )


def _change(request: HttpRequest, form: PolicyForm) -> RatingPolicy | LongWork | None:
    """Change the policy, or begin to; None where it is refused, which the form shows."""
    reason = form.cleaned_data["reason"]
    try:
        return record_or_begin(
            change_policy,
            {
                "submission_id": form.cleaned_data["submission_id"],
                "policy": form.policy,
                "asks": form.asks,
                "reason": reason,
            },
            by=signed_in(request),
            title=f"A change of the policy: {reason}",
            about=RatingPolicy(),
            page=reverse("policy"),
            form=form,
            system=system_of(request),
        )
    except SecondPersonNeeded:
        raise
    except ValidationError as refusal:
        form.add_error(None, refusal)
        return None
