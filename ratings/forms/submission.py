from __future__ import annotations

import uuid
from typing import Any

from django import forms

from fleet.forms.measured import MeasuredForm


class SubmissionForm(MeasuredForm):
    """A form that carries an id of its own, so that sending it twice records it once."""

    submission_id = forms.UUIDField(widget=forms.HiddenInput, label="form id")

    def __init__(self, *args: Any, initial: dict[str, Any] | None = None, **kwargs: Any) -> None:
        given = {"submission_id": uuid.uuid4(), **(initial or {})}
        super().__init__(*args, initial=given, **kwargs)
