"""What an inspection says besides pads and travel: its list, its findings, its photos."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

from django.contrib.auth.models import User

from fleet.models import MachineSort, OutageReach, OutOfService
from fleet.models.machine import column_of, sort_of
from fleet.outages import last_release, lock_machine, open_outage
from inspections.models import Finding, Inspection, ItemAnswer, Photo, Severity
from inspections.schedule.checklists import sort_of_part

if TYPE_CHECKING:
    from fleet.models.any_machine import AnyMachine


@dataclass(frozen=True)
class Answer:
    """What was said of one item of a checklist."""

    key: str
    part: str
    text: str
    state: str
    reason: str = ""


@dataclass(frozen=True)
class FoundFault:
    """Something found wrong.

    machine: the sort of machine it is of; by its item's part, or by its words, unless it is given.
    """

    number: int
    severity: str
    text: str
    item_key: str = ""
    act_by: date | None = None
    who_acts: str = ""
    machine: str = ""


@dataclass(frozen=True)
class PhotoTaken:
    """A photo, named before its file has come."""

    id: uuid.UUID
    caption: str = ""
    finding: int | None = None


@dataclass(frozen=True)
class Observations:
    """All of it."""

    answers: Sequence[Answer] = ()
    findings: Sequence[FoundFault] = ()
    photos: Sequence[PhotoTaken] = ()


def lacking_of_finding(
    severity: str, *, text: str, who_acts: str, act_by: date | None
) -> dict[str, str]:
    """Return what a finding can't be recorded without, by field, and what would do.

    One graver than to monitor says who must act, and by when.
    """
    lacks = {}
    if severity not in Severity.values:
        lacks["severity"] = f"Say how grave it is: {', '.join(map(str, Severity.labels))}."
    if not text.strip():
        lacks["text"] = "Say what was found."
    if severity == Severity.MONITOR:
        return lacks
    if not who_acts.strip():
        lacks["who_acts"] = "Say who must act."
    if act_by is None:
        lacks["act_by"] = "Say by when it must be acted on."
    return lacks


def record_observations(inspection: Inspection, observations: Observations, by: User) -> None:
    """Record it with its inspection; the gravest finding takes its machine out of service.

    The caller holds the lock on what was inspected and the transaction.
    """
    ItemAnswer.objects.bulk_create(
        ItemAnswer(
            inspection=inspection,
            place=place,
            key=answer.key,
            part=answer.part,
            text=answer.text,
            state=answer.state,
            reason=answer.reason,
        )
        for place, answer in enumerate(observations.answers)
    )
    parts = {answer.key: answer.part for answer in observations.answers}
    findings = {
        found.number: _record_finding(inspection, found, parts.get(found.item_key, ""), by)
        for found in observations.findings
    }
    Photo.objects.bulk_create(
        Photo(
            id=photo.id,
            inspection=inspection,
            finding=findings.get(photo.finding) if photo.finding else None,
            caption=photo.caption,
        )
        for photo in observations.photos
    )


def machine_of_finding(inspection: Inspection, found: FoundFault, part: str) -> AnyMachine:
    """Return the machine a finding is of, among those that were looked at.

    Where the sort it is of was not there, its hammer, or else what was inspected.
    """
    sort = MachineSort(found.machine) if found.machine else sort_of_part(part, found.text)
    machines = inspection.machines
    return machines.get(sort) or machines.get(MachineSort.HAMMER) or inspection.inspected


def _record_finding(inspection: Inspection, found: FoundFault, part: str, by: User) -> Finding:
    machine, outage = machine_of_finding(inspection, found, part), None
    if found.severity == Severity.DO_NOT_USE:
        outage = out_of_service_for(
            machine, inspection.seen_at, found.text, inspection.submission_id, by
        )
    return Finding.objects.create(
        inspection=inspection,
        number=found.number,
        **column_of(machine),
        item_key=found.item_key,
        severity=found.severity,
        text=found.text,
        act_by=found.act_by,
        who_acts=found.who_acts,
        out_of_service=outage,
    )


def out_of_service_for(
    machine: AnyMachine, seen_at: datetime, reason: str, submission_id: uuid.UUID, by: User
) -> OutOfService:
    """Return the outage the machine is in, begun by this finding where it isn't in one.

    submission_id: of what takes it out. Sent late, it reaches back to when it was seen, on record
    with when that became known, but not past the last release: whoever released it then did not
    know of it, so it goes out again and needs an inspection since.
    """
    machine = lock_machine(machine)
    since = max(seen_at, last_release(machine) or seen_at)
    outage = open_outage(machine)
    if outage is not None:
        if since < outage.since:
            OutageReach.objects.create(
                submission_id=uuid.uuid5(submission_id, f"reach of {sort_of(machine).column}"),
                outage=outage,
                before=outage.since,
                since=since,
                because=reason[:200],
                recorded_by=by,
            )
            outage.since = since
            outage.save(update_fields=["since"])
        return outage
    return OutOfService.objects.create(
        **column_of(machine),
        since=since,
        reason=reason[:200],
        recorded_by=by,
        # Each machine that one inspection takes out of service has a time out of its own.
        submission_id=uuid.uuid5(submission_id, sort_of(machine).column),
    )
