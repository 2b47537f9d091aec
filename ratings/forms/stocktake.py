from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from fleet.forms.measured import NumberField
from fleet.forms.moment import MomentField
from fleet.models import PadLot, Yard
from ratings.forms.lots import MOST_PADS_MOVED
from ratings.forms.submission import SubmissionForm


class StockTakeForm(SubmissionForm):
    """What lies on one yard's shelf, lot by lot; a lot left blank was not counted."""

    occurred_at = MomentField(label="Counted at", initial=timezone.now)

    loose = forms.ChoiceField(
        label="Pads that the books have in no yard",
        choices=[("here", "lie here: I count them in"), ("elsewhere", "lie elsewhere")],
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, books: list[tuple[PadLot, int, int]], **kwargs: Any) -> None:
        """books: each lot, the pads the books have here, and those they have in no yard."""
        self.books = books
        super().__init__(*args, **kwargs)
        if not any(loose for _lot, _here, loose in books):
            del self.fields["loose"]
        for lot, pads, loose in books:
            self.fields[f"lot_{lot.pk}"] = NumberField(
                label=f"Lot {lot.mark}",
                least=0,
                most=MOST_PADS_MOVED,
                whole=True,
                required=False,
                example="24",
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
        label="From", queryset=Yard.objects.all(), required=False, empty_label="no yard"
    )
    goal = forms.ModelChoiceField(label="To", queryset=Yard.objects.all())
    pads = NumberField(label="Pads", least=1, most=MOST_PADS_MOVED, whole=True, example="12")
    occurred_at = MomentField(label="When", initial=timezone.now)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("goal") is not None and cleaned.get("origin") == cleaned["goal"]:
            self.add_error("goal", "This is the yard they are in: choose another.")
        return cleaned
