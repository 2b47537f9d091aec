"""Release a machine to service, and close what was found wrong with it."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Count, Max, QuerySet
from django.utils import timezone

from fleet import clock
from fleet.characters import without_hidden
from fleet.dates import moment_words
from fleet.models import MachineSort, OutOfService, Qualification, SuppressorHousing
from fleet.models.machine import column_of
from fleet.outages import capital, lock_machine, named, open_outage
from fleet.people.qualifications import qualification_of
from fleet.people.yards import in_yard_of, lock_and_look_again
from fleet.roles import who_words
from inspections.count.findings import out_of_service_for
from inspections.models import Finding, FindingClosing, Inspection, Severity
from inspections.schedule.tables import machine_url
from ratings.models import CurrentRating, What
from ratings.models.policy import safeguards
from ratings.proposals.acts import Act, Arguments, second_person

if TYPE_CHECKING:
    from fleet.models.any_machine import AnyMachine


def _facts(given: Arguments) -> dict[str, str]:
    machine = given["machine"]
    outage = open_outage(machine)
    newest = Inspection.objects.filter(**column_of(machine)).order_by("pk").last()
    graves = ", ".join(str(each.pk) for each in open_gravest(machine))
    return {
        f"what takes {named(machine)} out of service": f"outage {outage.pk}" if outage else "none",
        f"the newest inspection of {named(machine)}": str(newest.pk) if newest else "none",
        f"the gravest findings open at {named(machine)}": graves or "none",
        # Taken out and put back, or fitted with other pads.
        f"what is on record of {named(machine)} since": _ledger_words(machine),
    }


def _ledger_words(machine: AnyMachine) -> str:
    if not isinstance(machine, SuppressorHousing):
        return "nothing"
    head = CurrentRating.objects.filter(housing=machine).first()
    return f"ledger entry {head.sequence}" if head else "nothing"


def _details(given: Arguments, system: str) -> list[tuple[str, str]]:
    outage = open_outage(given["machine"])
    return [
        ("Released", named(given["machine"])),
        ("At", moment_words(given["at"])),
        ("Why it may go out again", given["reason"]),
        ("Found fit by", who_words(given["qualified_person"])),
        *([("Out of service for", outage.reason)] if outage else []),
    ]


RELEASE = "release"
RELEASE_ACT = Act(
    What.RELEASE,
    asks=lambda given: safeguards().second_person_releases,
    title=lambda given: f"Release of {named(given['machine'])} to service",
    about=lambda given: given["machine"],
    facts=_facts,
    details=_details,
    page=lambda given: machine_url(given["machine"]),
    cause=RELEASE,
)


@second_person(RELEASE_ACT)
@in_yard_of("machine")
@transaction.atomic
def release_to_service(
    *, machine: AnyMachine, at: datetime, reason: str, qualified_person: User, by: User
) -> OutOfService:
    """End a machine's time out of service.

    qualified_person: who, being qualified to, found it fit to go out: their qualification for
    releases must hold at that time.

    Raises ValidationError where they have none that does, where it is in service, where no reason
    is given, where the time lies before it went out, where no inspection since looked at it (of a
    housing: counted every pad and taped the travel), and where a finding of the gravest kind is
    still open.
    """
    machine = lock_machine(machine)
    outage = open_outage(machine)
    name = capital(named(machine))
    if outage is None:
        raise ValidationError(f"{name} is in service: there is nothing to release.")
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say why the unit may go out again."})
    if at < _to_the_minute(outage.since):
        raise ValidationError(
            {"at": f"{name} went out only on {moment_words(outage.since)}: give a later time."}
        )
    try:
        qualification = qualification_of(
            qualified_person, Qualification.Purpose.RELEASES, timezone.localdate(at)
        )
    except ValidationError as refusal:
        raise ValidationError({"qualified_person": refusal.messages}) from None
    # Forms give minutes, and all of it may be done in one: no sooner than it went and was seen.
    missing = wanting(outage, _end_of_minute(at))
    if missing:
        raise ValidationError(missing)
    at = max(at, outage.since, fresh_inspection(outage, _end_of_minute(at)).seen_at)
    outage.released_at, outage.released_by, outage.release_reason = at, by, reason.strip()
    outage.qualification = qualification
    outage.qualified_person = who_words(qualified_person)
    outage.save(
        update_fields=[
            "released_at",
            "released_by",
            "release_reason",
            "qualification",
            "qualified_person",
        ]
    )
    return outage


def fresh_inspection(outage: OutOfService, until: datetime) -> Any:
    """Return the newest inspection of the machine since it went out, None where there is none.

    Of a housing, the newest that counted and taped everything.
    """
    since = _inspections_since(outage, until)
    if outage.housing is not None:
        since = since.filter(counted=_positions(outage.housing), travel_in__isnull=False)
    return since.first()


def wanting(outage: OutOfService, until: datetime) -> str:
    """Say what a release still needs: a fresh inspection, and every gravest finding closed."""
    needs = []
    if fresh_inspection(outage, until) is None:
        needs.append(_inspection_needed(outage, until))
    needs += [
        f"The finding “{found.text}” of {moment_words(found.inspection.seen_at)}, out of service "
        "at once, is still open: close it with what was done about it."
        for found in open_gravest(outage.machine)
    ]
    return " ".join(needs)


def open_gravest(machine: AnyMachine) -> QuerySet[Finding]:
    """Return the findings of the gravest kind at a machine that nobody has closed."""
    return (
        Finding.objects.open()
        .of(machine)
        .filter(severity=Severity.DO_NOT_USE)
        .select_related("inspection")
        .order_by("inspection__seen_at", "pk")
    )


def _inspection_needed(outage: OutOfService, until: datetime) -> str:
    newest = _inspections_since(outage, until).first()
    housing = outage.housing
    if newest is None or housing is None:
        asked = "inspect it" if housing is None else "count every pad and tape the travel"
        return (
            f"No inspection between {moment_words(outage.since)}, when it went out, and "
            f"{moment_words(until)} is on record: {asked}, then release it."
        )
    faults = []
    if newest.counted < _positions(housing):
        faults.append("did not count every pad")
    if newest.travel_in is None:
        faults.append("did not tape the travel")
    return (
        f"The inspection of {moment_words(newest.seen_at)} {' and '.join(faults)}: count every pad "
        "and tape the travel in one inspection, then release it."
    )


def _positions(housing: SuppressorHousing) -> int:
    return len(housing.position_keys)


def _inspections_since(outage: OutOfService, until: datetime) -> QuerySet[Any]:
    # What was seen at the very moment it went out may be why it did.
    return (
        Inspection.objects.standing()
        .filter(**column_of(outage.machine), seen_at__gt=outage.since, seen_at__lte=until)
        .annotate(counted=Count("pads"))
        .order_by("-seen_at", "-recorded_at", "-pk")
    )


def _to_the_minute(moment: datetime) -> datetime:
    return moment.replace(second=0, microsecond=0)


def _end_of_minute(moment: datetime) -> datetime:
    return moment.replace(second=59, microsecond=999_999)


@in_yard_of("finding")
@transaction.atomic
def close_finding(
    *, submission_id: uuid.UUID, finding: Finding, closed_at: datetime, done: str, by: User
) -> FindingClosing:
    """Record what was done about a finding; the first to close it stands.

    A unit out of service for it stays out until somebody releases it.
    """
    # Its machine first, as whoever orders a repair of it does.
    lock_and_look_again()
    Finding.objects.select_for_update().get(pk=finding.pk)
    known = FindingClosing.objects.filter(finding=finding).first()
    if known is not None:
        return known
    return FindingClosing.objects.create(
        submission_id=submission_id,
        finding=finding,
        closed_at=closed_at,
        done=done,
        recorded_by=by,
    )


def _goes_to(given: Mapping[str, Any]) -> tuple[Any, ...]:
    """The machine a finding is put to, of those looked at; none for what is refused anyway."""
    finding, machine = given["finding"], given["machine"]
    return tuple(each for sort, each in other_machines(finding).items() if sort == machine)


@in_yard_of("finding", _goes_to)
@transaction.atomic
def move_finding(
    *, submission_id: uuid.UUID, finding: Finding, machine: str, reason: str, by: User
) -> Finding:
    """Put a finding to the machine it is of, where it was put to another by mistake.

    machine: the sort, of those that the inspection looked at. The finding as it stood is closed
    with the reason, and stands anew at the right machine with all else that was said of it; of the
    gravest kind, it takes that one out of service. A machine taken out by mistake stays out until
    it is released. A second copy of a submission changes nothing. Raises ValidationError where it
    is closed, no other machine was looked at, or no reason is given.
    """
    # The machines first, as whoever orders a repair of one does.
    lock_and_look_again()
    for each in _goes_to({"finding": finding, "machine": machine}):
        lock_machine(each)
    finding = Finding.objects.select_for_update().get(pk=finding.pk)
    known = FindingClosing.objects.filter(finding=finding).first()
    if known is not None and known.submission_id == submission_id:
        moved: Finding = finding.moved_to
        return moved
    if known is not None:
        raise ValidationError("It was closed before: open the page again and look what was done.")
    inspection = finding.inspection
    others = other_machines(finding)
    if machine not in others:
        named_there = ", ".join(f"{sort} {each}" for sort, each in others.items()) or "none"
        raise ValidationError(
            {"machine": f"Choose one of those looked at in that inspection: {named_there}."}
        )
    reason = without_hidden(reason).strip()
    if not reason:
        raise ValidationError({"reason": "This is blank: say how the mistake came about."})
    right = others[MachineSort(machine)]
    outage = None
    if finding.severity == Severity.DO_NOT_USE:
        outage = out_of_service_for(right, inspection.seen_at, finding.text, submission_id, by)
    last = Finding.objects.filter(inspection=inspection).aggregate(last=Max("number"))["last"]
    moved = Finding.objects.create(
        inspection=inspection,
        number=last + 1,
        **column_of(right),
        item_key=finding.item_key,
        severity=finding.severity,
        text=finding.text,
        act_by=finding.act_by,
        who_acts=finding.who_acts,
        out_of_service=outage,
        moved_from=finding,
    )
    FindingClosing.objects.create(
        submission_id=submission_id,
        finding=finding,
        closed_at=clock.now(),
        done=f"Put to {named(right)}, which it is of: {reason}"[:1000],
        recorded_by=by,
    )
    return moved


def other_machines(finding: Finding) -> dict[MachineSort, AnyMachine]:
    """Return the machines its inspection looked at, but for the one a finding is put to."""
    there = finding.inspection.machines
    return {sort: each for sort, each in there.items() if each != finding.machine}
