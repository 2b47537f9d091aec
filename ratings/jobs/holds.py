"""What else holds the piles of a job: each hold in a row of the form."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any, ClassVar

from django import forms

from ratings.jobs.form_rows import BaseRowFormSet, RowForm, Rows
from ratings.jobs.recording import hold_of
from ratings.mechanics.extraction.holds import OtherHold
from ratings.models import JobHold
from ratings.models.choices import HOLD_KINDS

PREFIX = "hold"
MOST_HOLDS = 12


class HoldForm(RowForm, forms.ModelForm):  # type: ignore[type-arg]  # takes none at run time
    """One hold: a force of the whole or for each foot, and where it is from."""

    kind = forms.ChoiceField(
        label="What holds",
        choices=[("", "choose"), *HOLD_KINDS.items()],
        error_messages={"required": "This is blank: choose what holds the pile."},
    )

    class Meta:
        model = JobHold
        fields = ("kind", "force_lbf", "per_ft_lbf", "length_ft", "note")
        error_messages: ClassVar = {
            "note": {"required": "This is blank: say what it is and where its figure is from."}
        }

    field_order = Meta.fields

    def _post_clean(self) -> None:
        """Leave alone the record that a form of a model fills and checks."""

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("force_lbf") is not None and cleaned.get("per_ft_lbf") is not None:
            self.add_error(
                "per_ft_lbf", "There is a force of the whole too: leave one of the two blank."
            )
        elif (
            cleaned.get("length_ft") is not None
            and "per_ft_lbf" in cleaned
            and cleaned["per_ft_lbf"] is None
        ):
            self.add_error(
                "length_ft", "This goes with a force per length: give that, or leave this blank."
            )
        return cleaned

    def hold(self) -> OtherHold:
        """Return the hold as the mechanics take it; the row must be without errors."""
        return hold_of(JobHold(**{name: self.cleaned_data[name] for name in self.Meta.fields}))


class BaseHoldFormSet(BaseRowFormSet):
    """The holds; most jobs have none."""

    def holds(self) -> tuple[OtherHold, ...]:
        """Return the holds as the mechanics take them; every row must be without errors."""
        return tuple(row.hold() for row in self.filled())


HoldFormSet = forms.formset_factory(
    HoldForm,
    formset=BaseHoldFormSet,
    max_num=MOST_HOLDS,
    absolute_max=MOST_HOLDS + 1,
    validate_max=True,
    can_delete=True,
)


def hold_rows(holds: Collection[JobHold]) -> Rows:
    """Return holds on record as the rows of the form."""
    return [{name: getattr(hold, name) for name in HoldForm.Meta.fields} for hold in holds]
