from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils import timezone

from fleet.characters import check_name
from fleet.fields import MomentField, PlainText
from fleet.models import Yard
from inspections.receiving.as_register import Called
from inspections.receiving.reading import MOST_SEAL_LETTERS


class ReceiveForm(PlainText, forms.Form):
    """An archive of a unit that comes from another site, and a seal of that site."""

    file = forms.FileField(
        label="Archive",
        help_text="The ZIP as it was given out: one packed anew is refused.",
    )
    seal = forms.CharField(
        label="A seal of that site",
        required=False,
        max_length=MOST_SEAL_LETTERS,
        widget=forms.Textarea(attrs={"rows": 4, "class": "mono"}),
        help_text="Its whole text, as it came another way than the archive: by letter, or with an "
        "older paper. Without one the archive is held to the seal inside it, which whoever wrote "
        "the rest could have written too.",
    )


class ArrivalForm(PlainText, forms.Form):
    """Where a unit comes to, when it came, and what its machines and lots are called here."""

    yard = forms.ModelChoiceField(
        Yard.objects.filter(retired_on__isnull=True),
        label="Yard it comes to",
        empty_label="choose",
        error_messages={"required": "Nothing is chosen: choose the yard it stands in."},
    )
    received_at = MomentField(label="Received at", initial=timezone.now)

    def __init__(self, *args: Any, called: Sequence[Called], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for each in called:
            self.fields[each.field] = forms.CharField(
                label=f"{each.words[0].upper()}{each.words[1:]} is here",
                max_length=40,
                initial=each.mark,
                validators=[check_name],
                error_messages={"required": "This is blank: give the mark painted on it here."},
            )
        self.mark_names = [each.field for each in called]

    @property
    def mark_fields(self) -> list[forms.BoundField]:
        """The fields of marks, in their order."""
        return [self[name] for name in self.mark_names]

    @property
    def marks(self) -> dict[str, str]:
        """What each is called here, by its field."""
        return {name: self.cleaned_data[name] for name in self.mark_names}
