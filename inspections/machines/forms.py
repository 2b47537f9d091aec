"""The forms of a machine: hours by themselves, an inspection of it alone, a file to be kept."""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from fleet.fields import FactForm, MomentField, SubmissionForm, field_of
from fleet.models import HourReading, MachineSort
from fleet.models.machine import sort_of
from inspections.count.findings import Answer, FoundFault, Observations
from inspections.count.signing import Seen
from inspections.models import (
    DocumentKind,
    DocumentWithdrawal,
    Finding,
    Inspection,
    ItemAnswer,
    MachineDocument,
    Severity,
)
from inspections.schedule.checklists import ListItem
from ratings.jobs.attachments import KeptFileForm, kind_field

METERED = (MachineSort.HAMMER, MachineSort.POWER_PACK)


class HoursForm(SubmissionForm):
    """What one hour meter shows."""

    hours = field_of(HourReading, "hours", label="Hour meter shows")
    read_at = MomentField(label="Read at", initial=timezone.now)


class MetersForm(SubmissionForm):
    """What the hour meters of a yard show, each where somebody read it."""

    read_at = MomentField(label="Read at", initial=timezone.now)

    def __init__(self, *args: Any, machines: Sequence[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.machines = {meter_name(machine): machine for machine in machines}
        for name, machine in self.machines.items():
            label = f"{sort_of(machine)} {machine}"
            self.fields[name] = field_of(HourReading, "hours", required=False, label=label)

    @property
    def meters(self) -> Iterator[tuple[Any, Any]]:
        """Each machine with its field."""
        for name, machine in self.machines.items():
            yield machine, self[name]

    @property
    def read(self) -> dict[str, float]:
        """What was read, by the name of its field; the form must be valid."""
        given = {name: self.cleaned_data.get(name) for name in self.machines}
        return {name: hours for name, hours in given.items() if hours is not None}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if not self.errors and not self.read:
            raise ValidationError("No meter was read: give what one of them shows.")
        return cleaned

    def id_of(self, name: str) -> uuid.UUID:
        """Return the id of one reading: the same each time this form is sent."""
        form_id: uuid.UUID = self.cleaned_data["submission_id"]
        return uuid.uuid5(form_id, name)


def meter_name(machine: Any) -> str:
    """Return the name of the field of a machine's meter."""
    return f"{sort_of(machine).column}_{machine.pk}"


@dataclass(frozen=True)
class ItemFields:
    """An item of the checklist with its two fields."""

    item: ListItem
    state: Any
    words: Any


class MachineInspectionForm(SubmissionForm):
    """An inspection of one machine by itself: its list, its meter, what was found."""

    seen_at = MomentField(label="Seen at", initial=timezone.now)
    weather = field_of(Inspection, "weather")
    note = field_of(Inspection, "note", widget=forms.Textarea(attrs={"rows": 3}))
    found = field_of(
        Finding,
        "text",
        required=False,
        label="Something else found wrong",
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    severity = forms.ChoiceField(
        label="How bad what was found is",
        choices=[("", "nothing was found"), *Severity.choices],
        required=False,
        help_text="Do not use takes it out of service at once.",
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
        sort: MachineSort,
        items: Sequence[ListItem],
        is_correction: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.sort, self.items = sort, list(items)
        if sort in METERED:
            self.fields["hours"] = field_of(
                HourReading, "hours", required=False, label="Hour meter shows"
            )
        if is_correction:
            self.fields["correction_reason"] = field_of(
                Inspection, "correction_reason", required=True, label="Why it is corrected"
            )
        for item in self.items:
            self.fields[f"state-{item.key}"] = forms.ChoiceField(
                label=f"{item.part}: {item.text}",
                choices=[("", "choose"), *ItemAnswer.State.choices],
                error_messages={"required": "This is blank: say what it was like."},
            )
            self.fields[f"words-{item.key}"] = field_of(
                ItemAnswer,
                "reason",
                required=False,
                label="Why it does not apply, or what was found",
                help_text="",
            )

    @property
    def list_items(self) -> list[ItemFields]:
        """The items of the list with their fields, for the page."""
        return [
            ItemFields(item, self[f"state-{item.key}"], self[f"words-{item.key}"])
            for item in self.items
        ]

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        for item in self.items:
            state, words = given.get(f"state-{item.key}"), given.get(f"words-{item.key}", "")
            if state == ItemAnswer.State.NOT_APPLICABLE and not words:
                self.add_error(f"words-{item.key}", "Say why this does not apply.")
            if state == ItemAnswer.State.FINDING and not words:
                self.add_error(f"words-{item.key}", "Say what was found.")
        has_found = bool(given.get("found")) or any(
            given.get(f"state-{item.key}") == ItemAnswer.State.FINDING for item in self.items
        )
        severity = given.get("severity", "")
        if has_found and not severity:
            self.add_error("severity", "Something was found: say how bad it is.")
        if severity and not has_found:
            self.add_error("found", "This is blank: say what was found.")
        if severity in (Severity.REPAIR, Severity.DO_NOT_USE):
            if not given.get("who_acts", "-"):
                self.add_error("who_acts", "Say who must act.")
            if given.get("act_by", "-") is None:
                self.add_error("act_by", "Say by when it must be acted on.")
        return given

    def seen(self, kind: str) -> Seen:
        """Return what was seen; the form must be valid."""
        given = self.cleaned_data
        hours = given.get("hours")
        is_pack = self.sort is MachineSort.POWER_PACK
        return Seen(
            seen_at=given["seen_at"],
            pads=(),
            hours=None if is_pack else hours,
            pack_hours=hours if is_pack else None,
            note=given["note"],
            weather=given["weather"],
            kind=kind,
            observations=self._observations(),
        )

    def _observations(self) -> Observations:
        given = self.cleaned_data
        answers, found = [], []
        for item in self.items:
            state, words = given[f"state-{item.key}"], given[f"words-{item.key}"]
            is_off = state == ItemAnswer.State.NOT_APPLICABLE
            answers.append(Answer(item.key, item.part, item.text, state, words if is_off else ""))
            if state == ItemAnswer.State.FINDING:
                found.append((item.key, words))
        found += [("", given["found"])] if given["found"] else []
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
                    machine=self.sort,
                )
                for number, (key, words) in enumerate(found, start=1)
            ],
        )


class DocumentForm(KeptFileForm):
    """A file to be kept of a machine."""

    kind = kind_field(DocumentKind)

    class Meta:
        model = MachineDocument
        fields = ("kind", "title")
        error_messages: ClassVar = {"title": {"required": "This is blank: say what it is."}}


class DocumentWithdrawalForm(FactForm):
    """Why a file of a machine counts no more."""

    class Meta:
        model = DocumentWithdrawal
        fields = ("reason",)
