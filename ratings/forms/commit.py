from __future__ import annotations

from typing import Any

from django import forms

from fleet.forms.plaintext import PlainText
from ratings.forms.submission import SubmissionForm


class CommitForm(SubmissionForm):
    """Commit a unit to a job; with care only by somebody who says so."""

    with_care = forms.BooleanField(
        label="I know that it is suitable with care only, and who watches the pull",
        required=False,
    )

    def __init__(
        self, *args: Any, needs_care: bool, holds_over_range: bool = True, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        if needs_care or not holds_over_range:
            self.fields["with_care"].label = _known(needs_care, holds_over_range)
            self.fields["with_care"].required = True
            self.fields["with_care"].error_messages["required"] = (
                "Tick this, or choose a unit that is suitable outright."
            )
        else:
            del self.fields["with_care"]


def _known(needs_care: bool, holds_over_range: bool) -> str:
    parts = ["it is suitable with care only"] if needs_care else []
    if not holds_over_range:
        parts.append("the verdict does not hold over the range of the ground")
    return f"I know that {' and that '.join(parts)}, and who watches the pull"


class ReleaseForm(PlainText, forms.Form):
    """Why a unit is released from a job."""

    reason = forms.CharField(label="Why it is released", max_length=200)
