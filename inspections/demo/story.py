"""Tell the demo's events through the same functions the site records with."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import asdict
from datetime import date, datetime, timedelta
from typing import Any

from django.contrib.auth.models import User
from django.utils import timezone

from fleet import clock
from fleet.models import Hammer, PadLot, StockMove, SuppressorHousing, Yard
from fleet.service import take_out_of_service
from fleet.stock import move_stock
from inspections.count.observations import Answer, Found, Said
from inspections.count.recording import Correction, PadSeen, Seen, sign_inspection
from inspections.count.replacement import PadFitted, sign_replacement
from inspections.count.submission import Submission
from inspections.models import InspectionKind, ItemAnswer
from inspections.schedule.checklists import checklists_in_force
from inspections.service.recording import release_to_service
from ratings.bench.recording import TestSetUp, record_bench_test
from ratings.jobs.commitments import commit_unit
from ratings.jobs.forms import JobForm
from ratings.jobs.recording import save_job
from ratings.jobs.sections import FILLED_BY_SECTION, sections_by_name
from ratings.ledger.posting import post_stale_rates
from ratings.listings import record_listing
from ratings.lots.recording import approve_rating
from ratings.mechanics.bench import CycleReading
from ratings.mechanics.soil import Layer
from ratings.models import ExtractionJob, Gauge, PileSection, SoilTemplate, Tape, TestStand
from ratings.mounting import mount_housing


def plan_job(event: dict[str, Any], submission_id: uuid.UUID, by: User) -> None:
    """A job saved: its pile from the table of sections, its ground, its crane."""
    section = sections_by_name()[event["section"]]
    save_job(
        submission_id=submission_id,
        job=None,
        fields={
            **{name: event[name] for name in JobForm.Meta.fields if name in event},
            **{name: getattr(section, name) for name in FILLED_BY_SECTION},
            "pile_kind": section.kind,
            **{f"set_up_{name}": value for name, value in event.get("set_up", {}).items()},
        },
        layers=[Layer(**layer) for layer in event["layers"]],
        distances={
            Yard.objects.get(name=name).pk: float(miles)
            for name, miles in event.get("distances", {}).items()
        },
        by=by,
    )


def commit(event: dict[str, Any], submission_id: uuid.UUID, by: User) -> None:
    commit_unit(
        submission_id=submission_id,
        job=ExtractionJob.objects.get(site=event["site"]),
        housing=SuppressorHousing.objects.get(mark=event["housing"]),
        by=by,
    )


def add_section(event: dict[str, Any], submission_id: uuid.UUID, by: User) -> None:
    PileSection.objects.create(recorded_by=by, **event["section"])


def keep_ground(event: dict[str, Any], submission_id: uuid.UUID, by: User) -> None:
    SoilTemplate.objects.create(
        name=event["name"],
        note=event["note"],
        water_depth_ft=event["water_depth_ft"],
        layers=[asdict(Layer(**layer)) for layer in event["layers"]],
        recorded_by=by,
    )


# A record is put in a little after the work it tells of.
WRITTEN_AFTER = timedelta(minutes=20)
YEARLY_AFTER = timedelta(days=330)
NAMESPACE = uuid.UUID("6f0f6a52-6b3a-4a57-9d53-0c9d5f7d4a10")


def tell(events: list[dict[str, Any]]) -> None:
    """Put every event on record at the time it was written down, in that order."""
    for number, event in sorted(enumerate(events), key=lambda pair: _recorded_at(pair[1])):
        with clock.set_to(_recorded_at(event)):
            ACTS[event["do"]](event, _submission_id(number), _person(event))


def _happened_at(event: dict[str, Any]) -> datetime:
    return timezone.make_aware(datetime.fromisoformat(event["at"]))


def _recorded_at(event: dict[str, Any]) -> datetime:
    return _happened_at(event) + WRITTEN_AFTER + timedelta(days=event.get("late_days", 0))


def _submission_id(number: int) -> uuid.UUID:
    return uuid.uuid5(NAMESPACE, str(number))


def _person(event: dict[str, Any]) -> User:
    return User.objects.get(username=event["by"])


def _housing(event: dict[str, Any]) -> SuppressorHousing:
    return SuppressorHousing.objects.get(mark=event["housing"])


def _lot(mark: str) -> PadLot:
    return PadLot.objects.get(mark=mark)


def _receive(event: dict[str, Any], submission_id: uuid.UUID, by: User) -> None:
    _move(event, submission_id, by, StockMove.Kind.RECEIVED, event["pads"])


def _scrap(event: dict[str, Any], submission_id: uuid.UUID, by: User) -> None:
    _move(event, submission_id, by, StockMove.Kind.SCRAPPED, -event["pads"])


def _move(
    event: dict[str, Any], submission_id: uuid.UUID, by: User, kind: str, change: int
) -> None:
    move_stock(
        lot_id=_lot(event["lot"]).pk,
        kind=kind,
        change=change,
        occurred_at=_happened_at(event),
        by=by,
        note=event.get("note", ""),
        submission_id=submission_id,
    )


def _bench_test(event: dict[str, Any], submission_id: uuid.UUID, by: User) -> None:
    """A test, and the second person's approval of the rating it drafts."""
    recorded = record_bench_test(
        submission_id=submission_id,
        lot=_lot(event["lot"]),
        set_up=TestSetUp(
            stand=TestStand.objects.get(name=event["stand"]),
            gauge=Gauge.objects.get(mark=event["gauge"]),
            tape=Tape.objects.get(mark=event["tape"]),
            end=event["end"],
            pads_in_test=event["pads_in_test"],
            tape_datum_in=float(event["tape_datum_in"]),
            gauge_zero_psi=float(event["gauge_zero_psi"]),
            tested_at=_happened_at(event),
            conditioning_cycles=event["conditioning_cycles"],
            rubber_temperature_f=float(event["rubber_temperature_f"]),
            note=event.get("note", ""),
        ),
        readings=[
            CycleReading(tape_in=float(tape_in), gauge_psi=float(gauge_psi))
            for tape_in, gauge_psi in event["readings"]
        ],
        by=by,
    )
    if recorded.draft is not None:
        approve_rating(
            submission_id=uuid.uuid5(NAMESPACE, f"approval of {submission_id}"),
            rating=recorded.draft,
            by=User.objects.get(username=event["approved_by"]),
        )


