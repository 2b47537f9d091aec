"""Rows of a form that can grow: one left blank counts for nothing, one can be taken out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.forms.formsets import DELETION_FIELD_NAME

from fleet.fields import MeasuredForm, whole_number

Rows = list[dict[str, Any]]
LOST = "The rows were lost on the way: open the page again."


class RowForm(MeasuredForm):
    """One row. Left blank it is none."""

    def has_changed(self) -> bool:
        """Whether anything stands in the row."""
        return any(
            str(self[name].data or "").strip()
            for name in self.fields
            if name != DELETION_FIELD_NAME
        )


class BaseRowFormSet(forms.BaseFormSet):  # type: ignore[type-arg]  # takes none at run time
    """Rows in their order."""

    default_error_messages = forms.BaseFormSet.default_error_messages | {
        "missing_management_form": LOST,
        "too_many_forms": "Give %(num)d at the most.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # A blank row to begin with, none after rows that hold something.
        self.extra = 0 if self.initial else 1

    def _construct_form(self, i: int, **kwargs: Any) -> Any:
        # A row that held something and was blanked is taken out, not asked for.
        return super()._construct_form(  # type: ignore[misc]
            i, **{"empty_permitted": True} | kwargs
        )

    def add_fields(self, form: Any, index: int | None) -> None:
        super().add_fields(form, index)
        if DELETION_FIELD_NAME in form.fields:
            form.fields[DELETION_FIELD_NAME].label = "Take out"

    def standing(self) -> list[tuple[int, Any]]:
        """Return the rows not to be taken out, each with its number; ask after is_valid()."""
        numbered = enumerate(self.forms, start=1)
        return [
            (number, row)
            for number, row in numbered
            if not row.cleaned_data.get(DELETION_FIELD_NAME)
        ]

    def filled(self) -> list[Any]:
        """Return the rows that hold something and stay; ask after is_valid()."""
        return [row for _, row in self.standing() if row.has_changed()]

    @property
    def is_troubled(self) -> bool:
        return bool(self.non_form_errors()) or any(row.errors for _, row in self.standing())


def typed_rows(data: Mapping[str, Any], form: type[RowForm], prefix: str, most: int) -> Rows:
    """Return the rows as typed and not yet judged, but for those to be taken out."""
    given = min(whole_number(str(data.get(f"{prefix}-TOTAL_FORMS", ""))) or 0, most)
    return [
        {name: data.get(f"{prefix}-{row}-{name}", "") for name in form.base_fields}
        for row in range(given)
        if not data.get(f"{prefix}-{row}-{DELETION_FIELD_NAME}")
    ]
