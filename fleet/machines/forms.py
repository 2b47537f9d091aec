from __future__ import annotations

import uuid
from typing import Any

from django import forms
from django.http import HttpRequest
from django.utils import timezone

from fleet.fields import (
    FormIdField,
    MeasuredModelForm,
    MomentField,
    PastDayField,
    SubmissionForm,
    whole_number,
)
from fleet.models import Clamp, Hammer, PowerPack
from fleet.models.clamp import HELD_BY_COLUMN, HeldPile
from fleet.setup.forms import reason_field
from fleet.setup.versions import version_of

# What a form holds beside what is on record.
NO_CHANGES = ("seen", "submission_id", "reason")


class MachineForm(MeasuredModelForm):
    """What is on record of a clamp or a power pack; its mark is given once."""

    retired_on = PastDayField(label="Out of use since", required=False)
    seen = forms.CharField(widget=forms.HiddenInput, label="what was on record", required=False)
    submission_id = FormIdField()
    reason = reason_field("Why it is changed")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        words = self._meta.model._meta.get_field("retired_on").help_text
        self.fields["retired_on"].help_text = words
        self.initial["submission_id"] = uuid.uuid4()
        if self.instance.pk:
            # Last of all, after whatever a kind of machine asks.
            self.fields["reason"] = self.fields.pop("reason")
            del self.fields["mark"]
            self.initial["seen"] = version_of(self.instance)
        else:
            del self.fields["retired_on"], self.fields["seen"], self.fields["reason"]

    @property
    def changes(self) -> dict[str, Any]:
        """What was changed, by the model's names."""
        changed = [name for name in self.changed_data if name not in NO_CHANGES]
        return {name: self.cleaned_data[name] for name in changed}


class ClampForm(MachineForm):
    """A clamp, and the piles its jaws hold."""

    kinds = forms.MultipleChoiceField(
        label="Piles its jaws hold",
        choices=HeldPile.choices,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Tick all of them. With none ticked it is not known, and every job says so.",
    )

    field_order = (
        "yard",
        "mark",
        "make",
        "type_name",
        "serial_number",
        "kinds",
        "jaws_note",
        "weight_lb",
        "clamp_force_lbf",
        "figures_source",
        "retired_on",
        "note",
    )

    class Meta:
        model = Clamp
        fields = (
            "yard",
            "mark",
            "make",
            "type_name",
            "serial_number",
            "jaws_note",
            "weight_lb",
            "clamp_force_lbf",
            "figures_source",
            "retired_on",
            "note",
        )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial["kinds"] = list(self.instance.kinds or ())

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        for column, is_held in held_by_column(cleaned.get("kinds") or ()).items():
            setattr(self.instance, column, is_held)
        return cleaned

    @property
    def changes(self) -> dict[str, Any]:
        """What was changed, by the model's names."""
        changes = super().changes
        if "kinds" in changes:
            changes |= held_by_column(changes.pop("kinds"))
        return changes


def held_by_column(kinds: Any) -> dict[str, bool | None]:
    """Return what each column says of the jaws that hold these kinds of pile; blank for none."""
    return {column: kind in kinds if kinds else None for column, kind in HELD_BY_COLUMN.items()}


class PowerPackForm(MachineForm):
    """A power pack."""

    class Meta:
        model = PowerPack
        fields = (
            "yard",
            "mark",
            "make",
            "type_name",
            "serial_number",
            "power_hp",
            "flow_gpm",
            "pressure_psi",
            "figures_source",
            "retired_on",
            "note",
        )


class OnHammerForm(SubmissionForm):
    """Which hammer a machine goes on, and when."""

    hammer = forms.ModelChoiceField(
        label="Hammer",
        queryset=Hammer.objects.filter(retired_on__isnull=True),
        required=False,
        empty_label="none: take it off",
        help_text="Another that is on that hammer now comes off it at the same time.",
    )
    at = MomentField(label="When", initial=timezone.now)


# The button that shows what is due on the hammer chosen, and records nothing.
SHOW = "show"


def chosen_hammer(request: HttpRequest, form: Any) -> tuple[Hammer | None, bool]:
    """Return the hammer chosen on a form, and whether to show what would be due on it.

    By the button that records nothing, or by a link that fills a hammer in.
    """
    if request.method == "POST":
        is_shown = SHOW in request.POST and form.is_valid()
        return (form.cleaned_data["hammer"] if is_shown else None), is_shown
    asked = whole_number(request.GET.get("hammer", ""))
    hammer = Hammer.objects.filter(pk=asked).first() if asked else None
    return hammer, hammer is not None
