"""Forms of transfers between yards."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from fleet.dates import day_words
from fleet.fields import DayField, FactForm, PastDayField, SubmissionForm
from fleet.models import Hammer, Mounting, SuppressorHousing, Transfer, Yard, YardHaul
from fleet.units import hammers_on_no_housing
from ratings.models import ExtractionJob, TransportRules

HOUSING, HAMMER = "housing", "hammer"
YARDS_IN_USE = Yard.objects.filter(retired_on__isnull=True)


class TransferForm(FactForm):
    """What goes where, and when."""

    what = forms.ChoiceField(label="What is moved")
    goal = forms.ModelChoiceField(label="To", queryset=YARDS_IN_USE)
    leaves_on = DayField(label="Leaves on", initial=timezone.localdate)
    arrives_on = DayField(
        label="Arrives on",
        help_text="The day it is in the other yard. Until then it can hold no job.",
    )
    job = forms.ModelChoiceField(
        label="For the job", queryset=ExtractionJob.objects.none(), required=False
    )

    class Meta:
        model = Transfer
        fields = ("goal", "leaves_on", "arrives_on", "haul_mi", "job", "note")

    field_order = ["what", "goal", "leaves_on", "arrives_on", "haul_mi", "job", "note"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        what, job, goal = (self.fields[name] for name in ("what", "job", "goal"))
        assert isinstance(what, forms.ChoiceField)
        assert isinstance(job, forms.ModelChoiceField)
        what.choices = [("", "choose one"), *self._units(), *self._bare_hammers()]
        what.error_messages["required"] = "This is blank: choose a unit or a hammer."
        goal.error_messages["required"] = "This is blank: choose a yard."
        job.queryset = ExtractionJob.objects.filter(last_day__gte=timezone.localdate()).order_by(
            "first_day", "pk"
        )
        job.empty_label = "no job in particular"

    def _units(self) -> list[tuple[str, str]]:
        housings = SuppressorHousing.objects.in_use().select_related("yard")
        hammers = Mounting.objects.hammers_by_housing(housing.pk for housing in housings)
        return [
            (
                f"{HOUSING}-{housing.pk}",
                f"{housing}{f' with {hammer}' if (hammer := hammers.get(housing.pk)) else ''}, "
                f"in {housing.yard}",
            )
            for housing in housings
        ]

    def _bare_hammers(self) -> list[tuple[str, str]]:
        bare = hammers_on_no_housing().select_related("yard")
        return [(f"{HAMMER}-{each.pk}", f"Hammer {each} alone, in {each.yard}") for each in bare]

    @property
    def moved(self) -> dict[str, Any]:
        """The housing or the hammer chosen, by its name; the form must be valid."""
        kind, _, key = self.cleaned_data["what"].partition("-")
        model: Any = SuppressorHousing if kind == HOUSING else Hammer
        return {HOUSING: None, HAMMER: None} | {kind: model.objects.get(pk=key)}


class ArrivalForm(SubmissionForm):
    """When it came."""

    arrived_on = PastDayField(label="Arrived on", initial=timezone.localdate)

    def __init__(self, *args: Any, transfer: Transfer, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields[
            "arrived_on"
        ].help_text = f"It was to be there {day_words(transfer.arrives_on)}."


class CancelForm(SubmissionForm):
    """Why a transfer is cancelled."""

    reason = forms.CharField(label="Why it is cancelled", max_length=200)


class YardHaulForm(FactForm):
    """Two yards, and how far they are from each other."""

    one = forms.ModelChoiceField(label="From", queryset=YARDS_IN_USE)
    other = forms.ModelChoiceField(label="To", queryset=YARDS_IN_USE)

    class Meta:
        model = YardHaul
        fields = ("haul_mi",)

    field_order = ["one", "other", "haul_mi"]


class TransportRulesForm(FactForm):
    """How many days a haul takes."""

    class Meta:
        model = TransportRules
        fields = ("miles_a_day", "least_days", "reason")