def _listing(event: dict[str, Any], submission_id: uuid.UUID, by: User) -> None:
    record_listing(
        submission_id=submission_id,
        hammer=Hammer.objects.get(mark=event["hammer"]),
        listed_lbf=float(event["listed_lbf"]),
        source=event["source"],
        dated=date.fromisoformat(event["dated"]),
        by=by,
    )


def _mount(event: dict[str, Any], submission_id: uuid.UUID, by: User) -> None:
    hammer = Hammer.objects.get(mark=event["hammer"]) if event["hammer"] else None
    mount_housing(housing=_housing(event), hammer=hammer, at=_happened_at(event), by=by)


def _count(event: dict[str, Any], submission_id: uuid.UUID, by: User) -> None:
    """A count: the pads as known, all of `lot` if one is named, with these faults found."""
    housing = _housing(event)
    lot = _lot(event["lot"]).pk if "lot" in event else None
    faults = event.get("faults", {})
    pads = []
    for position in housing.positions.all():
        name = f"{position.side}{position.number}"
        condition = faults.get(name) or position.condition or "sound"
        lot_id = None if condition == "missing" else (lot or position.lot_id)
        pads.append(PadSeen(position.side, position.number, condition, lot_id))
    _sign(event, submission_id, by, housing, pads)


def _sign(
    event: dict[str, Any],
    submission_id: uuid.UUID,
    by: User,
    housing: SuppressorHousing,
    pads: list[PadSeen],
    correction: Correction | None = None,
) -> None:
    sign_inspection(
        housing=housing,
        submission=Submission(submission_id),
        seen=Seen(
            seen_at=_happened_at(event),
            pads=pads,
            travel_in=event.get("travel_in"),
            travel_reason=event.get("travel_reason", ""),
            hours=event.get("hours"),
            note=event.get("note", ""),
            kind=event.get("kind", InspectionKind.PAD_COUNT),
            said=_said(event),
        ),
        by=by,
        correction=correction,
    )


