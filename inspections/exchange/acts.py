"""How each table's rows are recorded, through the functions the site records with."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC
from enum import Enum
from functools import cache, partial
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Model, QuerySet, Sum

from fleet import together
from fleet.cells import written
from fleet.hours import record_hours, record_meter_change
from fleet.housings import ALL_LOCKED, HELD_UNDER_LOCK, enter_housing
from fleet.machines.recording import connect_power_pack, enter_machine, fit_clamp
from fleet.models import (
    ClampFitting,
    HourReading,
    HousingGuide,
    MachineSort,
    MeterChange,
    Mounting,
    OutOfService,
    PowerPackConnection,
    StockMove,
    SuppressorHousing,
)
from fleet.models.housing import Condition
from fleet.models.machine import Machine, OnHammer, column_of
from fleet.outages import lock_machine, take_out_of_service
from fleet.pad_orders import MayBeOrdered, receive_without_order
from fleet.questions import Question, is_there
from fleet.roles import who_words
from fleet.stock import MayLieHere, count_shelf, move_stock, on_shelf
from fleet.together import save_held
from inspections.count.findings import Observations
from inspections.count.newest_facts import lots_at
from inspections.count.replacement import PadFitted, sign_replacement
from inspections.count.signing import Correction, PadSeen, Seen, sign_inspection
from inspections.count.submission import Submission
from inspections.exchange.rows import Row
from inspections.exchange.tables import NAMED
from inspections.models import Inspection, InspectionKind, OwnKind, PadReplacement
from inspections.schedule.kinds import kind_named, likely_sorts, new_name
from inspections.schedule.recording import add_kind, retire_kind
from inspections.service.recording import release_to_service
from ratings.bench.recording import TestSetUp, record_bench_test
from ratings.bench.tested_pads import TestedPad
from ratings.guides import record_guide
from ratings.listings import record_listing
from ratings.mechanics.bench import Branch, CycleReading
from ratings.mechanics.gauge import CalibrationPoint
from ratings.models import BenchTest, GaugeCalibration, Listing, ReferenceCheck
from ratings.mounting import mount_housing
from ratings.read_again import NotReadAgain
from ratings.stands.recording import (
    Certificate,
    CheckSetUp,
    record_gauge_calibration,
    record_reference_check,
)

# Why a pad is sound again, of a row that gives no reason.
NO_REASON = "No reason stands in the sheet that this comes from"
NEW, KNOWN = "new", "on record already"
NAMESPACE = uuid.UUID("0b1f4a9c-6a55-4e0b-9f0a-7d1a2f7c1d3e")

Values = dict[str, Any]


class NotThere(ValidationError):
    """A row names something that is neither on record nor came before it in the file."""

    def __init__(self, name: str, value: str) -> None:
        self.value = value
        self.start = f"{name} “{value[:40]}”"
        super().__init__(f"{self.start} is neither on record nor in this file: enter it first")


@dataclass(frozen=True)
class Entry:
    """A row about to be recorded: its values with the records they name, its parts', its person.

    parts: by the table they stand in.
    id: made of what the row says, so that the same row sent again is the same record.
    keeps_lots: its pads are of the lots on record at the time.
    """

    values: Values
    parts: dict[str, list[Values]]
    id: uuid.UUID
    by: User
    keeps_lots: bool = False

    def of(self, table: str) -> list[Values]:
        """Return its parts that stand in one table."""
        return self.parts.get(table, [])


def entry_of(row: Row, by: User) -> Entry:
    """Return a row with records in place of their names. Raises NotThere."""
    named = cache(_named)

    def with_records(values: Values) -> Values:
        return {
            name: named(name, value) if name in NAMED else value for name, value in values.items()
        }

    values = with_records(row.values)
    parts: dict[str, list[Values]] = {}
    for part in row.parts:
        parts.setdefault(part.table, []).append(with_records(part.values))
    return Entry(values, parts, submission_id(row), by, row.keeps_lots)


def _named(name: str, value: str) -> Any:
    """Return the record that a column names, None where it is blank."""
    if not value:
        return None
    record = together.once(("named", name, value), lambda: _of_name(name).first(value=value))
    if record is None:
        raise NotThere(name, value)
    return record


@cache
def _of_name(name: str) -> Question[Any]:
    model, key = NAMED[name]
    rows: Any = model._default_manager
    return Question(lambda value: rows.filter(**{key: value})[:1])


def submission_id(row: Row) -> uuid.UUID:
    """Return an id made of what the row says."""
    parts = [row.values, *(part.values for part in row.parts)]
    # In UTC, so that a row is the same one whatever the yard's zone is set to.
    text = "|".join(written(value, UTC) for values in parts for value in values.values())
    return uuid.uuid5(NAMESPACE, f"{row.table}|{text}")


def put_on_record(row: Row, by: User) -> str:
    """Record a row and return its fate: new, or on record already.

    Raises ValidationError or ValueError in words where it can't be.
    """
    act = ACTS.get(row.table)
    if act is None:
        raise ValidationError("It belongs to nothing in this file.")
    entry = entry_of(row, by)
    if act.is_known(entry):
        return KNOWN
    act.record(entry)
    return NEW


def _is_entered(name: str, entry: Entry) -> bool:
    """Say whether what the yard owns is there: it stays as it is, and must be the same."""
    model, key = NAMED[name]
    mark = entry.values[key]
    if _folded(mark) not in _marks(name):
        return False
    known = model._default_manager.filter(**{f"{key}__iexact": mark}).first()
    if known is None:
        return False
    if getattr(known, key) != mark:
        raise ValidationError(
            f"{key} “{mark}” is on record as “{getattr(known, key)}”: write it the same, or "
            "give it one of its own"
        )
    for field, value in entry.values.items():
        there = getattr(known, field)
        if value not in (None, "", there):
            raise ValidationError(
                f"{field} is “{written(value)}” here and “{written(there)}” on record: make them "
                "the same, or change it on the site."
            )
    return True


def _marks(name: str) -> set[str]:
    """Return what all of a kind that the yard owns are called, in one spelling."""
    model, key = NAMED[name]

    def find() -> set[str]:
        return set(map(_folded, model._default_manager.values_list(key, flat=True)))

    return together.once(("marks", name), find)


def _folded(mark: str) -> str:
    """Return a mark so that those the database takes for one are one; it tells of the others."""
    return mark.upper().casefold()


def _enter(name: str, entry: Entry) -> None:
    model, key = NAMED[name]
    record = model(**_given(entry.values))
    looked_up = {column for column in entry.values.keys() & NAMED.keys() if entry.values[column]}
    if isinstance(record, Machine):
        enter_machine(record, looked_up=looked_up)
    elif isinstance(record, SuppressorHousing):
        save_held(record, partial(enter_housing, record), looked_up=looked_up)
    else:
        save_held(record, record.save, looked_up=looked_up)
    _marks(name).add(_folded(entry.values[key]))


def _given(values: Values) -> Values:
    """Return the values that were given, so that all others are what a record has by itself."""
    return {name: value for name, value in values.items() if value is not None}


def _is_kind_known(entry: Entry) -> bool:
    known = _own_kind(entry)
    is_retired_here = entry.values["retired_at"] is not None
    return known is not None and (not is_retired_here or hasattr(known, "retirement"))


def _own_kind(entry: Entry) -> OwnKind | None:
    name = entry.values["name"].lower()
    return OwnKind.objects.filter(name=name).select_related("retirement").first()


def _add_kind(entry: Entry) -> None:
    """Add a kind of inspection of the yard's own, retired where it is."""
    kind = _own_kind(entry) or add_kind(
        submission_id=entry.id,
        name=new_name(entry.values["name"].lower()),
        looks_at=entry.values["looks_at"] or likely_sorts(entry.values["name"]),
        needs=entry.values["needs"] or (),
        by=entry.by,
    )
    if entry.values["retired_at"] is not None:
        retire_kind(
            submission_id=uuid.uuid4(), kind=kind, at=entry.values["retired_at"], by=entry.by
        )


