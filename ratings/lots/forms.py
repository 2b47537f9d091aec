from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

from django import forms
from django.utils import timezone

from fleet.fields import (
    FactForm,
    HundredthsField,
    MeasuredField,
    MeasuredForm,
    MeasuredModelForm,
    MomentField,
    SubmissionForm,
    field_of,
)
from fleet.models import LotCorrection, PadLot, PadPrice, ShelfCount, StockMove, Yard
from fleet.quantities import Quantity
from fleet.stock import on_shelf
from ratings.lots.entering import KEPT
from ratings.models import RatingApproval

YARDS_IN_USE = Yard.objects.filter(retired_on__isnull=True)


class KeepingForm(MeasuredModelForm):
    """When to order more of a lot, and until when it may lie on a shelf."""

    use_by = forms.DateField(
        label="Use by",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=PadLot._meta.get_field("use_by").help_text,
    )

    class Meta:
        model = PadLot
        fields: ClassVar[Sequence[str]] = KEPT


class LotForm(KeepingForm):
    """A new lot of pads."""

    def clean_mark(self) -> str:
        mark: str = self.cleaned_data["mark"]
        alike = PadLot.objects.filter(mark__iexact=mark).first()
        if alike is not None:
            raise forms.ValidationError(
                f"Lot {alike.mark} is on record already: give this one a mark of its own."
            )
        return mark

    class Meta(KeepingForm.Meta):
        fields: ClassVar[Sequence[str]] = [
            "mark",
            "supplier",
            "hardness_shore_a",
            "bonded_area_in2",
            "rubber_thickness_in",
            *KEPT,
            "note",
        ]


class LotCorrectionForm(FactForm):
    """What a lot's rubber really is, and how the mistake came to light."""

    class Meta:
        model = LotCorrection
        fields = ["hardness_shore_a", "bonded_area_in2", "rubber_thickness_in", "reason"]


