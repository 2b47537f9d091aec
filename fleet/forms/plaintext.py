"""Forms whose texts hold no character that hides or turns round what stands after it."""

from __future__ import annotations

from typing import Any

from django import forms

from fleet.characters import without_hidden

# Refused with words instead, where they are checked: two must never look the same.
NAMES = ("mark", "name")


class PlainText(forms.BaseForm):
    """Leaves hidden characters out of every text but names."""

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        for name, value in cleaned.items():
            if isinstance(value, str) and name not in NAMES:
                cleaned[name] = without_hidden(value)
        return cleaned


class PlainModelForm(PlainText, forms.ModelForm):
    """A form of a record, for the yard set-up."""
