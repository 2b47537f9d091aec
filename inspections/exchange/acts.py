"""Put one row of the register on record, through the functions the site records with."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import models

from fleet.hours import record_meter_change
from fleet.models import Hammer, MeterChange, Mounting, PadLot, StockMove, SuppressorHousing, Yard
from fleet.register import enter_housing
from fleet.stock import move_stock
from inspections.exchange.cells import written
from inspections.exchange.rows import Row
from inspections.kinds import new_name
from inspections.models import Inspection, InspectionKind, OwnKind, PadReplacement
from inspections.recording.inspection import PadSeen, Seen, sign_inspection
from inspections.recording.replacement import PadFitted, sign_replacement
from inspections.recording.rules import add_kind, retire_kind
from inspections.recording.submission import Submission
from ratings.mechanics.cycle import Branch, CycleReading
from ratings.models import BenchTest, Gauge, Listing, Tape, TestStand
from ratings.recording.bench import TestSetUp, record_bench_test
from ratings.recording.listing import record_listing
from ratings.recording.mounting import mount_housing

NEW, KNOWN = "new", "on record already"
NAMESPACE = uuid.UUID("0b1f4a9c-6a55-4e0b-9f0a-7d1a2f7c1d3e")

Act = Callable[[Row, User], str]


def put_on_record(row: Row, by: User) -> str:
    """Put a row on record and return its fate: new, or on record already.

    Raises ValidationError or ValueError in words where it can't be.
    """
    return ACTS[row.table](row, by)


def submission_id(row: Row) -> uuid.UUID:
    """An id made of what the row says: the same row sent again is the same record."""
    parts = [row.values, *(part.values for part in row.parts)]
    said = "|".join(written(value) for values in parts for value in values.values())
    return uuid.uuid5(NAMESPACE, f"{row.table}|{said}")


def _entered(
    row: Row, model: type[models.Model], key: str, save: Callable[[Any], Any] | None = None
) -> str:
    """Enter what the yard owns; what is there already stays as it is, and must be the same."""
    values = {name: value for name, value in row.values.items() if value is not None}
    if "yard" in values:
        values["yard"] = _one(Yard, "name", values["yard"], "yard")
    known = model._default_manager.filter(**{key: values[key]}).first()
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


def _yard(row: Row, by: User) -> str:
    return _entered(row, Yard, "name")


def _hammer(row: Row, by: User) -> str:
    return _entered(row, Hammer, "mark")


def _housing(row: Row, by: User) -> str:
    return _entered(row, SuppressorHousing, "mark", enter_housing)


def _lot(row: Row, by: User) -> str:
    return _entered(row, PadLot, "mark")


def _stand(row: Row, by: User) -> str:
    return _entered(row, TestStand, "name")


def _gauge(row: Row, by: User) -> str:
    return _entered(row, Gauge, "mark")


def _tape(row: Row, by: User) -> str:
    return _entered(row, Tape, "mark")


def _bench_test(row: Row, by: User) -> str:
    values = dict(row.values)
    lot = _one(PadLot, "mark", values.pop("lot"), "lot")
    if BenchTest.objects.filter(lot=lot, tested_at=values["tested_at"]).exists():
        return KNOWN
    values.pop("test")
    for name, model, key in (("stand", TestStand, "name"), ("gauge", Gauge, "mark"),
                             ("tape", Tape, "mark")):  # fmt: skip
        values[name] = _one(model, key, values[name], name)
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


def _stock_move(row: Row, by: User) -> str:
    values = row.values
    lot = _one(PadLot, "mark", values["lot"], "lot")
    yard = _one(Yard, "name", values["yard"], "yard") if values["yard"] else None
    same = {name: values[name] for name in ("kind", "change", "occurred_at")}
    if StockMove.objects.filter(lot=lot, yard=yard, **same).exists():
        return KNOWN
    move_stock(
        lot_id=lot.pk, yard=yard, by=by, note=values["note"], submission_id=submission_id(row),
        **same,
    )  # fmt: skip
    return NEW


def _mounting(row: Row, by: User) -> str:
    values = row.values
    housing = _one(SuppressorHousing, "mark", values["housing"], "housing")
    hammer = _one(Hammer, "mark", values["hammer"], "hammer") if values["hammer"] else None
    at = values["at"]
    made = Mounting.objects.filter(housing=housing)
    is_known = (
        made.filter(hammer=hammer, mounted_at=at) if hammer else made.filter(removed_at=at)
    ).exists()
    if is_known:
        return KNOWN
    mount_housing(housing=housing, hammer=hammer, at=at, by=by)
    return NEW


def _listing(row: Row, by: User) -> str:
    values = dict(row.values)
    hammer = _one(Hammer, "mark", values.pop("hammer"), "hammer")
    same = {name: values[name] for name in ("listed_lbf", "source", "dated")}
    if Listing.objects.filter(hammer=hammer, **same).exists():
        return KNOWN
    record_listing(submission_id=submission_id(row), hammer=hammer, by=by, **values)
    return NEW


def _meter_change(row: Row, by: User) -> str:
    values = dict(row.values)
    hammer = _one(Hammer, "mark", values.pop("hammer"), "hammer")
    if MeterChange.objects.filter(hammer=hammer, changed_at=values["changed_at"]).exists():
        return KNOWN
    record_meter_change(submission_id=submission_id(row), hammer=hammer, by=by, **values)
    return NEW


def _kind(row: Row, by: User) -> str:
    values = row.values
    known = OwnKind.objects.filter(name=values["name"].lower()).first()
    if known is not None:
        return KNOWN
    kind = add_kind(submission_id=submission_id(row), name=new_name(values["name"]), by=by)
    kind.full_clean()
    if values["retired_at"]:
        retire_kind(submission_id=uuid.uuid4(), kind=kind, at=values["retired_at"], by=by)
    return NEW


def _count(row: Row, by: User) -> str:
    values = row.values
    housing = _one(SuppressorHousing, "mark", values["housing"], "housing")
    if Inspection.objects.filter(housing=housing, seen_at=values["seen_at"]).exists():
        return KNOWN
    travel_in = values["travel_in"]
    is_beyond = travel_in is not None and travel_in > housing.design_travel_in
    if is_beyond and not values["travel_reason"]:
        raise ValidationError(
            f"travel_in is {travel_in:g}, beyond the design travel of "
            f"{housing.design_travel_in:g} in: give travel_reason"
        )
    sign_inspection(
        housing=housing,
        submission=Submission(submission_id(row)),
        seen=Seen(
            seen_at=values["seen_at"],
            pads=[_pad(part) for part in row.parts],
            travel_in=travel_in,
            travel_reason=values["travel_reason"],
            hours=values["hours"],
            note=values["note"],
            kind=values["kind"] or InspectionKind.PAD_COUNT,
            weather=values["weather"],
        ),
        by=by,
    )
    return NEW


def _pad(part: Row) -> PadSeen:
    values = part.values
    is_there = values["condition"] != "missing" and values["lot"]
    lot = _one(PadLot, "mark", values["lot"], "lot") if is_there else None
    return PadSeen(values["side"], values["number"], values["condition"], lot.pk if lot else None)


def _replacement(row: Row, by: User) -> str:
    values = row.values
    housing = _one(SuppressorHousing, "mark", values["housing"], "housing")
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
                _one(PadLot, "mark", part.values["lot"], "lot").pk,
            )
            for part in row.parts
        ],
        by=by,
        note=values["note"],
    )
    return NEW


def _stray(row: Row, by: User) -> str:
    raise ValidationError("It belongs to nothing in this file.")


def _one(model: Any, key: str, value: str, name: str) -> Any:
    found = model.objects.filter(**{key: value}).first()
    if found is None:
        raise ValidationError(
            f"{name} “{str(value)[:40]}” is neither on record nor in this file: enter it first"
        )
    return found


ACTS: dict[str, Act] = {
    "yards": _yard,
    "hammers": _hammer,
    "housings": _housing,
    "lots": _lot,
    "stands": _stand,
    "gauges": _gauge,
    "tapes": _tape,
    "bench_tests": _bench_test,
    "readings": _stray,
    "stock_moves": _stock_move,
    "mountings": _mounting,
    "listings": _listing,
    "meter_changes": _meter_change,
    "kinds": _kind,
    "counts": _count,
    "pads": _stray,
    "replacements": _replacement,
    "fitted_pads": _stray,
}