class PadPriceForm(FactForm):
    """What a pad of a lot costs, from when on, by what paper, and how soon it comes."""

    yard = forms.ModelChoiceField(
        label="Paid by",
        queryset=YARDS_IN_USE,
        required=False,
        empty_label="all yards",
        help_text="The price is in the currency of the yard.",
    )
    amount = HundredthsField(label="Price of one pad", least=0, most=9_999_999, example="86.50")

    class Meta:
        model = PadPrice
        fields = ("amount", "valid_from", "source", "lead_days")
        widgets = {"valid_from": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")}

    field_order = ["yard", "amount", "valid_from", "source", "lead_days"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, blank in (
            ("valid_from", "give the day from which it holds."),
            ("source", "say where the price stands."),
        ):
            self.fields[name].error_messages["required"] = f"This is blank: {blank}"


class WantedGainForm(MeasuredForm):
    """By how much testing more pads is to lift what can be promised of any one of a lot."""

    gain = MeasuredField(
        Quantity.RATE, label="Wanted gain", least=0, above_least=True, most=100_000, example="20"
    )


def _loose_field(**options: Any) -> forms.ChoiceField:
    return forms.ChoiceField(
        label="Pads that the books have in no yard",
        choices=[("here", "lie here: I count them in"), ("elsewhere", "lie elsewhere")],
        widget=forms.RadioSelect,
        **options,
    )


def has_loose(cleaned: dict[str, Any]) -> bool | None:
    """Say what a form was told of pads of no yard: whether they were counted too, None if nothing.

    cleaned: a form's cleaned data.
    """
    return {"here": True, "elsewhere": False}.get(cleaned.get("loose", ""))


class StockForm(SubmissionForm):
    """Pads that came to the shelf or left it other than by being fitted."""

    kind = forms.ChoiceField(
        label="What happened",
        choices=[
            (StockMove.Kind.RECEIVED.value, "received: pads came in"),
            (StockMove.Kind.SCRAPPED.value, "scrapped: pads left the shelf"),
            (StockMove.Kind.TESTED.value, "tested and not returned"),
            (StockMove.Kind.COUNTED.value, "counted: the shelf holds this many"),
        ],
    )
    pads = field_of(ShelfCount, "pads", initial=None)
    yard = forms.ModelChoiceField(
        label="On the shelf of",
        queryset=YARDS_IN_USE,
        required=False,
        empty_label="no yard",
    )
    occurred_at = MomentField(label="When", initial=timezone.now)
    note = forms.CharField(label="Note", required=False, max_length=200)
    is_of_no_order = forms.BooleanField(
        label="They came by no order that is under way", required=False
    )
    loose = _loose_field(required=False)

    def __init__(self, *args: Any, lot: PadLot, **kwargs: Any) -> None:
        self.lot = lot
        super().__init__(*args, **kwargs)
        if loose := on_shelf(lot, None):
            self.fields[
                "loose"
            ].help_text = f"Of this lot {loose}. Asked of a yard’s shelf counted."
        else:
            del self.fields["loose"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        kind, pads = cleaned.get("kind"), cleaned.get("pads")
        if kind is None or pads is None:
            return cleaned
        is_count = kind == StockMove.Kind.COUNTED
        if not is_count and pads == 0:
            self.add_error("pads", "“0” won’t do: give one pad or more.")
        elif (
            is_count
            and not has_loose(cleaned)
            and pads == on_shelf(self.lot, cleaned.get("yard"))
            and not self.is_on_record(StockMove)
        ):
            self.add_error("pads", f"The books say {pads} too: there is nothing to record.")
        return cleaned


class StockTakeForm(SubmissionForm):
    """What lies on one yard's shelf, lot by lot; a lot left blank was not counted."""

    occurred_at = MomentField(label="Counted at", initial=timezone.now)

    loose = _loose_field()

    def __init__(self, *args: Any, books: list[tuple[PadLot, int, int]], **kwargs: Any) -> None:
        """books: each lot, the pads the books have here, and those they have in no yard."""
        self.books = books
        super().__init__(*args, **kwargs)
        if not any(loose for _lot, _here, loose in books):
            del self.fields["loose"]
        for lot, pads, loose in books:
            self.fields[f"lot_{lot.pk}"] = field_of(
                ShelfCount,
                "pads",
                label=f"Lot {lot.mark}",
                required=False,
                initial=None,
                help_text=f"The books say {pads}{f', and {loose} in no yard' if loose else ''}.",
            )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if not self.errors and not self.counts:
            raise forms.ValidationError("No lot was counted: give the pads of one at least.")
        return cleaned

    @property
    def counts(self) -> dict[int, int]:
        """The pads counted of each lot that was, by its key."""
        lots = [lot for lot, _here, _loose in self.books]
        given = {lot.pk: self.cleaned_data.get(f"lot_{lot.pk}") for lot in lots}
        return {pk: pads for pk, pads in given.items() if pads is not None}


class MoveYardsForm(SubmissionForm):
    """Pads of a lot that go from one yard's shelf to another's."""

    origin = forms.ModelChoiceField(
        label="From",
        queryset=YARDS_IN_USE,
        required=False,
        empty_label="no yard",
    )
    goal = forms.ModelChoiceField(label="To", queryset=YARDS_IN_USE)
    pads = field_of(ShelfCount, "pads", least=1, example="12", initial=None)
    occurred_at = MomentField(label="When", initial=timezone.now)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("goal") is not None and cleaned.get("origin") == cleaned["goal"]:
            self.add_error("goal", "This is the yard they are in: choose another.")
        return cleaned


class ApprovalForm(SubmissionForm):
    """A second person's approval, and their word that they read what there is to doubt.

    doubts_shown: the mark of the doubts that the page showed, written by the page itself.
    """

    doubts_shown = forms.CharField(required=False, max_length=64, widget=forms.HiddenInput)
    has_read_doubts = forms.BooleanField(label="I have read the doubts above", required=False)
    accepts_implausible = forms.BooleanField(
        label="I approve it though its rubber does not allow such a rate", required=False
    )
    implausible_reason = field_of(
        RatingApproval,
        "implausible_reason",
        label="Why it holds all the same",
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # Shown only where there is a rate to give a reason for, so the label must not say optional.
        self.fields["implausible_reason"].is_asked_for = True  # type: ignore[attr-defined]


class RejectionForm(SubmissionForm):
    """Why a draft must not rate units."""

    reason = forms.CharField(label="Why it is rejected", max_length=200)


class WithdrawalForm(SubmissionForm):
    """Why a rating may rate units no longer."""

    reason = forms.CharField(label="Why it is withdrawn", max_length=200)