def _move_stock(entry: Entry) -> None:
    values = dict(entry.values)
    kind, change = values["kind"], values["change"]
    if kind == StockMove.Kind.RECEIVED:
        wanted, is_right = "pads that came, more than 0", change > 0
    elif kind in (StockMove.Kind.SCRAPPED, StockMove.Kind.TESTED):
        wanted, is_right = "pads that left, less than 0", change < 0
    else:
        wanted, is_right = "a number other than 0", change != 0
    if not is_right:
        raise ValidationError(f"change is {change} of pads {kind}: give {wanted}")
    common = {"lot_id": values.pop("lot").pk, "by": entry.by, "submission_id": entry.id}
    if kind != StockMove.Kind.RECEIVED:
        move_stock(**common, **values)
        return
    del values["kind"]
    try:
        receive_without_order(pads=values.pop("change"), **common, **values)
    except MayBeOrdered as refusal:
        raise ValidationError(
            f"{refusal.waits}: record these on the page of that order and leave this row out; "
            "pads of no order are recorded on the page of their lot, which asks"
        ) from refusal


def _is_shelf_as_counted(entry: Entry) -> bool:
    lot, yard = entry.values["lot"], entry.values["yard"]
    moves = StockMove.objects.filter(lot=lot, yard=yard)
    since = _moves_since(entry).aggregate(pads=Sum("change"))["pads"]
    if (
        moves.filter(submission_id=entry.id).exists()
        or on_shelf(lot, yard) - (since or 0) == entry.values["pads"]
    ):
        return True
    if since is not None:
        raise ValidationError(
            f"pads of lot “{lot}” moved on this shelf since it was counted: count it again"
        )
    return False


