"""A kind's checklist and what was found, as a form that works without a script."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms

from fleet.fields import PlainText, field_of
from fleet.models import MachineSort
from inspections.count.findings import Answer, FoundFault, Observations, lacking_of_finding
from inspections.count.needs import ANSWERED_BY
from inspections.models import Finding, ItemAnswer, Severity
from inspections.schedule.checklists import ListItem, sort_of_part

# Where nobody chose: by the words of what was found.
BY_ITS_WORDS = ""


@dataclass(frozen=True)
class ItemFields:
    """An item of the checklist with its fields; none of one that the records answer.

    machine: which machine what was found is of, None where there is but one.
    """

    item: ListItem
    state: Any = None
    words: Any = None
    machine: Any = None


class ListForm(PlainText, forms.Form):
    """The items of a kind's list, and what was found wrong: how bad, who acts and by when.

    What the records answer by themselves, such as whether pads were counted, is not asked.
    """

    found = field_of(
        Finding,
        "text",
        required=False,
        label="Something else found wrong",
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    found_machine = forms.ChoiceField(
        label="At which machine",
        required=False,
        help_text="By its words where you do not say; the hammer where they tell of none.",
    )
    severity = forms.ChoiceField(
        label="How bad what was found is",
        choices=[("", "nothing was found"), *Severity.choices],
        required=False,
        help_text="Of all that was found. Do not use takes the machine out of service at once.",
    )
    who_acts = field_of(Finding, "who_acts", required=False, label="Who acts on it")
    act_by = forms.DateField(
        label="By when",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "This is not a day: give one such as 2026-03-14."},
    )

    def __init__(
        self,
        *args: Any,
        items: Sequence[ListItem],
        machines: Mapping[MachineSort, Any],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.items, self.machines = list(items), dict(machines)
        self.asked = [item for item in self.items if item.key not in ANSWERED_BY]
        # By sort alone: which machine it is, the time it was seen at decides, typed in this form.
        choices = [(sort.value, str(sort)) for sort in self.machines]
        self.fields["found_machine"].choices = [  # type: ignore[attr-defined]
            (BY_ITS_WORDS, "as its words tell"),
            *choices,
        ]
        if len(choices) < 2:
            del self.fields["found_machine"]
        for item in self.asked:
            self.fields[f"state-{item.key}"] = forms.ChoiceField(
                label=f"{item.part}: {item.text}",
                choices=[
                    ("", "choose"),
                    *(
                        each
                        for each in ItemAnswer.State.choices
                        if each[0] != ItemAnswer.State.NOT_SO
                    ),
                ],
                error_messages={"required": "This is blank: say what it was like."},
            )
            self.fields[f"words-{item.key}"] = field_of(
                ItemAnswer,
                "reason",
                required=False,
                label="Why it does not apply, or what was found",
                help_text="",
            )
            if len(choices) > 1:
                self.fields[f"machine-{item.key}"] = forms.ChoiceField(
                    label="At which machine, if a finding",
                    choices=choices,
                    required=False,
                    initial=self._likely(item.part, item.text),
                )

    def _likely(self, part: str, text: str) -> str:
        likely = sort_of_part(part, text)
        first = (likely, MachineSort.HAMMER, MachineSort.HOUSING)
        return next((sort.value for sort in first if sort in self.machines), "")

    @property
    def list_items(self) -> list[ItemFields]:
        """The items of the list with their fields, for the page."""
        return [self._fields_of(item) for item in self.items]

    def _fields_of(self, item: ListItem) -> ItemFields:
        if item.key in ANSWERED_BY:
            return ItemFields(item)
        machine = f"machine-{item.key}"
        return ItemFields(
            item,
            self[f"state-{item.key}"],
            self[f"words-{item.key}"],
            self[machine] if machine in self.fields else None,
        )

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        for item in self.asked:
            state, words = given.get(f"state-{item.key}"), given.get(f"words-{item.key}", "")
            if state == ItemAnswer.State.NOT_APPLICABLE and not words:
                self.add_error(f"words-{item.key}", "Say why this does not apply.")
            if state == ItemAnswer.State.FINDING and not words:
                self.add_error(f"words-{item.key}", "Say what was found.")
        has_found = bool(given.get("found")) or any(
            given.get(f"state-{item.key}") == ItemAnswer.State.FINDING for item in self.asked
        )
        severity = given.get("severity", "")
        if has_found and not severity:
            self.add_error("severity", "Something was found: say how bad it is.")
        if severity and not has_found:
            self.add_error("found", "This is blank: say what was found.")
        if severity:
            lacks = lacking_of_finding(
                severity, text="-", who_acts=given.get("who_acts", ""), act_by=given.get("act_by")
            )
            # What can't be read is refused for that already.
            for name in given.keys() & lacks.keys():
                self.add_error(name, lacks[name])
        return given

    def observations(self) -> Observations:
        """Return what was answered and found; the form must be valid."""
        given = self.cleaned_data
        answers: list[Answer] = []
        found: list[tuple[str, str, str]] = []
        for item in self.items:
            if item.key in ANSWERED_BY:
                # What was recorded answers it as it is signed.
                answers.append(Answer(item.key, item.part, item.text, ItemAnswer.State.NOT_SO))
                continue
            state, words = given[f"state-{item.key}"], given[f"words-{item.key}"]
            is_off = state == ItemAnswer.State.NOT_APPLICABLE
            answers.append(Answer(item.key, item.part, item.text, state, words if is_off else ""))
            if state == ItemAnswer.State.FINDING:
                found.append((item.key, words, given.get(f"machine-{item.key}", "")))
        if given["found"]:
            found.append(("", given["found"], given.get("found_machine", "")))
        only = next(iter(self.machines), "") if len(self.machines) == 1 else ""
        return Observations(
            answers,
            [
                FoundFault(
                    number,
                    given["severity"],
                    words,
                    item_key=key,
                    act_by=given["act_by"],
                    who_acts=given["who_acts"],
                    machine=machine or only,
                )
                for number, (key, words, machine) in enumerate(found, start=1)
            ],
        )
