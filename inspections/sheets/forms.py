from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from fleet.fields import PlainText
from fleet.models import Yard
from inspections.exchange.reading import BadFile
from inspections.sheets.grid import MOST_BYTES, Grid, read_grids, read_pasted


class SheetForm(PlainText, forms.Form):
    """A yard's own sheet: a file, or cells pasted from one."""

    yard = forms.ModelChoiceField(
        Yard.objects.all(),
        label="Whose sheet",
        required=False,
        empty_label="– choose a yard –",
        help_text="What you confirm of its columns and words is remembered for this yard.",
    )
    file = forms.FileField(
        label="File",
        required=False,
        help_text="XLSX, or CSV however it is parted and whatever wrote it.",
    )
    pasted = forms.CharField(
        label="Or cells pasted from a spreadsheet",
        required=False,
        widget=forms.Textarea(attrs={"rows": 4}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        yards = list(Yard.objects.all()[:2])
        self.fields["yard"].required = bool(yards)
        self.fields["yard"].error_messages["required"] = (
            "This is blank: choose the yard that keeps this sheet."
        )
        if len(yards) == 1:
            self.fields["yard"].initial = yards[0].pk

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        sent, pasted = cleaned.get("file"), cleaned.get("pasted", "")
        if "file" in self.errors:
            return cleaned
        if bool(sent) == bool(pasted.strip()):
            words = "Give one of the two: a file, or pasted cells."
            raise ValidationError({"file": words})
        self.grids: list[Grid] = []
        try:
            if sent:
                if sent.size > MOST_BYTES:
                    raise BadFile(
                        f"This file has {sent.size / 1024**2:.0f} MB: {MOST_BYTES // 1024**2} MB "
                        "at the most. Send it in parts, without pictures."
                    )
                self.grids = read_grids(sent.name, sent.read())
                self.name = sent.name
            else:
                self.grids = read_pasted(pasted)
                self.name = "Pasted text"
        except BadFile as bad:
            raise ValidationError({"file" if sent else "pasted": str(bad)}) from None
        return cleaned
