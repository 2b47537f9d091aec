"""Forms of commitments: commit, what is to be done until then, confirm, release."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from fleet.fields import PlainText, SubmissionForm
from ratings.jobs.ahead import Plan, first_choice
from ratings.jobs.commitments import LONGEST_NAME, CareNotKnown, plan_trouble
from ratings.models import ConditionKind, LoadIndicator

# Rows of what no record can show.
OTHER_ROWS = 2


class WatchedForm(SubmissionForm):
    """Asks who watches the pull, by name; where it takes care, commit_unit wants one."""

    watched_by = forms.CharField(
        label="Who watches the pull, by name",
        max_length=LONGEST_NAME,
        required=False,
        help_text="Of stretch and load, and nothing else. It prints on the sheet.",
    )


class CommitForm(WatchedForm):
    """Commit a unit to a job; one that takes care only by somebody who says that they know.

    cares: what they must know of, as the answer shown has it. Whether it takes care when it is
    sent, commit_unit says.
    """

    with_care = forms.BooleanField(required=False)

    def __init__(self, *args: Any, cares: Sequence[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._with_care = self.fields.pop("with_care")
        if cares:
            self._ask(cares)

    @property
    def is_care_known(self) -> bool:
        """Whether somebody said that they know; the form must be valid."""
        return bool(self.cleaned_data.get("with_care"))

    def refuse(self, refusal: ValidationError) -> None:
        """Show why the unit could not be committed; care that nobody knows of at its tick."""
        if isinstance(refusal, CareNotKnown):
            self._ask(refusal.cares)
            self.add_error("with_care", refusal)
        else:
            self.add_error(None, refusal)

    def _ask(self, cares: Sequence[str]) -> None:
        self._with_care.label = f"I know that {' and that '.join(cares)}, and who watches the pull"
        self.fields["with_care"] = self._with_care


class ReleaseForm(PlainText, forms.Form):
    """Why a unit is released from a job."""

    reason = forms.CharField(label="Why it is released", max_length=200)


class ConfirmForm(WatchedForm):
    """Confirm a commitment on an answer of now."""

    with_care = forms.BooleanField(
        label="Should it be suitable with care only, or its days on the way run into something: "
        "I know that, and who watches the pull",
        required=False,
    )


class MeetForm(SubmissionForm):
    """How it is known that something is done which no record can show."""

    note = forms.CharField(label="How it is known to be done", max_length=200)


class DayField(forms.DateField):
    """A day, picked from a calendar."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            required=False,
            error_messages={"invalid": "This is no day: give one such as 2026-12-03."},
            **kwargs,
        )


class PlanForm(CommitForm):
    """Commit a unit ahead of time: what is to be done, each on which days.

    A row without a tick is left out. offered: what would make the unit go, as the answer finds.
    Who watches may not be known so early: it is asked again as it is confirmed.
    """

    def __init__(
        self,
        *args: Any,
        offered: Sequence[Plan],
        first_day: date,
        last_day: date,
        **kwargs: Any,
    ) -> None:
        # It stands on one page with the form that commits at once.
        super().__init__(*args, **{"auto_id": "ahead_%s"} | kwargs)
        self.offered, self.first_day, self.last_day = tuple(offered), first_day, last_day
        # Of several ways to fit pads the first is the best; the others are there to choose.
        chosen = first_choice(self.offered)
        for number, plan in enumerate(self.offered):
            self.fields[f"do_{number}"] = forms.BooleanField(
                label=plan.said[0].upper() + plan.said[1:],
                required=False,
                initial=plan in chosen,
            )
            self._add_days(str(number), plan.from_day, plan.to_day)
        for number in range(OTHER_ROWS):
            key = f"other_{number}"
            self.fields[key] = forms.CharField(
                label="Something else to be done", max_length=200, required=False
            )
            self._add_days(key, None, None)
        if not any(plan.indicator for plan in self.offered):
            self.fields["indicator"] = forms.ModelChoiceField(
                LoadIndicator.objects.all(),
                label="Load indicator in calibration to the last day",
                required=False,
                empty_label="none asked for",
            )

    def _add_days(self, key: str, from_day: date | None, to_day: date | None) -> None:
        self.fields[f"from_{key}"] = DayField(label="From", initial=from_day)
        self.fields[f"to_{key}"] = DayField(label="To", initial=to_day)

    @property
    def rows(self) -> list[dict[str, Any]]:
        """The fields of each thing to be done, for the page."""
        keys = [(f"do_{number}", str(number)) for number in range(len(self.offered))]
        keys += [(f"other_{number}", f"other_{number}") for number in range(OTHER_ROWS)]
        return [
            {
                "what": self[what],
                "is_tick": what.startswith("do_"),
                "from_day": self[f"from_{key}"],
                "to_day": self[f"to_{key}"],
            }
            for what, key in keys
        ]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        self.plans = []
        today = timezone.localdate()
        for key, what, plan in self._asked(cleaned):
            from_day, to_day = cleaned.get(f"from_{key}"), cleaned.get(f"to_{key}")
            for name, day in ((f"from_{key}", from_day), (f"to_{key}", to_day)):
                if day is None and name not in self.errors:
                    self.add_error(name, "Give the day: this is ticked or written.")
            if from_day is None or to_day is None:
                continue
            dated = Plan(
                plan.kind, from_day, to_day, plan.lot, plan.positions, plan.indicator, plan.words
            )
            trouble = plan_trouble(dated, self.first_day, self.last_day, today)
            if trouble:
                self.add_error(what, trouble[0].upper() + trouble[1:])
            self.plans.append(dated)
        self._refuse_two_refits()
        indicator = cleaned.get("indicator")
        if indicator is not None:
            to_day = max(self.first_day, today)
            self.plans.append(Plan(ConditionKind.CALIBRATION, today, to_day, indicator=indicator))
        if not self.plans and not self.errors:
            raise forms.ValidationError(
                "Nothing is to be done: tick what will be, or choose a unit that may go as it is."
            )
        return cleaned

    def _asked(self, cleaned: dict[str, Any]) -> Iterator[tuple[str, str, Plan]]:
        for number, plan in enumerate(self.offered):
            if cleaned.get(f"do_{number}"):
                yield str(number), f"do_{number}", plan
        today = timezone.localdate()
        for number in range(OTHER_ROWS):
            words = (cleaned.get(f"other_{number}") or "").strip()
            if words:
                key = f"other_{number}"
                yield key, key, Plan(ConditionKind.OTHER, today, today, words=words)

    def _refuse_two_refits(self) -> None:
        refits = [each for each in self.plans if each.kind is ConditionKind.PADS]
        if len(refits) > 1:
            raise forms.ValidationError("Two ways to fit pads are ticked: choose one of them.")
