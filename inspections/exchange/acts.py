"""How each table's rows are recorded, through the functions the site records with."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Sum

from fleet.hours import record_meter_change
from fleet.housings import enter_housing
from fleet.models import (
    Hammer,
    MeterChange,
    Mounting,
    OutOfService,
    PadLot,
    StockMove,
    SuppressorHousing,
    Yard,
)
from fleet.service import take_out_of_service
from fleet.stock import count_shelf, move_stock, on_shelf
from inspections.count.recording import PadSeen, Seen, sign_inspection
from inspections.count.replacement import PadFitted, sign_replacement
from inspections.count.submission import Submission
from inspections.exchange.cells import written
from inspections.exchange.rows import Row
from inspections.models import Inspection, InspectionKind, OwnKind, PadReplacement
from inspections.schedule.kinds import kind_named, new_name
from inspections.schedule.recording import add_kind, retire_kind
from inspections.service.recording import release_to_service
from ratings.bench.recording import TestSetUp, record_bench_test
from ratings.listings import record_listing
from ratings.mechanics.bench import Branch, CycleReading
from ratings.models import BenchTest, Gauge, Listing, Tape, TestStand
from ratings.mounting import mount_housing

NEW, KNOWN = "new", "on record already"
NAMESPACE = uuid.UUID("0b1f4a9c-6a55-4e0b-9f0a-7d1a2f7c1d3e")


class NotThere(ValidationError):
    """A row names something that is neither on record nor came before it in the file."""

    def __init__(self, name: str, value: str) -> None:
        self.value = value
        self.start = f"{name} “{value[:40]}”"
        super().__init__(f"{self.start} is neither on record nor in this file: enter it first")


def submission_id(row: Row) -> uuid.UUID:
    """An id made of what the row says: the same row sent again is the same record."""
    parts = [row.values, *(part.values for part in row.parts)]
    # In UTC, so that a row is the same one whatever the yard's zone is set to.
    said = "|".join(written(value, UTC) for values in parts for value in values.values())
    return uuid.uuid5(NAMESPACE, f"{row.table}|{said}")


def one(model: Any, key: str, value: str, name: str) -> Any:
    """Return the record of a name. Raises NotThere."""
    found = model.objects.filter(**{key: value}).first()
    if found is None:
        raise NotThere(name, str(value))
    return found


def _entered(
    row: Row, model: type[models.Model], key: str, save: Callable[[Any], Any] | None = None
) -> str:
    """Enter what the yard owns; what is there already stays as it is, and must be the same."""
    values = {name: value for name, value in row.values.items() if value is not None}
    if "yard" in values:
        values["yard"] = one(Yard, "name", values["yard"], "yard")
    known = model._default_manager.filter(**{f"{key}__iexact": values[key]}).first()
    if known is not None and getattr(known, key) != values[key]:
        raise ValidationError(
            f"{key} “{values[key]}” is on record as “{getattr(known, key)}”: write it the same, or "
            "give it one of its own"
        )
    if known is not None:
        _refuse_other(row, known, values)
        return KNOWN
    record = model(**values)
    record.full_clean(exclude=[])
    (save or (lambda made: made.save()))(record)
    return NEW


def _refuse_other(row: Row, known: Any, values: dict[str, Any]) -> None:
    for name, value in values.items():
        there = getattr(known, name)
        if there != value and value != "":
            raise ValidationError(
                f"{name} is “{written(value)}” here and “{written(there)}” on record: make them "
                "the same, or change it on the site."
            )


def yard(row: Row, by: User) -> str:
    """Enter a yard."""
    return _entered(row, Yard, "name")


def hammer(row: Row, by: User) -> str:
    """Enter a hammer."""
    return _entered(row, Hammer, "mark")


def housing(row: Row, by: User) -> str:
    """Enter a housing with its pad positions."""
    return _entered(row, SuppressorHousing, "mark", enter_housing)


def lot(row: Row, by: User) -> str:
    """Enter a pad lot."""
    return _entered(row, PadLot, "mark")


def stand(row: Row, by: User) -> str:
    """Enter a test stand."""
    return _entered(row, TestStand, "name")


def gauge(row: Row, by: User) -> str:
    """Enter a pressure gauge."""
    return _entered(row, Gauge, "mark")


def tape(row: Row, by: User) -> str:
    """Enter a tape."""
    return _entered(row, Tape, "mark")


def kind(row: Row, by: User) -> str:
    """Add a kind of inspection of the yard's own, retired where it is."""
    name, retired_at = row.values["name"].lower(), row.values["retired_at"]
    known = OwnKind.objects.filter(name=name).select_related("retirement").first()
    if known is not None and (retired_at is None or hasattr(known, "retirement")):
        return KNOWN
    made = known or add_kind(submission_id=submission_id(row), name=new_name(name), by=by)
    if retired_at is not None:
        retire_kind(submission_id=uuid.uuid4(), kind=made, at=retired_at, by=by)
    return NEW


