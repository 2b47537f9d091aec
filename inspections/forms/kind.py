from __future__ import annotations

from typing import Any

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

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if "name" in cleaned and not self.is_on_record(OwnKind):
            try:
                cleaned["name"] = new_name(cleaned["name"])
            except ValidationError as refusal:
                self.add_error("name", refusal)
        return cleaned
