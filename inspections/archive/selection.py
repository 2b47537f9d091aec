"""Which records go along with a unit: its machines, all that was seen and done, what it rests on.

What stays: jobs, commitments, answers and hires, for they name customers and what was agreed with
them; stock, orders and prices of pads; plans and forecasts; the lives of other machines; who may
sign in, with addresses and passwords. What pulls did to the unit goes along: it wears by them. Of
people goes the name that each signed by.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import reduce
from operator import or_
from typing import Any

from django.contrib.auth.models import User
from django.db.models import FileField, Model, Q
from django.db.models.fields.files import FieldFile

from fleet.models import (
    ClampFitting,
    HourReading,
    HousingGuide,
    Leaf,
    LotCorrection,
    MeterChange,
    Mounting,
    OutageReach,
    OutOfService,
    PadLot,
    PadPosition,
    PersonName,
    PowerPackConnection,
    SetUpChange,
    SuppressorHousing,
    Yard,
)
from fleet.units import MODELS, Hung, unit_of
from inspections.models import (
    DocumentWithdrawal,
    Finding,
    FindingClosing,
    Inspection,
    ItemAnswer,
    MachineDocument,
    MovedRecords,
    OwnKind,
    PadCount,
    PadReplacement,
    Photo,
    PhotoFile,
    PullPhoto,
    PullPhotoFile,
    RepairClosing,
    RepairLine,
    RepairLineTakenBack,
    RepairOrder,
    RepairPhoto,
    ReplacedPad,
    SecondLook,
)
from ratings.models import (
    BenchPad,
    BenchReading,
    BenchTest,
    DecidedTest,
    Gauge,
    GaugeCalibration,
    LedgerEntry,
    Listing,
    LoadIndicator,
    LotDecision,
    LotRating,
    ProofDecision,
    ProofPull,
    ProofReading,
    PullRecord,
    RatedTest,
    RatingApproval,
    RatingPolicy,
    RatingRejection,
    RatingWithdrawal,
    ReferenceCheck,
    ReferencePiece,
    ReferenceReading,
    Tape,
    TestStand,
    Thermometer,
)

# Records of a machine, each by whichever of its columns names one.
OF_MACHINES: tuple[type[Model], ...] = (
    Mounting,
    ClampFitting,
    PowerPackConnection,
    HousingGuide,
    HourReading,
    MeterChange,
    OutOfService,
    Inspection,
    Finding,
    RepairOrder,
    MachineDocument,
    MovedRecords,
    Listing,
    PadReplacement,
    LedgerEntry,
    ProofPull,
)
# Of which it goes along what was changed in set-up.
CHANGED: tuple[type[Model], ...] = (
    *MODELS.values(),
    PadLot,
    TestStand,
    Gauge,
    Tape,
    Thermometer,
    ReferencePiece,
)
AT_ONCE = 5_000
# What belongs to a record, by the column that names it.
PARTS: dict[type[Model], tuple[tuple[type[Model], str], ...]] = {
    Inspection: ((ItemAnswer, "inspection"), (SecondLook, "inspection"), (Photo, "inspection")),
    Photo: ((PhotoFile, "photo"),),
    Finding: ((FindingClosing, "finding"),),
    OutOfService: ((OutageReach, "outage"),),
    RepairOrder: ((RepairLine, "order"), (RepairClosing, "order"), (RepairPhoto, "order")),
    RepairLine: ((RepairLineTakenBack, "line"),),
    MachineDocument: ((DocumentWithdrawal, "document"),),
    PadReplacement: ((ReplacedPad, "replacement"),),
    ProofPull: ((ProofReading, "pull"), (ProofDecision, "pull")),
    PullRecord: ((PullPhoto, "pull"),),
    PullPhoto: ((PullPhotoFile, "photo"),),
    PadLot: (
        (LotCorrection, "lot"),
        (LotDecision, "lot"),
        (BenchTest, "lot"),
        (LotRating, "lot"),
    ),
    LotDecision: ((DecidedTest, "decision"),),
    BenchTest: ((BenchReading, "test"), (BenchPad, "test")),
    LotRating: (
        (RatedTest, "rating"),
        (RatingApproval, "rating"),
        (RatingRejection, "rating"),
        (RatingWithdrawal, "rating"),
    ),
    Gauge: ((GaugeCalibration, "gauge"),),
    TestStand: ((ReferenceCheck, "stand"),),
    ReferenceCheck: ((ReferenceReading, "reference_check"),),
}


class Selection:
    """The rows that go along, by model and key.

    maker: who gives them out. is_chain: the ledger and whose it is alone.
    """

    def __init__(self, housing: SuppressorHousing, maker: User, *, is_chain: bool) -> None:
        self.housing, self.hung = housing, unit_of(housing)
        self.keys: dict[type[Model], set[Any]] = {}
        self.people: set[int] = {maker.pk}
        if is_chain:
            self._add(SuppressorHousing, Q(pk=housing.pk))
            self._add(LedgerEntry, Q(housing=housing))
            self._add(Yard, Q(pk=housing.yard_id))
            self._add(PersonName, Q(user__in=self.people))
        else:
            self._gather()

    def places(self, size: int) -> list[int]:
        """Return where the leaves stand of all that goes along, of the first so many of them."""
        found: list[int] = []
        for model, keys in self.keys.items():
            label, texts = model._meta.label_lower, [str(key) for key in keys]
            for some in batched(texts, AT_ONCE):
                leaves = Leaf.objects.filter(model=label, row_key__in=some, place__lt=size)
                found += (
                    place for place in leaves.values_list("place", flat=True) if place is not None
                )
        return sorted(found)

    def files(self) -> Iterator[FieldFile]:
        """Yield the photos, papers and other files that these records name."""
        for model, keys in self.keys.items():
            for field in model._meta.concrete_fields:
                if isinstance(field, FileField):
                    for some in batched(sorted(keys, key=str), AT_ONCE):
                        for record in model._default_manager.filter(pk__in=some).order_by("pk"):
                            file = getattr(record, field.name)
                            if file:
                                yield file

    def _gather(self) -> None:
        for machine in self.hung.machines:
            self._add(type(machine), Q(pk=machine.pk))
        for model in OF_MACHINES:
            self._add(model, _of_any(model, self.hung))
        self._add(PullRecord, Q(answer__housing=self.housing))
        self._add(PadCount, Q(inspection__housing=self.housing))
        self._add(Yard, Q(pk=self.housing.yard_id))
        self._add(RatingPolicy, Q())
        self._add(
            OwnKind, Q(inspections__in=Inspection.objects.filter(_of_any(Inspection, self.hung)))
        )
        self._add(PadLot, Q(pk__in=lots_of(self.housing)))
        self._add_parts([*OF_MACHINES, PullRecord, PadLot])
        tests = BenchTest.objects.filter(lot__in=self.keys[PadLot])
        pulls = ProofPull.objects.filter(housing=self.housing)
        self._add(TestStand, Q(bench_tests__in=tests))
        self._add_parts([TestStand])
        checks = ReferenceCheck.objects.filter(stand__bench_tests__in=tests)
        for model in (Gauge, Tape):
            self._add(model, Q(bench_tests__in=tests))
            self._add(model, Q(reference_checks__in=checks))
        self._add(Tape, Q(proof_pulls__in=pulls))
        self._add(Thermometer, Q(bench_tests__in=tests))
        self._add(ReferencePiece, Q(checks__in=checks))
        self._add(LoadIndicator, Q(proof_pulls__in=pulls))
        self._add_parts([Gauge])
        for model in CHANGED:
            keys = self.keys.get(model, set())
            self._add(SetUpChange, Q(record_model=model._meta.label, record_key__in=keys))
        self._add(PersonName, Q(user__in=self.people))

    def _add_parts(self, models: Iterable[type[Model]]) -> None:
        waiting = list(models)
        for model in waiting:
            for part, column in PARTS.get(model, ()):
                for some in batched(self.keys.get(model, ()), AT_ONCE):
                    self._add(part, Q(**{f"{column}__in": some}))
                waiting.append(part)

    def _add(self, model: type[Model], asked: Q) -> None:
        found = model._default_manager.filter(asked).order_by()
        self.keys.setdefault(model, set()).update(found.values_list("pk", flat=True))
        for field in model._meta.concrete_fields:
            if field.related_model is User:
                some = found.exclude(**{field.name: None})
                self.people.update(some.values_list(field.attname, flat=True).distinct())


def batched(keys: Iterable[Any], many: int) -> Iterator[list[Any]]:
    """Yield keys so many at once: a statement takes no more values."""
    found = list(keys)
    for start in range(0, len(found), many):
        yield found[start : start + many]


def lots_of(housing: SuppressorHousing) -> set[int]:
    """Return the keys of the lots that pads of a housing are, or ever were, of."""
    found: set[int] = set()
    for rows in (
        PadPosition.objects.filter(housing=housing),
        PadCount.objects.filter(inspection__housing=housing),
        ReplacedPad.objects.filter(replacement__housing=housing),
    ):
        found.update(rows.exclude(lot=None).order_by().values_list("lot", flat=True).distinct())
    removed = ReplacedPad.objects.filter(replacement__housing=housing).exclude(removed_lot=None)
    found.update(removed.order_by().values_list("removed_lot", flat=True).distinct())
    return found


def _of_any(model: type[Model], hung: Hung) -> Q:
    """Return which rows of a model name a machine of a unit."""
    names = {field.name for field in model._meta.concrete_fields}
    named = {sort.column: machine for sort, machine in hung.by_sort.items() if sort.column in names}
    return reduce(or_, (Q(**{column: machine}) for column, machine in named.items()), Q(pk__in=[]))
