from __future__ import annotations

from django import forms
from django.core.exceptions import ValidationError

from inspections.kinds import new_name
from inspections.models import OwnKind
from inspections.models.ownkind import LONGEST_NAME
from ratings.forms.submission import SubmissionForm


class KindForm(SubmissionForm):
    """A kind of inspection the yard adds to the common ones."""

    name = forms.CharField(
        label="Its name",
        max_length=LONGEST_NAME,
        help_text="Short, as it is said in the yard, such as “oil change”.",
    )

    def clean(self) -> None:
        super().clean()
        if "name" not in self.cleaned_data or self.is_on_record(OwnKind):
            return
        try:
            self.cleaned_data["name"] = new_name(self.cleaned_data["name"])
        except ValidationError as refusal:
            self.add_error("name", refusal)