def recount(row: Row, by: User) -> None:
    """Bring a shelf to its count once more, after pads left it that the count did not see."""
    entry = entry_of(row, by)
    if not _moves_since(entry).exists():
        # Where pads of no yard lie was asked when it was counted.
        _count_shelf(entry, uuid.uuid5(entry.id, "again"), has_loose=False)


def _moves_since(entry: Entry) -> QuerySet[StockMove]:
    return StockMove.objects.filter(
        lot=entry.values["lot"],
        yard=entry.values["yard"],
        occurred_at__gt=entry.values["counted_at"],
    )


def _count_shelf(
    entry: Entry, move_id: uuid.UUID | None = None, has_loose: bool | None = None
) -> None:
    values = dict(entry.values)
    try:
        count_shelf(
            lot_id=values.pop("lot").pk,
            occurred_at=values.pop("counted_at"),
            by=entry.by,
            submission_id=move_id or entry.id,
            has_loose=has_loose,
            **values,
        )
    except MayLieHere as refusal:
        raise ValidationError(
            f"{refusal.waits}: move those that lie there to this yard on the lot’s page, then try "
            "again; if they lie elsewhere, record this count on that page, which asks"
        ) from refusal


def _record_test(entry: Entry) -> None:
    given = _given(entry.values)
    del given["test"]
    lot, set_up = given.pop("lot"), TestSetUp(**given, pads=tuple(_tested_pads(entry)))
    readings = [_reading(part) for part in entry.of("readings")]

    def record(note: str, **read_again: Any) -> None:
        record_bench_test(
            submission_id=entry.id,
            lot=lot,
            set_up=replace(set_up, note=note),
            readings=readings,
            by=entry.by,
            **read_again,
        )

    _read_again(record, set_up.note)


def _record_listing(entry: Entry) -> None:
    given = dict(entry.values)
    note = given.pop("note") or ""
    record = partial(record_listing, submission_id=entry.id, by=entry.by, **given)
    _read_again(lambda note, **read_again: record(note=note, **read_again), note)


def _read_again(record: Callable[..., object], note: str) -> None:
    """Record a figure that may hardly be: a file says in its note why it is right all the same."""
    try:
        record(note)
    except NotReadAgain as refusal:
        if not note.strip():
            words = f"{refusal.doubt.messages[0]} Here, say it in the row’s note"
            raise ValidationError({"note": words}) from None
        record("", is_read_again=True, read_again_reason=note)


