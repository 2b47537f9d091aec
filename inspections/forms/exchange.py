from __future__ import annotations

from typing import Any

from django import forms

from inspections.exchange.reading import MOST_BYTES, BadFile, Lines, read_file


class ImportForm(forms.Form):
    """A register as a workbook, a CSV file named like its table, or a ZIP of them."""

    file = forms.FileField(
        label="Register",
        help_text="An XLSX workbook with a sheet for each table, a CSV file named like its table, "
        "or a ZIP of such files.",
    )

    def clean_file(self) -> Any:
        sent = self.cleaned_data["file"]
        if sent.size > MOST_BYTES:
            raise forms.ValidationError(
                f"This file is larger than {MOST_BYTES // 1024**2} MB: send it in parts."
            )
        try:
            self.lines: Lines = read_file(sent.name, sent.read())
        except BadFile as bad:
            raise forms.ValidationError(str(bad)) from None
        return sent
