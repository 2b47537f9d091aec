from __future__ import annotations

import uuid
from typing import Any

from django import forms
from django.db.models import Model, Q

from fleet.fields import (
    FormIdField,
    MeasuredField,
    MeasuredModelForm,
    NumberField,
    PastDayField,
    SubmissionForm,
)
from fleet.models import Yard
from fleet.quantities import plain_number
from fleet.setup.recording import entered_by
from fleet.setup.versions import version_of

READ_AGAIN = (
    "It stays on record with the figures of before, such as: read off the plate again by P. Holm."
)


def reason_field(label: str, help_text: str = READ_AGAIN) -> forms.CharField:
    """Return the field of why something on record changes."""
    return forms.CharField(
        label=label,
        max_length=200,
        help_text=help_text,
        error_messages={"required": "This is blank: say why, since it stays on record."},
    )


class ThingForm(MeasuredModelForm):
    """What is on record of something the yard owns; a change of it is for a reason."""

    submission_id = FormIdField()
    seen = forms.CharField(widget=forms.HiddenInput, label="what was on record", required=False)
    reason = reason_field("Why it is changed")

    def __init__(self, *args: Any, fixed: tuple[str, ...] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("submission_id", uuid.uuid4())
        if self.instance.pk:
            for name in fixed:
                del self.fields[name]
            self.initial["seen"] = version_of(self.instance)
            self.fields["reason"] = self.fields.pop("reason")
        else:
            del self.fields["seen"], self.fields["reason"]
        for name, field in self.fields.items():
            self._tell(name, field)

    def _tell(self, name: str, field: forms.Field) -> None:
        """Give a field the box, help and example that people need."""
        if name == "yard" and isinstance(field, forms.ModelChoiceField):
            own = Q(pk=self.instance.yard_id) if self.instance.pk else Q(pk=None)
            field.queryset = Yard.objects.filter(Q(retired_on=None) | own)
            field.empty_label = "choose a yard"
            field.help_text = field.help_text or "Where it is kept."
        if isinstance(field, NumberField) and not field.help_text:
            field.help_text = f"Such as {self._example(field)}."

    def _example(self, field: NumberField) -> str:
        if not isinstance(field, MeasuredField):
            return field.example
        shown = field.quantity.shown(float(field.example), self.system)
        return f"{plain_number(shown, 3)} {field.unit}"

    @property
    def changes(self) -> dict[str, Any]:
        """What was changed, by the model's names; the form must be valid."""
        own = {each.name for each in self.instance._meta.concrete_fields}
        return {name: self.cleaned_data[name] for name in self.changed_data if name in own}


class RetireForm(SubmissionForm):
    """Since when something is out of use, and why."""

    on = PastDayField(label="Out of use since", help_text="The first day it was not used any more.")
    reason = reason_field("Why", "It stays on record, such as: sold, or worn beyond repair.")


class BackForm(SubmissionForm):
    """Why something is in use again."""

    reason = reason_field("Why", "It stays on record, such as: repaired, seen by P. Holm.")


def day_field(label: str, *, help_text: str = "", may_be_to_come: bool = False) -> forms.DateField:
    """Return the field of a day that may be left blank, picked from a calendar."""
    if not may_be_to_come:
        return PastDayField(label=label, required=False, help_text=help_text)
    return forms.DateField(
        label=label,
        required=False,
        help_text=help_text,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "This is not a day: give one such as 2026-03-14."},
    )


def entered_by_form(form: Any, model: type[Model]) -> Any:
    """Return what this very form has entered, though its mark is taken by now: by itself."""
    try:
        submission_id = form.fields["submission_id"].clean(form.data.get("submission_id"))
    except forms.ValidationError:
        return None
    return entered_by(submission_id, model)
