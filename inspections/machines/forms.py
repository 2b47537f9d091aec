"""The forms of a machine: hours by themselves, an inspection of it alone, a file to be kept."""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Sequence
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from fleet.fields import FactForm, MomentField, SubmissionForm, field_of
from fleet.hours import stand_near
from fleet.models import HourReading, MachineSort
from fleet.models.machine import sort_of
from inspections.count.list_form import ListForm
from inspections.count.signing import Seen
from inspections.models import (
    DocumentKind,
    DocumentWithdrawal,
    Inspection,
    MachineDocument,
)
from inspections.schedule.checklists import ListItem
from ratings.jobs.attachments import KeptFileForm, kind_field

METERED = (MachineSort.HAMMER, MachineSort.POWER_PACK)


class HoursForm(SubmissionForm):
    """What one hour meter shows."""

    hours = field_of(HourReading, "hours", label="Hour meter shows")
    read_at = MomentField(label="Read at", initial=timezone.now)

    def __init__(self, *args: Any, machine: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        stand_near(self.fields["hours"], machine)


class MetersForm(SubmissionForm):
    """What the hour meters of a yard show, each where somebody read it."""

    read_at = MomentField(label="Read at", initial=timezone.now)

    def __init__(self, *args: Any, machines: Sequence[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.machines = {meter_name(machine): machine for machine in machines}
        for name, machine in self.machines.items():
            label = f"{sort_of(machine)} {machine}"
            self.fields[name] = field_of(HourReading, "hours", required=False, label=label)
            stand_near(self.fields[name], machine)

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


class MachineInspectionForm(ListForm, SubmissionForm):
    """An inspection of one machine by itself: its list, its meter, what was found."""

    seen_at = MomentField(label="Seen at", initial=timezone.now)
    weather = field_of(Inspection, "weather")
    note = field_of(Inspection, "note", widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(
        self,
        *args: Any,
        sort: MachineSort,
        machine: Any,
        items: Sequence[ListItem],
        is_correction: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, items=items, machines={sort: machine}, **kwargs)
        self.sort = sort
        if sort in METERED:
            self.fields["hours"] = field_of(
                HourReading, "hours", required=False, label="Hour meter shows"
            )
            stand_near(self.fields["hours"], machine)
        if is_correction:
            self.fields["correction_reason"] = field_of(
                Inspection, "correction_reason", required=True, label="Why it is corrected"
            )

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
            observations=self.observations(),
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