def _reading(part: Values) -> CycleReading:
    return CycleReading(
        part["tape_in"],
        part["gauge_psi"],
        part["run"] or 1,
        Branch(part["branch"] or Branch.LOADING),
    )


def _record_certificate(entry: Entry) -> None:
    given = _given(entry.values)
    del given["certificate"]
    gauge = given.pop("gauge")
    points = tuple(
        CalibrationPoint(part["applied_psi"], part["as_found_psi"], part["as_left_psi"])
        for part in entry.of("certificate_points")
    )
    record_gauge_calibration(
        submission_id=entry.id,
        gauge=gauge,
        certificate=Certificate(points=points, **given),
        by=entry.by,
    )


def _record_check(entry: Entry) -> None:
    set_up = _given(entry.values)
    del set_up["check"]
    stand = set_up.pop("stand")
    record_reference_check(
        submission_id=entry.id,
        stand=stand,
        set_up=CheckSetUp(**set_up),
        readings=[_reading(part) for part in entry.of("check_readings")],
        by=entry.by,
    )


def _tested_pads(entry: Entry) -> Iterator[TestedPad]:
    for part in entry.of("tested_pads"):
        yield TestedPad(**{name: value for name, value in part.items() if name != "test"})


def _is_mounting_known(entry: Entry) -> bool:
    at, hammer = entry.values["at"], entry.values["hammer"]
    same = {"hammer": hammer, "mounted_at": at} if hammer else {"removed_at": at}
    return is_there(Mounting, housing=entry.values["housing"], **same)


def _is_put_on(model: type[OnHammer], whose: str) -> Callable[[Entry], bool]:
    """Say whether it is on record that a machine went on a hammer, or came off, at a time."""

    def is_known(entry: Entry) -> bool:
        at, hammer = entry.values["at"], entry.values["hammer"]
        same = {"hammer": hammer, "fitted_at": at} if hammer else {"removed_at": at}
        return is_there(model, **{whose: entry.values[whose]}, **same)

    return is_known


def _is_count_known(entry: Entry) -> bool:
    machine = _one_machine(entry.values)
    alone = {} if entry.values["housing"] else {"housing": None}
    return is_there(
        Inspection,
        **column_of(machine),
        **alone,
        seen_at=entry.values["seen_at"],
        **kind_named(_kind(entry)).columns,
    )


def _kind(entry: Entry) -> str:
    return entry.values["kind"] or InspectionKind.PAD_COUNT


@transaction.atomic
def sign_count(
    entry: Entry, *, observations: Observations | None = None, correction: Correction | None = None
) -> None:
    """Sign an inspection; observations, correction: what a row of the register can't say."""
    values = entry.values
    machine = _one_machine(values)
    housing = values["housing"]
    keeps_lots = entry.keeps_lots and housing is not None
    # Before anything is read of it, so that nobody records what changes it in between.
    lock_machine(machine)
    lots = lots_at(housing, values["seen_at"]) if keeps_lots else {}
    seen = Seen(
        seen_at=values["seen_at"],
        pads=[
            PadSeen(
                part["side"],
                part["number"],
                part["condition"],
                part["lot"].pk if part["lot"] else _lot_kept(part, lots),
            )
            for part in entry.of("pads")
        ],
        travel_in=values["travel_in"],
        travel_reason=values["travel_reason"],
        hours=values["hours"],
        pack_hours=values["pack_hours"],
        note=_note(values),
        sound_again_reason=values["sound_again_reason"] or "",
        kind=kind_named(_kind(entry)).name,
        weather=values["weather"],
        observations=observations or Observations(),
    )

    def sign(seen: Seen) -> None:
        sign_inspection(
            **{"housing" if isinstance(machine, SuppressorHousing) else "machine": machine},
            submission=Submission(entry.id),
            seen=seen,
            by=entry.by,
            correction=correction,
        )

    try:
        sign(seen)
    except ValidationError as refusal:
        is_asked_why = "sound_again_reason" in getattr(refusal, "error_dict", {})
        if not is_asked_why or seen.sound_again_reason:
            raise
        # A sheet can't be asked: it says so itself, and whoever looks too has to say what they saw.
        sign(replace(seen, sound_again_reason=NO_REASON))


