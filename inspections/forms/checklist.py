from __future__ import annotations

import re
from typing import Any

from django import forms

from inspections.checklists.inforce import ListInForce, ListItem
from inspections.models import Checklist
from ratings.forms.submission import SubmissionForm

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
        said = [_part_and_words(number, text) for number, text in enumerate(texts, start=1)]
        for item in said:
            if said.count(item) > 1:
                raise forms.ValidationError(f"“{item[1][:60]}” is there twice: give it once.")
        return self._items(said)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        is_new = not self.errors and not self.is_on_record(Checklist)
        if is_new and tuple(cleaned["lines"]) == self.in_force.items:
            raise forms.ValidationError("Nothing differs from the list in force: change an item.")
        return cleaned

    def _items(self, said: list[tuple[str, str]]) -> list[ListItem]:
        """An item that was there keeps its key; a new one gets a key no other has."""
        known = {(item.part, item.text): item for item in self.in_force.items}
        taken = {item.key for item in self.in_force.items}
        items = []
        for part, words in said:
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
