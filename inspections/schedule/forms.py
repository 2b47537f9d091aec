from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from fleet.fields import FactForm, NumberField, SubmissionForm
from fleet.models import MachineSort
from inspections.models import Checklist, InspectionKind, KindSorts, OwnKind, ServiceSchedule
from inspections.models.kind import LONGEST_NAME
from inspections.schedule.checklists import ListInForce, ListItem
from inspections.schedule.intervals import Row
from inspections.schedule.kinds import NEED_OR_SIGNER_WORDS, Kind, new_name

ENDS = ("days", "hours", "in_use", "by_whom", "basis", "keep")


@dataclass(frozen=True)
class Group:
    """The fields of one kind, and how it stands in words."""

    name: str
    words: str
    fields: list[Any]

    @property
    def has_errors(self) -> bool:
        return any(field.errors for field in self.fields)


class ScheduleForm(SubmissionForm):
    """How often each kind is due; a kind with neither days nor hours is not scheduled."""

    reason = forms.CharField(label="Why it changes", max_length=200)

    def __init__(
        self, *args: Any, kinds: Sequence[Kind], in_force: tuple[Row, ...], **kwargs: Any
    ) -> None:
        self.kinds = kinds
        self.in_force = {row.kind: row for row in in_force}
        super().__init__(*args, **kwargs)
        for kind in kinds:
            self._add(kind, self.in_force.get(kind.name))

    def _add(self, kind: Kind, row: Row | None) -> None:
        self.fields[f"{kind.key}_days"] = NumberField(
            label=f"{_capital(kind.name)}: days between",
            least=1,
            most=3650,
            whole=True,
            required=False,
            example="31",
            initial="" if row is None or row.days is None else str(row.days),
        )
        self.fields[f"{kind.key}_hours"] = NumberField(
            label="or running hours between",
            least=1,
            most=100_000,
            required=False,
            example="250",
            initial="" if row is None or row.hours is None else f"{row.hours:g}",
        )
        self.fields[f"{kind.key}_in_use"] = forms.BooleanField(
            label="only on days a job holds the unit",
            required=False,
            initial=row.in_use_only if row else kind.name == InspectionKind.SHIFT,
        )
        self.fields[f"{kind.key}_by_whom"] = forms.CharField(
            label="by whom", max_length=80, required=False, initial=row.by_whom if row else ""
        )
        self.fields[f"{kind.key}_basis"] = forms.CharField(
            label="what it follows",
            max_length=200,
            required=False,
            initial=row.basis if row else "",
        )
        self.fields[f"{kind.key}_keep"] = NumberField(
            label="months its records must be kept",
            least=1,
            most=1200,
            whole=True,
            required=False,
            example="12",
            initial="" if row is None or row.keep_months is None else str(row.keep_months),
        )

    @property
    def groups(self) -> list[Group]:
        """The kinds, for the page."""
        return [
            Group(
                kind.name,
                row.interval_words if (row := self.in_force.get(kind.name)) else "not scheduled",
                [self[f"{kind.key}_{end}"] for end in ENDS],
            )
            for kind in self.kinds
        ]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if self.errors:
            return cleaned
        if not self.rows:
            raise forms.ValidationError("Nothing would be scheduled: give days or hours of a kind.")
        before = [self.in_force[kind.name] for kind in self.kinds if kind.name in self.in_force]
        if list(self.rows) == before and not self.is_on_record(ServiceSchedule):
            raise forms.ValidationError("Nothing differs from the schedule in force.")
        return cleaned

    @property
    def rows(self) -> tuple[Row, ...]:
        """The schedule entered."""
        read = (self._row(kind) for kind in self.kinds)
        return tuple(row for row in read if row is not None)

    def _row(self, kind: Kind) -> Row | None:
        given = {end: self.cleaned_data.get(f"{kind.key}_{end}") for end in ENDS}
        if given["days"] is None and given["hours"] is None:
            return None
        return Row(
            kind=kind.name,
            days=given["days"],
            hours=given["hours"],
            by_whom=given["by_whom"] or "",
            basis=given["basis"] or "",
            keep_months=given["keep"],
            in_use_only=bool(given["in_use"]),
        )


def _capital(name: str) -> str:
    return name[:1].upper() + name[1:]


MOST_ITEMS = 120
MOST_PART, MOST_TEXT = 40, 200