def _said(event: dict[str, Any]) -> Said:
    """All of the kind's list done, and what else was found."""
    found = [
        Found(number=number, **each) for number, each in enumerate(event.get("findings", []), 1)
    ]
    return Said(answers=_all_done(event["kind"]) if "kind" in event else (), findings=found)


def _all_done(kind: str) -> list[Answer]:
    return [
        Answer(item.key, item.part, item.text, ItemAnswer.State.DONE)
        for item in checklists_in_force()[kind].items
    ]


def _round(event: dict[str, Any], submission_id: uuid.UUID, by: User) -> None:
    """A round: all of the list done, the pads and the travel found as they are on record."""
    housing = _housing(event)
    mounted = housing.mountings.current().exists()
    seen = event | {"travel_in": housing.travel_in, "kind": _kind_due(housing, event)}
    if housing.is_taped_beyond_design:
        seen["travel_reason"] = (
            housing.inspections.exclude(travel_reason="").values_list("travel_reason", flat=True)
        ).first()
    if not mounted:
        seen.pop("hours", None)
    _count(seen, submission_id, by)


def _kind_due(housing: SuppressorHousing, event: dict[str, Any]) -> str:
    """Yearly where the last yearly one is most of a year old, monthly otherwise."""
    since = _happened_at(event) - YEARLY_AFTER
    yearly = housing.inspections.filter(kind=InspectionKind.YEARLY, seen_at__gt=since)
    return InspectionKind.MONTHLY if yearly.exists() else InspectionKind.YEARLY


def _replace(event: dict[str, Any], submission_id: uuid.UUID, by: User) -> None:
    lot = _lot(event["lot"])
    sign_replacement(
        housing=_housing(event),
        submission=Submission(submission_id),
        fitted_at=_happened_at(event),
        pads=[PadFitted(name[0], int(name[1:]), lot.pk) for name in event["positions"]],
        by=by,
        note=event.get("note", ""),
    )


def _correct(event: dict[str, Any], submission_id: uuid.UUID, by: User) -> None:
    """Put right the housing's last inspection, at the time it was made."""
    housing = _housing(event)
    wrong = housing.inspections.latest("recorded_at")
    pads = [PadSeen(pad.side, pad.number, pad.condition, pad.lot_id) for pad in wrong.pads.all()]
    at = timezone.make_naive(wrong.seen_at).isoformat()
    _sign(event | {"at": at}, submission_id, by, housing, pads, Correction(event["reason"], wrong))


def _take_out(event: dict[str, Any], submission_id: uuid.UUID, by: User) -> None:
    take_out_of_service(
        submission_id=submission_id,
        housing=_housing(event),
        since=_happened_at(event),
        reason=event["reason"],
        by=by,
    )


def _release(event: dict[str, Any], submission_id: uuid.UUID, by: User) -> None:
    release_to_service(
        housing=_housing(event),
        at=_happened_at(event),
        reason=event["reason"],
        qualified_person=event["qualified_person"],
        by=by,
    )


def _refresh(event: dict[str, Any], submission_id: uuid.UUID, by: User) -> None:
    post_stale_rates(by)


ACTS: dict[str, Callable[[dict[str, Any], uuid.UUID, User], None]] = {
    "receive": _receive,
    "scrap": _scrap,
    "bench test": _bench_test,
    "listing": _listing,
    "mount": _mount,
    "count": _count,
    "round": _round,
    "replace": _replace,
    "correct": _correct,
    "refresh": _refresh,
    "take out": _take_out,
    "release": _release,
    "pile section": add_section,
    "keep ground": keep_ground,
    "job": plan_job,
    "commit": commit,
}