def _note(values: Values) -> str:
    """Return the note of a count, and what its file says of a second look, which signs nothing."""
    found = values.get("second_look")
    if not found:
        return str(values["note"] or "")
    told = [
        f"Second look, as the file has it: {found}",
        f"by {values['second_look_by']}" if values.get("second_look_by") else "",
        f"“{values['second_look_reason']}”" if values.get("second_look_reason") else "",
    ]
    words = ", ".join(each for each in told if each)
    return "\n".join(each for each in (values["note"], words) if each)


def _lot_kept(part: Values, lots: dict[tuple[str, int], int]) -> int | None:
    is_missing = part["condition"] == Condition.MISSING
    return None if is_missing else lots.get((part["side"], part["number"]))


MACHINES = tuple(sort.column for sort in MachineSort)


def _one_machine(values: Values) -> Any:
    """Return the one machine that a row names. Raises ValidationError where it isn't one."""
    named = [values[name] for name in MACHINES if values[name] is not None]
    if len(named) != 1:
        names = ", ".join(MACHINES)
        words = "none of them is" if not named else "more than one is"
        raise ValidationError(f"{words} given of {names}: give the one it is of")
    return named[0]


def _of_one_machine(record: Callable[..., Any], *, by_its_id: bool = True) -> Callable[..., Any]:
    """Call a recording function with the one machine that a row names."""

    def call(entry: Entry) -> None:
        id_given = {"submission_id": entry.id} if by_its_id else {}
        others = {name: each for name, each in entry.values.items() if name not in MACHINES}
        record(machine=_one_machine(entry.values), by=entry.by, **id_given, **others)

    return call


def _record_hours(entry: Entry) -> None:
    values = entry.values
    machine = values["hammer"] or values["power_pack"]
    if machine is None:
        raise ValidationError("neither hammer nor power_pack is given: give whose meter it is")
    record_hours(
        submission_id=entry.id,
        machine=machine,
        hours=values["hours"],
        read_at=values["read_at"],
        by=entry.by,
    )


def _sign_replacement(entry: Entry) -> None:
    values = entry.values
    sign_replacement(
        housing=values["housing"],
        submission=Submission(entry.id),
        fitted_at=values["fitted_at"],
        pads=[
            PadFitted(part["side"], part["number"], part["lot"].pk)
            for part in entry.of("fitted_pads")
        ],
        by=entry.by,
        note=values["note"],
    )


def _release(entry: Entry) -> None:
    others = {name: each for name, each in entry.values.items() if name not in MACHINES}
    others["qualified_person"] = _person_named(others["qualified_person"])
    release_to_service(machine=_one_machine(entry.values), by=entry.by, **others)


def _person_named(name: str) -> User:
    """Return who is called so here. Raises ValidationError where nobody is, or several are."""
    found = [each for each in User.objects.all() if name in (who_words(each), each.username)]
    if len(found) != 1:
        how_many = "nobody" if not found else "more than one person"
        raise ValidationError(
            f"qualified_person is “{name[:40]}”, as {how_many} here is called: give the sign-in "
            "name of somebody whose qualification for releases held then"
        )
    return found[0]


# No row changes what another names, or lets go of a lock.
HELD_AFTER_ALL = ("named", "marks", ALL_LOCKED)


class Changes(Enum):
    """What a row may change of what is found once for all rows of a register.

    Its value is the keys that are held all the same, None for all of them.
    """

    # A count, a fitting, a reading: facts of its own, which nothing that is held is made of.
    NOTHING = None
    # What hangs where, what a hammer is listed at: names stay, and lots have the rates they had.
    UNITS = (*HELD_AFTER_ALL, "rates of lots", *HELD_UNDER_LOCK)
    ANYTHING = HELD_AFTER_ALL


