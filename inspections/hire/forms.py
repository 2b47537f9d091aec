"""Forms of hires, hand-overs, and hammers that are not ours."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from fleet.fields import FactForm, MomentField, SubmissionForm
from fleet.models import Hire, Mounting, PadLot, SuppressorHousing
from fleet.picture import MOST_BYTES
from inspections.hire.foreign import COUNTS
from inspections.models import ForeignCheck, HandOver
from ratings.models import LotRating


def day_input() -> forms.DateInput:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class HireForm(FactForm):
    """Which unit is let, to whom, where, and for which days."""

    housing = forms.ModelChoiceField(
        label="Unit",
        queryset=SuppressorHousing.objects.none(),
        error_messages={"required": "This is blank: choose the unit."},
    )

    class Meta:
        model = Hire
        fields = ("hirer", "contact", "place", "from_day", "back_due", "note")
        widgets = {"from_day": day_input(), "back_due": day_input()}

    field_order = ["housing", "hirer", "contact", "place", "from_day", "back_due", "note"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        mounted = Mounting.objects.current().values("housing")
        unit = self.fields["housing"]
        assert isinstance(unit, forms.ModelChoiceField)
        unit.queryset = SuppressorHousing.objects.in_use().filter(pk__in=mounted).order_by("mark")
        self.fields["from_day"].initial = timezone.localdate
        for name, words in (
            ("hirer", "name who hires it."),
            ("contact", "give a person and a telephone."),
            ("place", "say where it works."),
            ("from_day", "give the day it leaves."),
            ("back_due", "give the day it is expected back."),
        ):
            self.fields[name].error_messages["required"] = f"This is blank: {words}"


class HandOverForm(FactForm):
    """Who hands a unit over to whom, when, and the marks read off it."""

    signed_at = MomentField(label="Handed over and signed at", initial=timezone.now)

    class Meta:
        model = HandOver
        fields = (
            "signed_at",
            "housing_mark",
            "hammer_mark",
            "given_by",
            "taken_by",
            "remarks",
        )
        widgets = {"remarks": forms.Textarea(attrs={"rows": 3})}

    field_order = Meta.fields


class PhotoForm(SubmissionForm):
    """A photo of a hand-over, or of a hammer that is not ours."""

    photo = forms.FileField(
        label="Photo",
        help_text=f"A picture of at most {MOST_BYTES // 1024**2} MB.",
        widget=forms.ClearableFileInput(attrs={"accept": "image/*"}),
        error_messages={"required": "No photo is chosen: choose or take one."},
    )
    caption = forms.CharField(label="What it shows", max_length=200, required=False)


class CancelForm(SubmissionForm):
    """Why a hire is cancelled."""

    reason = forms.CharField(label="Why it is cancelled", max_length=200)


class ForeignCheckForm(FactForm):
    """A hammer that is not ours: whose, its count, its travel, and what is known of its pads."""

    checked_at = MomentField(label="Checked at", initial=timezone.now)
    lot = forms.ModelChoiceField(
        label="Which of our lots",
        queryset=PadLot.objects.none(),
        required=False,
        help_text="Where its pads are of one of ours; only lots with a rating in force.",
    )

    class Meta:
        model = ForeignCheck
        fields = (
            "owner",
            "make_and_type",
            "mark",
            "checked_at",
            "positions_per_side",
            *COUNTS,
            "travel_in",
            "is_guided",
            "guided_reason",
            "rate_from",
            "rate_lbf_in",
            "spread_lbf_in",
            "pads_measured",
            "rate_error_lbf_in",
            "tested_stretch_in",
            "measured_where",
            "stated_listed_lbf",
            "note",
        )

    def __init__(self, *args: Any, is_correction: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        lot = self.fields["lot"]
        assert isinstance(lot, forms.ModelChoiceField)
        rated = LotRating.objects.in_force().order_by().values("lot")
        lot.queryset = PadLot.objects.in_use().filter(pk__in=rated).order_by("mark")
        lot.empty_label = "of none of ours"
        if is_correction:
            self.fields["correction_reason"] = forms.CharField(
                label="What was wrong with the earlier one",
                max_length=200,
                error_messages={"required": "This is blank: say what was wrong."},
            )

    def _part(self, names: Any) -> list[Any]:
        return [self[name] for name in names]

    @property
    def whose(self) -> list[Any]:
        return self._part(("owner", "make_and_type", "mark", "checked_at"))

    @property
    def pads_a(self) -> list[Any]:
        return self._part(name for name in COUNTS if name.endswith("_a"))

    @property
    def pads_b(self) -> list[Any]:
        return self._part(name for name in COUNTS if name.endswith("_b"))

    @property
    def travel(self) -> list[Any]:
        return self._part(("travel_in", "is_guided", "guided_reason"))

    @property
    def rate(self) -> list[Any]:
        return self._part(("rate_from", "lot"))

    @property
    def as_measured(self) -> list[Any]:
        return self._part(
            (
                "rate_lbf_in",
                "pads_measured",
                "spread_lbf_in",
                "rate_error_lbf_in",
                "tested_stretch_in",
                "measured_where",
            )
        )

    @property
    def rest(self) -> list[Any]:
        names = ["stated_listed_lbf", "note"]
        return self._part(
            names + (["correction_reason"] if "correction_reason" in self.fields else [])
        )
