"""What happened to units: mounted, listed, seen, mended, pulled out and released."""

from __future__ import annotations

from django.contrib.auth.models import User

from fleet.hours import record_meter_change
from fleet.models import Hammer, MeterChange, Mounting, OutOfService, PadLot, SuppressorHousing
from fleet.service import take_out_of_service
from inspections.exchange.acts.lookup import KNOWN, NEW, one, submission_id
from inspections.exchange.rows import Row
from inspections.kinds import kind_named
from inspections.models import Inspection, InspectionKind, PadReplacement
from inspections.recording.inspection import PadSeen, Seen, sign_inspection
from inspections.recording.release import release_to_service
from inspections.recording.replacement import PadFitted, sign_replacement
from inspections.recording.submission import Submission
from ratings.models import Listing
from ratings.recording.listing import record_listing
from ratings.recording.mounting import mount_housing


def mounting(row: Row, by: User) -> str:
    """Put a housing on a hammer, or take it off."""
    values = row.values
    housing = one(SuppressorHousing, "mark", values["housing"], "housing")
    hammer = one(Hammer, "mark", values["hammer"], "hammer") if values["hammer"] else None
    at = values["at"]
    made = Mounting.objects.filter(housing=housing)
    is_known = (
        made.filter(hammer=hammer, mounted_at=at) if hammer else made.filter(removed_at=at)
    ).exists()
    if is_known:
        return KNOWN
    mount_housing(housing=housing, hammer=hammer, at=at, by=by)
    return NEW


def listing(row: Row, by: User) -> str:
    """Record what is claimed of a hammer."""
    values = dict(row.values)
    hammer = one(Hammer, "mark", values.pop("hammer"), "hammer")
    same = {name: values[name] for name in ("listed_lbf", "source", "dated")}
    if Listing.objects.filter(hammer=hammer, **same).exists():
        return KNOWN
    record_listing(submission_id=submission_id(row), hammer=hammer, by=by, **values)
    return NEW


def count(row: Row, by: User) -> str:
    """Sign an inspection."""
    values = row.values
    housing = one(SuppressorHousing, "mark", values["housing"], "housing")
    kind = kind_named(values["kind"] or InspectionKind.PAD_COUNT)
    made = Inspection.objects.filter(housing=housing, seen_at=values["seen_at"])
    if made.filter(**kind.columns).exists():
        return KNOWN
    sign_inspection(
        housing=housing,
        submission=Submission(submission_id(row)),
        seen=Seen(
            seen_at=values["seen_at"],
            pads=[_pad(part) for part in row.parts],
            travel_in=values["travel_in"],
            travel_reason=values["travel_reason"],
            hours=values["hours"],
            note=values["note"],
            kind=kind.name,
            weather=values["weather"],
        ),
        by=by,
    )
    return NEW


def _pad(part: Row) -> PadSeen:
    values = part.values
    lot = one(PadLot, "mark", values["lot"], "lot") if values["lot"] else None
    return PadSeen(values["side"], values["number"], values["condition"], lot.pk if lot else None)


def replacement(row: Row, by: User) -> str:
    """Sign that pads were fitted."""
    values = row.values
    housing = one(SuppressorHousing, "mark", values["housing"], "housing")
    if PadReplacement.objects.filter(housing=housing, fitted_at=values["fitted_at"]).exists():
        return KNOWN
    sign_replacement(
        housing=housing,
        submission=Submission(submission_id(row)),
        fitted_at=values["fitted_at"],
        pads=[
            PadFitted(
                part.values["side"],
                part.values["number"],
                one(PadLot, "mark", part.values["lot"], "lot").pk,
            )
            for part in row.parts
        ],
        by=by,
        note=values["note"],
    )
    return NEW


def meter_change(row: Row, by: User) -> str:
    """Record that an hour meter was changed."""
    values = dict(row.values)
    hammer = one(Hammer, "mark", values.pop("hammer"), "hammer")
    if MeterChange.objects.filter(hammer=hammer, changed_at=values["changed_at"]).exists():
        return KNOWN
    record_meter_change(submission_id=submission_id(row), hammer=hammer, by=by, **values)
    return NEW


def out_of_service(row: Row, by: User) -> str:
    """Pull a unit out of service."""
    values = row.values
    housing = one(SuppressorHousing, "mark", values["housing"], "housing")
    if OutOfService.objects.filter(housing=housing, since=values["since"]).exists():
        return KNOWN
    take_out_of_service(
        submission_id=submission_id(row),
        housing=housing,
        since=values["since"],
        reason=values["reason"],
        by=by,
    )
    return NEW


def release(row: Row, by: User) -> str:
    """Release a unit to service."""
    values = row.values
    housing = one(SuppressorHousing, "mark", values["housing"], "housing")
    if OutOfService.objects.filter(housing=housing, released_at=values["at"]).exists():
        return KNOWN
    release_to_service(
        housing=housing,
        at=values["at"],
        reason=values["reason"],
        qualified_person=values["qualified_person"],
        by=by,
    )
    return NEW
