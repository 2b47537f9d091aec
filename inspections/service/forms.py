from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.utils import timezone

from fleet.dates import moment_words
from fleet.fields import MeasuredForm, MomentField, SubmissionForm
from fleet.models import MachineSort, Qualification
from fleet.roles import who_words
from inspections.models import Finding


class TakeOutForm(SubmissionForm):
    """Since when a unit is out of service, and why."""

    since = MomentField(label="Out of service since", initial=timezone.now)
    reason = forms.CharField(
        label="Why it is taken out",
        max_length=200,
        help_text="What was seen, and what it waits for. The board and every job show it.",
    )


class ReleaseToServiceForm(MeasuredForm):
    """When a unit is released to service, and why it may go out again."""

    at = MomentField(label="Released at", initial=timezone.now)
    reason = forms.CharField(
        label="Why it may go out again", max_length=200, help_text="What was done, and by whom."
    )
    qualified_person = forms.ModelChoiceField(
        User.objects.none(),
        label="Qualified person who found it fit",
        empty_label="choose",
        help_text="Whose qualification for releases holds today.",
        error_messages={
            "required": "Nobody is chosen: name the qualified person who found it fit.",
            "invalid_choice": "This person is not qualified for releases today: choose another, "
            "or record their qualification on their page.",
        },
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        valid = Qualification.objects.valid_on(timezone.localdate(), Qualification.Purpose.RELEASES)
        field = self.fields["qualified_person"]
        field.queryset = User.objects.filter(  # type: ignore[attr-defined]
            pk__in=valid.order_by().values("holder")
        ).order_by("last_name", "first_name", "username")
        field.label_from_instance = who_words  # type: ignore[attr-defined]

    @property
    def nobody_is_qualified(self) -> bool:
        """Whether there is nobody to choose."""
        return not self.fields["qualified_person"].queryset.exists()  # type: ignore[attr-defined]


class ClosingForm(SubmissionForm):
    """What was done about a finding."""

    closed_at = MomentField(label="Done at", initial=timezone.now)
    done = forms.CharField(
        label="What was done, and by whom",
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(self, *args: Any, finding: Finding, **kwargs: Any) -> None:
        self.finding = finding
        super().__init__(*args, **kwargs)

    def clean_closed_at(self) -> Any:
        closed_at = self.cleaned_data["closed_at"]
        if closed_at < self.finding.inspection.seen_at:
            found = moment_words(self.finding.inspection.seen_at)
            raise forms.ValidationError(
                f"This is before it was found, on {found}: give when it was done."
            )
        return closed_at


class MoveFindingForm(SubmissionForm):
    """Which machine a finding is of, and how it came to another."""

    machine = forms.ChoiceField(
        label="It is of", error_messages={"required": "Nothing is chosen: choose the machine."}
    )
    reason = forms.CharField(
        label="How the mistake came about",
        max_length=200,
        help_text="Such as “chosen in a hurry: the hose is of the power pack”.",
        error_messages={"required": "This is blank: say how the mistake came about."},
    )

    def __init__(self, *args: Any, machines: Mapping[MachineSort, Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["machine"].choices = [  # type: ignore[attr-defined]
            ("", "choose the machine"),
            *((sort.value, f"{sort} {machine}") for sort, machine in machines.items()),
        ]
