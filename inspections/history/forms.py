"""The form that asks for a history: of what, and over which days."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from fleet.dates import day_words
from fleet.fields import PastDayField, PlainText
from fleet.models import MachineSort, Yard
from fleet.units import MODELS
from inspections.history.span import Span
from inspections.history.subjects import FLEET, YARD, Subject, subject_of

_GROUPS = {
    MachineSort.HOUSING: "units, by their housing",
    MachineSort.HAMMER: "hammers",
    MachineSort.CLAMP: "clamps",
    MachineSort.POWER_PACK: "power packs",
}


class HistoryForm(PlainText, forms.Form):
    """Of what, from which day to which; a day that is left blank leaves that side open."""

    of = forms.ChoiceField(
        label="History of",
        error_messages={
            "required": "This is blank: choose a unit, a machine, a yard or the fleet.",
            "invalid_choice": "This names nothing on record: choose from the list.",
        },
    )
    first = PastDayField(
        label="From", required=False, help_text="Blank for all from the first record on."
    )
    last = PastDayField(label="To", required=False, help_text="Blank for all up to today.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["of"].choices = _choices()  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        first, last = cleaned.get("first"), cleaned.get("last")
        if first and last and last < first:
            self.add_error(
                "last", f"This is before the first day, {day_words(first)}: give it later."
            )
        elif not self.errors and (first or last) and self.is_empty():
            self.add_error(
                "last" if last else "first",
                f"Nothing is on record of {self.subject.words} {self.span.words}: leave both days "
                "blank to see what there is.",
            )
        return cleaned

    @property
    def subject(self) -> Subject:
        found = subject_of(self.cleaned_data["of"])
        # Of the choices: it was there a moment ago, and nothing is ever removed.
        assert found is not None
        return found

    @property
    def span(self) -> Span:
        return Span(
            self.cleaned_data.get("first"), self.cleaned_data.get("last"), timezone.localdate()
        )

    def is_empty(self) -> bool:
        """Whether nothing of what is asked for is on record."""
        return all(chapter.is_empty for chapter in self.subject.chapters(self.span, "us"))


def _choices() -> list[tuple[str, Any]]:
    found: list[tuple[str, Any]] = [(FLEET, "the whole fleet")]
    yards = [(f"{YARD}-{key}", name) for key, name in Yard.objects.values_list("pk", "name")]
    if yards:
        found.append(("yards", yards))
    for sort, words in _GROUPS.items():
        marks = MODELS[sort].objects.order_by("mark").values_list("pk", "mark")
        machines = [(f"{sort.slug}-{key}", mark) for key, mark in marks]
        if machines:
            found.append((words, machines))
    return found
