from __future__ import annotations

from typing import Any

from django import forms

from fleet.forms.measured import MeasuredField
from fleet.forms.moment import PastDayField
from fleet.quantities import Quantity
from ratings.forms.submission import SubmissionForm


class ListingForm(SubmissionForm):
    """What a source claims a hammer may be pulled with."""

    listed_lbf = MeasuredField(
        Quantity.FORCE,
        label="Listed rating",
        least=1_000,
        most=10_000_000,
        example="120000",
        help_text="One US ton is 2,000 lbf.",
    )
    source = forms.CharField(
        label="Source",
        max_length=160,
        help_text="Data plate, manual or sheet, with its number or edition.",
    )
    dated = PastDayField(label="Dated", help_text="The day the source bears.")
    note = forms.CharField(
        label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}), max_length=2000
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.system != "us":
            self.fields["listed_lbf"].help_text = ""
