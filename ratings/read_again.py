"""Figures that can hardly be: recorded by whoever says that they read them again, and why."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from fleet.characters import without_hidden
from fleet.fields import words_by_field

TICK, REASON = "is_read_again", "read_again_reason"
LONGEST_REASON = 200
# In the note of what was recorded all the same, so that register and papers carry it along.
KEPT_AS = "Not plausible, read again and right: "


class NotReadAgain(ValidationError):
    """A figure that can hardly be, of which nobody says that it is right and why. doubt: of it."""

    def __init__(self, doubt: ValidationError, *, lacks_tick: bool, lacks_reason: bool) -> None:
        self.doubt = doubt
        troubles: dict[str, Any] = {}
        if lacks_tick:
            troubles[TICK] = doubt
        if lacks_reason:
            troubles[REASON] = "This is blank: say why it is right all the same."
        super().__init__(troubles)


def note_read_again(
    doubt: ValidationError | None, note: str, *, is_read_again: bool, reason: str
) -> str:
    """Return the note to keep: with the reason where a figure is doubted.

    Raises NotReadAgain where it is, and nobody says that they read it again, or why it is right.
    """
    reason = without_hidden(reason).strip()
    # It came with a register of ours: its reason stands in its note.
    if doubt is None or KEPT_AS in note:
        return note
    if not is_read_again or not reason:
        raise NotReadAgain(doubt, lacks_tick=not is_read_again, lacks_reason=not reason)
    return "\n".join(part for part in (note.strip(), f"{KEPT_AS}{reason}") if part)


class ReadAgainForm(forms.Form):
    """Asks for a tick and a reason once a figure is doubted, and for neither before."""

    is_read_again = forms.BooleanField(
        label="I read it again, and it is right though it can hardly be", required=False
    )
    read_again_reason = forms.CharField(
        label="Why it is right all the same", max_length=LONGEST_REASON, required=False
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._asked_late = {name: self.fields.pop(name) for name in (TICK, REASON)}
        # Asked for only where there is something to say it of, so its label must not say optional.
        self._asked_late[REASON].is_asked_for = True  # type: ignore[attr-defined]
        if REASON in self.data:
            self.fields |= self._asked_late

    @property
    def read_again(self) -> dict[str, Any]:
        """What was said of a doubted figure, as recording functions take it."""
        given = self.cleaned_data
        return {TICK: bool(given.get(TICK)), REASON: given.get(REASON) or ""}

    def refuse(self, refusal: ValidationError, system: str) -> None:
        """Show what was refused: a doubt at its tick, the rest at its field or above the form."""
        if isinstance(refusal, NotReadAgain):
            self.fields |= self._asked_late
        for name, words in words_by_field(refusal, system).items():
            for each in words:
                self.add_error(name if name in self.fields else None, each)
