"""What an inspection says besides pads and travel: its list, its findings, its photos."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.contrib.auth.models import User

from fleet.models import OutOfService, SuppressorHousing
from fleet.outages import last_release, open_outage
from inspections.models import Finding, Inspection, ItemAnswer, Photo, Severity


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
    """Something found wrong."""

    number: int
    severity: str
    text: str
    item_key: str = ""
    act_by: date | None = None
    who_acts: str = ""


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


def record_observations(inspection: Inspection, observations: Observations, by: User) -> None:
    """Record it with its inspection; the gravest finding takes the unit out of service.

    The caller holds the lock on the housing and the transaction.
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
    findings = {
        found.number: _record_finding(inspection, found, by) for found in observations.findings
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


def _record_finding(inspection: Inspection, found: FoundFault, by: User) -> Finding:
    outage = None
    if found.severity == Severity.DO_NOT_USE:
        outage = _out_of_service(
            inspection.housing, inspection.seen_at, found.text, inspection.submission_id, by
        )
    return Finding.objects.create(
        inspection=inspection,
        number=found.number,
        housing=inspection.housing,
        item_key=found.item_key,
        severity=found.severity,
        text=found.text,
        act_by=found.act_by,
        who_acts=found.who_acts,
        out_of_service=outage,
    )


def _out_of_service(
    housing: SuppressorHousing, seen_at: datetime, reason: str, submission_id: uuid.UUID, by: User
) -> OutOfService:
    """Return the outage the unit is in, begun by this finding where it isn't in one.

    Sent late, it reaches back to when it was seen, but not past the last release: whoever
    released the unit then did not know of it, so it goes out again and needs a count since.
    """
    since = max(seen_at, last_release(housing) or seen_at)
    outage = open_outage(housing)
    if outage is not None:
        if since < outage.since:
            outage.since = since
            outage.save(update_fields=["since"])
        return outage
    return OutOfService.objects.create(
        housing=housing,
        since=since,
        reason=reason[:200],
        recorded_by=by,
        submission_id=submission_id,
    )
