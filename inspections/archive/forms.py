from __future__ import annotations

from django import forms

CHAIN, WHOLE = "chain", "whole"


class ArchiveForm(forms.Form):
    """What goes into an archive of a unit."""

    what = forms.ChoiceField(
        label="What goes in",
        choices=[
            (WHOLE, "All of the unit: its machines, records and papers"),
            (CHAIN, "Its ledger alone, entry by entry"),
        ],
        widget=forms.RadioSelect,
        initial=WHOLE,
    )
    photos = forms.BooleanField(
        label="Photos and files",
        required=False,
        initial=True,
        help_text="Of inspections, findings, repairs, bench tests and machines.",
    )
    pull_sheet = forms.BooleanField(
        label="The last pull sheet",
        required=False,
        help_text="It names the job it was made for: leave it out where that is nobody’s business.",
    )
