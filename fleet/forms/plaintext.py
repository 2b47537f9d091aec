"""Forms whose texts hold no character that hides or turns round what stands after it."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import QueryDict

from fleet.characters import without_hidden

# Refused with words instead, where they are checked: two must never look the same.
NAMES = ("mark", "name")
TOO_LONG = "This has %(show_value)d characters: %(limit_value)d at the most."


class PlainText(forms.BaseForm):
    """Leaves hidden characters out of all that is sent but names, before any of it is checked."""

    def __init__(self, data: Any = None, *args: Any, **kwargs: Any) -> None:
        super().__init__(_plain(data), *args, **kwargs)

    def full_clean(self) -> None:
        # Here, since a form may add fields of its own once it is made.
        for field in self.fields.values():
            field.error_messages["max_length"] = TOO_LONG
        super().full_clean()


class PlainModelForm(PlainText, forms.ModelForm):  # type: ignore[type-arg]  # takes none at run time
    """A form of a record, for the yard set-up."""


def _plain(data: Any) -> Any:
    if not isinstance(data, QueryDict):
        return data
    plain = data.copy()
    for key in data:
        if key.rsplit("-", 1)[-1] not in NAMES:
            plain.setlist(key, [without_hidden(each) for each in data.getlist(key)])
    return plain
