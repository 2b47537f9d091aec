from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from fleet.fields import FactForm, HundredthsField, MomentField, SubmissionForm, field_of
from fleet.models import PadLot, PadOrder, PadOrderPromise, PadReceipt, Yard
from fleet.pad_orders import KindOfPad

RUBBER = ("hardness_shore_a", "bonded_area_in2", "rubber_thickness_in")


def day_input() -> forms.DateInput:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class PadOrderForm(FactForm):
    """Which pads are ordered for which yard, what of whom, and for when they are promised."""

    yard = forms.ModelChoiceField(
        label="For yard", queryset=Yard.objects.filter(retired_on__isnull=True)
    )
    lot = forms.ModelChoiceField(
        label="Lot",
        queryset=PadLot.objects.in_use(),
        required=False,
        empty_label="a kind in no yard yet",
        help_text="Its pads may come as a lot of their own: that is said when they come.",
    )
    price_each = HundredthsField(label="Price of one pad", least=0, most=9_999_999, example="86.50")
    currency = forms.CharField(
        label="Currency",
        max_length=3,
        required=False,
        help_text="As the supplier wrote it; left blank, that of the yard.",
    )
    is_more = forms.BooleanField(
        label="They come beside pads of this lot that are on order already", required=False
    )

    class Meta:
        model = PadOrder
        fields = (
            "kind",
            *RUBBER,
            "pads",
            "supplier",
            "supplier_words",
            "ordered_on",
            "promised_on",
            "ordered_by",
        )
        widgets = {"ordered_on": day_input(), "promised_on": day_input()}

    field_order = [
        "yard",
        "lot",
        "kind",
        *RUBBER,
        "pads",
        "price_each",
        "currency",
        "supplier",
        "supplier_words",
        "ordered_on",
        "promised_on",
        "ordered_by",
        "is_more",
    ]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, blank in (
            ("yard", "choose the yard they are for."),
            ("supplier", "name who sells them."),
            ("ordered_on", "give the day they were ordered."),
            ("promised_on", "give the day they are to come; where none was said, expect one."),
            ("ordered_by", "name who ordered them."),
        ):
            self.fields[name].error_messages["required"] = f"This is blank: {blank}"

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        lot, kind = cleaned.get("lot"), cleaned.get("kind", "")
        if "lot" in self.errors or "kind" in self.errors:
            return cleaned
        if lot is None and not kind:
            self.add_error("lot", "Choose a lot here, or say below what kind of pad it is.")
        elif lot is not None and kind:
            self.add_error("kind", f"Lot {lot} is chosen: leave this blank, or choose no lot.")
        return cleaned

    @property
    def order(self) -> dict[str, Any]:
        """What was given, as `order_pads` takes it."""
        given = dict(self.cleaned_data)
        lot, kind = given.pop("lot"), given.pop("kind")
        rubber = {name: given.pop(name) for name in RUBBER}
        return given | {"what": lot or KindOfPad(kind, **rubber)}


class ReceiptForm(SubmissionForm):
    """Pads of an order that came: how many, of which lot, when."""

    pads = field_of(PadReceipt, "pads", label="Pads counted as they came", initial=None)
    lot = forms.ModelChoiceField(
        label="They are of lot",
        queryset=PadLot.objects.in_use(),
        empty_label="choose the lot",
        error_messages={"required": "This is blank: choose the lot they are of."},
    )
    received_at = MomentField(label="Came at", initial=timezone.now)
    note = field_of(PadReceipt, "note")
    more_reason = field_of(PadReceipt, "more_reason")
    is_new_delivery = forms.BooleanField(
        label="They are none of the pads on record already", required=False
    )

    def __init__(self, *args: Any, order: PadOrder, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["lot"].help_text = (
            "A delivery may be a lot of its own: enter that first. It counts for nothing until it "
            "is bench-tested."
        )
        if order.lot is not None and order.lot.retired_on is None:
            self.initial.setdefault("lot", order.lot_id)


class PromiseForm(FactForm):
    """Another day that the supplier promised."""

    class Meta:
        model = PadOrderPromise
        fields = ("promised_on", "words")
        widgets = {"promised_on": day_input()}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["promised_on"].error_messages["required"] = (
            "This is blank: give the day they are promised for now."
        )
        self.fields["words"].error_messages["required"] = "This is blank: say who said so, and why."


class CancelForm(SubmissionForm):
    """Why what is still to come of an order won’t come."""

    reason = forms.CharField(label="Why they won’t come", max_length=200)


class TakeBackForm(SubmissionForm):
    """Why a receipt counts no more."""

    reason = forms.CharField(label="What is wrong with it", max_length=200)
