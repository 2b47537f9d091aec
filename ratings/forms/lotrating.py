from __future__ import annotations

from django import forms

from ratings.forms.submission import SubmissionForm


class ApprovalForm(SubmissionForm):
    """A second person's approval: nothing but the form's id."""


class WithdrawalForm(SubmissionForm):
    """Why a rating may rate units no longer."""

    reason = forms.CharField(label="Why it is withdrawn", max_length=200)
