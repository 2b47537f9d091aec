from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils import timezone

from fleet.fields import FactForm, HundredthsField, MomentField, SubmissionForm
from fleet.models import Yard
from fleet.models.machine import sort_of
from fleet.numbers import quoted
from fleet.picture import MOST_BYTES
from fleet.units import MODELS
from inspections.models import Finding, RepairLine, RepairOrder, RepairPhoto


def day_input() -> forms.DateInput:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


def named(machine: Any) -> str:
    """Return a machine as the form takes it: its sort and its mark."""
    return f"{sort_of(machine).label} {machine.mark}"


class MachineNamed(forms.CharField):
    """A machine of the yard by its mark, after its sort where two have the same one."""

    def clean(self, value: Any) -> Any:
        given = super().clean(value)
        if not given:
            return None
        found = list(_machines(given))
        if not found:
            raise forms.ValidationError(
                f"{quoted(given)} is the mark of no machine here: give one such as H-12, or "
                "“clamp C-3”."
            )
        if len(found) > 1:
            either = " or ".join(f"“{named(each)}”" for each in found)
            raise forms.ValidationError(f"{quoted(given)} could be several: write {either}.")
        return found[0]


def _machines(given: str) -> Any:
    for sort, model in MODELS.items():
        machines: QuerySet[Any] = model.objects.select_related("yard")
        mark = given
        if given.lower().startswith(f"{sort.label} "):
            mark = given[len(sort.label) + 1 :].strip()
            yield from machines.filter(mark__iexact=mark)
        yield from machines.filter(mark__iexact=given)


class RepairOrderForm(FactForm):
    """What is to be repaired, at what, by whom, for when."""

    machine = MachineNamed(
        label="Machine",
        help_text="Its mark: of a hammer, a housing, a clamp or a power pack.",
        error_messages={"required": "This is blank: give the mark of the machine."},
    )

    class Meta:
        model = RepairOrder
        fields = ("what", "who", "planned_on", "parts_needed")
        widgets = {"what": forms.Textarea(attrs={"rows": 3}), "planned_on": day_input()}

    field_order = ["machine", "what", "who", "planned_on", "parts_needed"]

    def __init__(self, *args: Any, finding: Finding | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if finding is not None:
            # What was found says where: there is nothing to choose.
            del self.fields["machine"]
        for name, blank in (
            ("what", "say what is to be done."),
            ("who", "name who does it."),
            ("planned_on", "give the day it is planned for."),
        ):
            self.fields[name].error_messages["required"] = f"This is blank: {blank}"


class LineForm(FactForm):
    """A part used, or hours worked."""

    amount = HundredthsField(
        label="Pieces or hours", least=0, above_least=True, most=99_999, example="1.5"
    )
    price_each = HundredthsField(
        label="Price of a piece or an hour",
        least=0,
        most=9_999_999,
        example="41.50",
        required=False,
        help_text=RepairLine._meta.get_field("price_each").help_text,
    )

    class Meta:
        model = RepairLine
        fields = ("kind", "text", "amount", "price_each")

    field_order = ["kind", "text", "amount", "price_each"]

    def __init__(self, *args: Any, yard: Yard, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if yard.currency:
            self.fields["price_each"].label = f"Price of a piece or an hour, {yard.currency}"
        self.fields["text"].error_messages["required"] = "This is blank: say what it is."
        self.fields["kind"].error_messages["required"] = "This is blank: choose what it is."


class TakeBackForm(SubmissionForm):
    """Why a line counts no more."""

    reason = forms.CharField(label="What is wrong with it", max_length=200)


class PhotoForm(SubmissionForm):
    """A photo before or after."""

    when = forms.ChoiceField(label="Taken", choices=RepairPhoto.When.choices)
    photo = forms.FileField(
        label="Photo",
        help_text=f"A picture of at most {MOST_BYTES // 1024**2} MB.",
        widget=forms.ClearableFileInput(attrs={"accept": "image/*"}),
        error_messages={"required": "No photo is chosen: choose or take one."},
    )
    caption = forms.CharField(label="What it shows", max_length=200, required=False)


class FinishForm(SubmissionForm):
    """What was done, by whom and when."""

    ended_at = MomentField(label="Done at", initial=timezone.now)
    done_by = forms.CharField(label="Who did it", max_length=80)
    text = forms.CharField(
        label="What was done", max_length=1000, widget=forms.Textarea(attrs={"rows": 3})
    )
    closes_finding = forms.BooleanField(
        label="What was found is put right: close the finding with these words", required=False
    )

    def __init__(self, *args: Any, order: RepairOrder, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if order.finding is None or hasattr(order.finding, "closing"):
            del self.fields["closes_finding"]


class CancelForm(SubmissionForm):
    """Why a repair is not made."""

    reason = forms.CharField(label="Why it is not made", max_length=200)


class WorkListForm(forms.Form):
    """Of which yard, for which day."""

    yard = forms.ModelChoiceField(label="Yard", queryset=Yard.objects.all())
    day = forms.DateField(label="Day", widget=day_input(), initial=timezone.localdate)