class ChecklistForm(SubmissionForm):
    """A list as lines of text, one item each: the part, a colon, what to see."""

    lines = forms.CharField(
        label="Items, one on each line",
        widget=forms.Textarea(attrs={"rows": 16}),
        required=False,
        max_length=40_000,
        help_text="Each line: the part it belongs to, a colon, what to look at. "
        "Such as “Clamp: jaws clean and whole”.",
    )
    reason = forms.CharField(label="Why it changes", max_length=200)

    def __init__(self, *args: Any, in_force: ListInForce, **kwargs: Any) -> None:
        self.in_force = in_force
        lines = "\n".join(f"{item.part}: {item.text}" for item in in_force.items)
        super().__init__(*args, initial={"lines": lines}, **kwargs)

    def clean_lines(self) -> list[ListItem]:
        texts = [line.strip() for line in self.cleaned_data["lines"].splitlines()]
        texts = [text for text in texts if text]
        if len(texts) > MOST_ITEMS:
            raise forms.ValidationError(
                f"This has {len(texts)} items: {MOST_ITEMS} at the most, or nobody goes through it."
            )
        items = [_part_and_words(number, text) for number, text in enumerate(texts, start=1)]
        for item in items:
            if items.count(item) > 1:
                raise forms.ValidationError(f"“{item[1][:60]}” is there twice: give it once.")
        return self._items(items)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        is_new = not self.errors and not self.is_on_record(Checklist)
        if is_new and tuple(cleaned["lines"]) == self.in_force.items:
            raise forms.ValidationError("Nothing differs from the list in force: change an item.")
        return cleaned

    def _items(self, given: list[tuple[str, str]]) -> list[ListItem]:
        """An item that was there keeps its key; a new one gets a key no other has."""
        known = {(item.part, item.text): item for item in self.in_force.items}
        taken = {item.key for item in self.in_force.items}
        items = []
        for part, words in given:
            item = known.get((part, words)) or ListItem(_key(part, words, taken), part, words)
            taken.add(item.key)
            items.append(item)
        return items


def _part_and_words(number: int, text: str) -> tuple[str, str]:
    part, colon, words = (piece.strip() for piece in text.partition(":"))
    if not colon or not part or not words:
        raise forms.ValidationError(
            f"Line {number}, “{text[:40]}”: give the part, a colon, and what to look at."
        )
    if len(part) > MOST_PART or len(words) > MOST_TEXT:
        raise forms.ValidationError(
            f"Line {number} is too long: {MOST_PART} characters for the part and {MOST_TEXT} "
            "for what to look at."
        )
    return part, words


def _key(part: str, text: str, taken: set[str]) -> str:
    """A name made of the first words, numbered where another item has it."""
    words = re.sub(r"[^a-z0-9]+", "-", f"{part} {text}".lower()).strip("-")[:36] or "item"
    numbered = (f"{words}-{number}" for number in range(2, MOST_ITEMS + 2))
    return next(key for key in (words, *numbered) if key not in taken)


def _looks_at_field() -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(
        label="What it looks at",
        choices=MachineSort.choices,
        widget=forms.CheckboxSelectMultiple,
        help_text="It counts for these, and stays with them whatever they hang on: an oil change "
        "for the hammer, a bond test of pads for the housing.",
        error_messages={"required": "This is blank: say what is looked at."},
    )


def _needs_field() -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(
        label="What it needs",
        choices=list(NEED_OR_SIGNER_WORDS.items()),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="An inspection without what it must hold is kept on record and counts for "
        "nothing as one of this kind; one signed by nobody qualified is refused.",
    )


class KindSortsForm(FactForm):
    """What a kind of the yard's own looks at and needs from now on, and why it is changed."""

    looks_at = _looks_at_field()
    needs = _needs_field()

    class Meta:
        model = KindSorts
        fields = ("reason",)

    field_order = ("looks_at", "needs", "reason")


class KindForm(SubmissionForm):
    """A kind of inspection the yard adds to the common ones."""

    name = forms.CharField(
        label="Its name",
        max_length=LONGEST_NAME,
        help_text="Short, as it is said in the yard, such as “oil change”.",
    )
    looks_at = _looks_at_field()
    needs = _needs_field()

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if "name" in cleaned and not self.is_on_record(OwnKind):
            try:
                cleaned["name"] = new_name(cleaned["name"])
            except ValidationError as refusal:
                self.add_error("name", refusal)
        return cleaned