LEAVING = (StockMove.Kind.SCRAPPED, StockMove.Kind.TESTED)


def stock_move(row: Row, by: User) -> str:
    """Post a move of pads."""
    values = row.values
    lot = one(PadLot, "mark", values["lot"], "lot")
    yard = one(Yard, "name", values["yard"], "yard") if values["yard"] else None
    same = {name: values[name] for name in ("kind", "change", "occurred_at", "note")}
    _check_direction(values["kind"], values["change"])
    if StockMove.objects.filter(lot=lot, yard=yard, **same).exists():
        return KNOWN
    move_stock(
        lot_id=lot.pk, yard=yard, by=by, submission_id=submission_id(row), **same
    )  # fmt: skip
    return NEW


def _check_direction(kind: str, change: int) -> None:
    wanted = "a number other than 0"
    is_right = change != 0
    if kind == StockMove.Kind.RECEIVED:
        wanted, is_right = "pads that came, more than 0", change > 0
    elif kind in LEAVING:
        wanted, is_right = "pads that left, less than 0", change < 0
    if not is_right:
        raise ValidationError(f"change is {change} of pads {kind}: give {wanted}")


def shelf_count(row: Row, by: User) -> str:
    """Bring the books of a shelf to what was counted on it."""
    lot, yard, pads, counted_at = _shelf(row)
    moves = StockMove.objects.filter(lot=lot, yard=yard)
    since = moves.filter(occurred_at__gt=counted_at).aggregate(pads=Sum("change"))["pads"]
    is_on_record = moves.filter(submission_id=submission_id(row)).exists()
    if is_on_record or on_shelf(lot, yard) - (since or 0) == pads:
        return KNOWN
    if since is not None:
        raise ValidationError(
            f"pads of lot “{lot}” moved on this shelf since it was counted: count it again"
        )
    _count(row, by, submission_id(row))
    return NEW


def recount(row: Row, by: User) -> None:
    """Bring a shelf to its count once more, after pads left it that the count did not see."""
    lot, yard, _pads, counted_at = _shelf(row)
    later = StockMove.objects.filter(lot=lot, yard=yard, occurred_at__gt=counted_at)
    if not later.exists():
        _count(row, by, uuid.uuid5(submission_id(row), "again"))


def _count(row: Row, by: User, move_id: uuid.UUID) -> None:
    lot, yard, pads, counted_at = _shelf(row)
    count_shelf(
        lot_id=lot.pk,
        yard=yard,
        pads=pads,
        occurred_at=counted_at,
        by=by,
        note=row.values["note"],
        submission_id=move_id,
    )


def _shelf(row: Row) -> tuple[PadLot, Yard | None, int, datetime]:
    values = row.values
    lot = one(PadLot, "mark", values["lot"], "lot")
    yard = one(Yard, "name", values["yard"], "yard") if values["yard"] else None
    return lot, yard, values["pads"], values["counted_at"]


def bench_test(row: Row, by: User) -> str:
    """Record a bench test with its readings."""
    values = dict(row.values)
    lot = one(PadLot, "mark", values.pop("lot"), "lot")
    if BenchTest.objects.filter(lot=lot, tested_at=values["tested_at"]).exists():
        return KNOWN
    values.pop("test")
    for name, model, key in (("stand", TestStand, "name"), ("gauge", Gauge, "mark"),
                             ("tape", Tape, "mark")):  # fmt: skip
        values[name] = one(model, key, values[name], name)
    record_bench_test(
        submission_id=submission_id(row),
        lot=lot,
        set_up=TestSetUp(**{name: value for name, value in values.items() if value is not None}),
        readings=[
            CycleReading(
                part.values["tape_in"],
                part.values["gauge_psi"],
                part.values["run"] or 1,
                Branch(part.values["branch"] or Branch.LOADING),
            )
            for part in row.parts
        ],
        by=by,
    )
    return NEW


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


Act = Callable[[Row, User], str]


def put_on_record(row: Row, by: User) -> str:
    """Put a row on record and return its fate: new, or on record already.

    Raises ValidationError or ValueError in words where it can't be.
    """
    return ACTS[row.table](row, by)


def _stray(row: Row, by: User) -> str:
    raise ValidationError("It belongs to nothing in this file.")


ACTS: dict[str, Act] = {
    "yards": yard,
    "hammers": hammer,
    "housings": housing,
    "lots": lot,
    "stands": stand,
    "gauges": gauge,
    "tapes": tape,
    "bench_tests": bench_test,
    "readings": _stray,
    "stock_moves": stock_move,
    "shelf_counts": shelf_count,
    "mountings": mounting,
    "listings": listing,
    "meter_changes": meter_change,
    "kinds": kind,
    "counts": count,
    "pads": _stray,
    "replacements": replacement,
    "fitted_pads": _stray,
    "out_of_service": out_of_service,
    "releases": release,
}
