from __future__ import annotations

import uuid
from typing import Any

from django import forms
from django.db.models import Model, Q

from fleet.forms.measured import MeasuredForm


class SubmissionForm(MeasuredForm):
    """A form that carries an id of its own, so that sending it twice records it once."""

    submission_id = forms.UUIDField(widget=forms.HiddenInput, label="form id")

    def __init__(self, *args: Any, initial: dict[str, Any] | None = None, **kwargs: Any) -> None:
        given = {"submission_id": uuid.uuid4(), **(initial or {})}
        super().__init__(*args, initial=given, **kwargs)

    def is_on_record(self, model: type[Model]) -> bool:
        """Whether this very form was sent before, and so made a record of this kind."""
        sent = self.cleaned_data.get("submission_id")
        return sent is not None and model._default_manager.filter(submission_id=sent).exists()


def open_to_correction(submission_id: str) -> Q:
    """Records that nothing corrects, unless it is this very submission that is sent again."""
    uncorrected = Q(corrected_by__isnull=True)
    try:
        return uncorrected | Q(corrected_by__submission_id=uuid.UUID(submission_id))
    except ValueError:
        return uncorrected