@dataclass(frozen=True)
class Act:
    """How a row is recorded, how to tell that it is on record already, and what it may change.

    changes: what is let go before the row and after it, so that none is posted from old facts.
    """

    record: Callable[[Entry], Any]
    is_known: Callable[[Entry], bool]
    changes: Changes

    def forget(self) -> None:
        """Let go of all that is held of what such a row may change."""
        if self.changes.value is not None:
            together.forget_all_but(*self.changes.value)


def _same(model: type[Model], *columns: str, **renamed: str) -> Callable[[Entry], bool]:
    """Say whether a record has these columns' values; renamed: columns by their field."""
    columns_by_field = {name: name for name in columns} | renamed

    def is_known(entry: Entry) -> bool:
        values = {field: entry.values[column] for field, column in columns_by_field.items()}
        return is_there(model, **values)

    return is_known


def _plainly(record: Callable[..., Any], *, by_its_id: bool = True) -> Callable[[Entry], Any]:
    """Call a recording function whose arguments are called like the columns."""

    def call(entry: Entry) -> None:
        id_given = {"submission_id": entry.id} if by_its_id else {}
        record(by=entry.by, **id_given, **entry.values)

    return call


# What of a row with a record of its own makes it one that is there.
SAME_BY = {
    "certificates": ("gauge", "certificate_number", "calibrated_on"),
    "checks": ("stand", "checked_at"),
    "bench_tests": ("lot", "tested_at"),
}
ACTS: dict[str, Act] = {
    **{
        f"{name}s": Act(partial(_enter, name), partial(_is_entered, name), Changes.UNITS)
        for name in NAMED
    },
    "certificates": Act(
        _record_certificate,
        _same(GaugeCalibration, *SAME_BY["certificates"]),
        Changes.ANYTHING,
    ),
    "checks": Act(
        _record_check,
        _same(ReferenceCheck, *SAME_BY["checks"]),
        Changes.ANYTHING,
    ),
    "bench_tests": Act(
        _record_test,
        _same(BenchTest, *SAME_BY["bench_tests"]),
        Changes.ANYTHING,
    ),
    "stock_moves": Act(
        _move_stock,
        _same(StockMove, "lot", "yard", "kind", "change", "occurred_at", "note"),
        Changes.ANYTHING,
    ),
    "shelf_counts": Act(_count_shelf, _is_shelf_as_counted, Changes.ANYTHING),
    "mountings": Act(_plainly(mount_housing, by_its_id=False), _is_mounting_known, Changes.UNITS),
    "clamp_fittings": Act(_plainly(fit_clamp), _is_put_on(ClampFitting, "clamp"), Changes.UNITS),
    "power_pack_connections": Act(
        _plainly(connect_power_pack),
        _is_put_on(PowerPackConnection, "power_pack"),
        Changes.UNITS,
    ),
    "guides": Act(
        _plainly(record_guide),
        _same(HousingGuide, "housing", "occurred_at", "is_guided", "reason"),
        Changes.ANYTHING,
    ),
    "listings": Act(
        _record_listing,
        _same(Listing, "hammer", "listed_lbf", "source", "dated"),
        Changes.UNITS,
    ),
    "meter_changes": Act(
        _plainly(record_meter_change),
        _same(MeterChange, "hammer", "power_pack", "changed_at"),
        Changes.ANYTHING,
    ),
    "hour_readings": Act(
        _record_hours,
        _same(HourReading, "hammer", "power_pack", "hours", "read_at"),
        Changes.NOTHING,
    ),
    "kinds": Act(_add_kind, _is_kind_known, Changes.ANYTHING),
    "counts": Act(sign_count, _is_count_known, Changes.NOTHING),
    "replacements": Act(
        _sign_replacement,
        _same(PadReplacement, "housing", "fitted_at"),
        Changes.NOTHING,
    ),
    "out_of_service": Act(
        _of_one_machine(take_out_of_service),
        _same(OutOfService, *MACHINES, "since"),
        Changes.ANYTHING,
    ),
    "releases": Act(
        _release,
        _same(OutOfService, *MACHINES, released_at="at"),
        Changes.ANYTHING,
    ),
}
