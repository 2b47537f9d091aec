"""Units and lots in a state a test needs, made through the functions the site records with."""

from __future__ import annotations

import itertools
import math
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from io import BytesIO
from typing import Any

from django.contrib.auth.models import User
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from PIL import Image

from fleet.models import (
    Hammer,
    HousingGuide,
    PadLot,
    PadOrder,
    PadReceipt,
    StockMove,
    SuppressorHousing,
)
from fleet.models.housing import UNSOUND
from fleet.pad_orders import order_pads, receive_pads
from fleet.people.qualifications import record_qualification
from fleet.stock import move_stock
from inspections.count.replacement import PadFitted, Replaced, sign_replacement
from inspections.count.second_look import sign_second_look
from inspections.count.signing import PadSeen, Seen, Signed, sign_inspection
from inspections.count.submission import Submission
from inspections.models import RepairLine, RepairOrder, RestorePlan
from inspections.repairs.recording import add_line, order_repair
from inspections.restoring.planning import Asked
from inspections.restoring.recording import keep_plan
from ratings.bench.recording import RecordedTest, TestSetUp, record_bench_test
from ratings.bench.tested_pads import TestedPad
from ratings.listings import record_listing
from ratings.lots.recording import approve_rating
from ratings.mechanics.bench import Branch, CycleReading
from ratings.mechanics.record import read_inputs
from ratings.models import BenchTest, LedgerEntry, LotRating, ProofPull, Proposal, What
from ratings.mounting import mount_housing
from ratings.payload import written
from ratings.proof.expected import expected_pull
from ratings.proof.recording import (
    BranchReading,
    ProofSetUp,
    RecordedPull,
    record_proof_pull,
)
from ratings.proposals.recording import propose
from tests.factories import (
    GaugeFactory,
    HammerFactory,
    HousingFactory,
    LoadIndicatorFactory,
    ManagerFactory,
    PadLotFactory,
    TapeFactory,
    TestStandFactory,
    YardFactory,
)

MONDAY = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


@dataclass
class Unit:
    """A housing on a hammer, its pads of one rated lot all sound, and who keeps it."""

    housing: SuppressorHousing
    hammer: Hammer
    lot: PadLot
    manager: User


@dataclass
class RatedLot:
    """A bench test on record, the rating drafted from it, and what its approval posted."""

    test: BenchTest
    rating: LotRating
    entries: list[LedgerEntry]


def set_up(**more: Any) -> TestSetUp:
    """One conditioned, marked pad on the blind end of a 4 in bore, instruments in calibration.

    Each time another pad, unless pads are given.
    """
    stand = more.pop("stand", None) or TestStandFactory()
    plain: dict[str, Any] = {
        "end": "blind",
        "pads_in_test": 1,
        "tape_datum_in": 10.0,
        "tested_at": MONDAY,
        "conditioning_cycles": 3,
        "rubber_temperature_f": 68.0,
        "gauge": more.pop("gauge", None) or GaugeFactory(yard=stand.yard),
        "tape": more.pop("tape", None) or TapeFactory(yard=stand.yard),
    }
    given = plain | more
    given.setdefault("pads", marked(*(f"P{next(PADS)}" for _ in range(given["pads_in_test"]))))
    return TestSetUp(stand=stand, **given)


PADS = itertools.count(1)


def marked(*marks: str) -> tuple[TestedPad, ...]:
    """Pads of a test that bear these marks."""
    return tuple(TestedPad(number, mark) for number, mark in enumerate(marks, start=1))


def readings_of(
    given: TestSetUp, rate_lbf_in: float, to_in: float = 8.0, **more: Any
) -> list[CycleReading]:
    """Four readings of each branch on the blind end that give this rate of each pad.

    branch: of the one branch to read instead.
    """
    area_in2 = math.pi / 4 * given.stand.bore_in**2
    stretches = [to_in * share for share in (0.25, 0.5, 0.75, 1.0)]
    per_inch_psi = rate_lbf_in * given.pads_in_test / area_in2
    branches = [more.pop("branch")] if "branch" in more else list(Branch)
    return [
        CycleReading(given.tape_datum_in + x, per_inch_psi * x, branch=branch, **more)
        for branch in branches
        for x in stretches
    ]


def drafted_test(
    lot: PadLot,
    by: User,
    *,
    rate_lbf_in: float = 1000.0,
    to_in: float = 8.0,
    at: datetime = MONDAY,
    readings: Sequence[CycleReading] | None = None,
    corrects: BenchTest | None = None,
    submission_id: uuid.UUID | None = None,
    **more: Any,
) -> RecordedTest:
    """Test a lot, which drafts its rating and rates no unit yet.

    Unless readings are given, no two tests of a lot read the tape alike: the same ones twice
    are refused.
    """
    if readings is None:
        more.setdefault("tape_datum_in", 10.0 + lot.bench_tests.count() / 16)
    given = set_up(tested_at=at, **more)
    return record_bench_test(
        is_read_again=True,
        read_again_reason="Read twice",
        submission_id=submission_id or uuid.uuid4(),
        lot=lot,
        set_up=given,
        readings=readings_of(given, rate_lbf_in, to_in) if readings is None else readings,
        by=by,
        corrects=corrects,
    )


def picture(name: str = "set-up.png") -> SimpleUploadedFile:
    """A photo of a set-up, one dot in size."""
    held = BytesIO()
    Image.new("RGB", (1, 1)).save(held, "PNG")
    return SimpleUploadedFile(name, held.getvalue(), "image/png")


def approve(rating: LotRating, by: User | None = None) -> list[LedgerEntry]:
    """Approve a rating, its doubts read, as somebody other than whoever drafted it.

    A rate that its rubber can't have, since few tests choose their rubber, with a reason.
    """
    return approve_rating(
        submission_id=uuid.uuid4(),
        rating=rating,
        by=by or ManagerFactory(),
        has_read_doubts=True,
        accepts_implausible=True,
        implausible_reason="The rubber on record is a guess",
    )


def bench_test(lot: PadLot, by: User, **more: Any) -> RatedLot:
    """Test a lot and have a second manager approve the rating that its tests come to."""
    recorded = drafted_test(lot, by, **more)
    assert recorded.draft is not None
    return RatedLot(recorded.test, recorded.draft, approve(recorded.draft))


def pads(
    housing: SuppressorHousing,
    lot: PadLot | None,
    unsound: Mapping[str, str] | None = None,
) -> list[PadSeen]:
    """Every position with a sound pad of a lot, but for those named with their condition."""
    faults = unsound or {}
    seen = []
    for side, number in housing.position_keys:
        condition = faults.get(f"{side}{number}", "sound")
        lot_id = None if condition == "missing" or lot is None else lot.pk
        seen.append(PadSeen(side, number, condition, lot_id))
    return seen


def count(
    housing: SuppressorHousing,
    by: User,
    lot: PadLot | None,
    *,
    unsound: Mapping[str, str] | None = None,
    travel_in: float | None = 6.0,
    travel_reason: str = "",
    at: datetime = MONDAY,
    kind: str = "pad count",
    hours: float | None = None,
    **more: Any,
) -> Signed:
    """Sign an inspection of every position, with the second look that it asks for.

    A monthly one of a unit needs its hours.
    """
    if kind == "monthly" and hours is None and housing.mountings.exists():
        hours = 100.0
    has_unsound = housing.positions.filter(condition__in=UNSOUND).exists()
    signed = sign_inspection(
        housing=housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(
            sound_again_reason="Looked at each" if has_unsound else "",
            seen_at=at,
            pads=pads(housing, lot, unsound),
            travel_in=travel_in,
            travel_reason=travel_reason,
            kind=kind,
            hours=hours,
        ),
        by=by,
        **more,
    )
    if not signed.waiting:
        return signed
    sign_second_look(
        submission_id=uuid.uuid4(),
        inspection=signed.inspection,
        is_agreed=True,
        reason="Looked at each",
        by=ManagerFactory(),
    )
    last = LedgerEntry.objects.filter(housing=housing).latest("sequence")
    return replace(signed, entry=signed.entry or last)


def receive(lot: PadLot, by: User, number: int) -> None:
    """Put pads on the shelf."""
    move_stock(
        lot_id=lot.pk, kind=StockMove.Kind.RECEIVED, change=number, occurred_at=MONDAY, by=by
    )
    lot.refresh_from_db()


def list_hammer(hammer: Hammer, by: User, listed_lbf: float, **more: Any) -> Any:
    """Record a listed rating."""
    return record_listing(
        submission_id=uuid.uuid4(),
        hammer=hammer,
        listed_lbf=listed_lbf,
        source="Data plate",
        by=by,
        **({"dated": date(2020, 1, 1)} | more),
    )


def proposed_listing(hammer: Hammer, by: User) -> Proposal:
    """A listing of a hammer that one person proposes, and nobody has confirmed."""
    arguments = {
        "submission_id": uuid.uuid4(),
        "hammer": hammer,
        "listed_lbf": 61_000.0,
        "source": "Plate 7",
        "dated": date(2021, 1, 1),
    }
    return propose(
        submission_id=uuid.uuid4(),
        what=What.LISTING,
        payload=written(arguments),
        why="The plate is new",
        by=by,
    )


def qualified(
    name: str = "Hale Winter",
    purpose: str = "releases",
    *,
    since: date = date(2020, 1, 1),
    until: date | None = None,
) -> User:
    """Return somebody called so who is qualified for something; the same one at a second call."""
    first, last = name.split()
    person = User.objects.filter(first_name=first, last_name=last).first()
    if person is None:
        person = ManagerFactory(first_name=first, last_name=last)
        record_qualification(
            submission_id=uuid.uuid4(),
            holder=person,
            purpose=purpose,
            certificate="Certificate 12",
            issued_on=since,
            expires_on=until,
            by=person,
        )
    return person


def keep_level(housing: SuppressorHousing, by: User) -> HousingGuide:
    """Have it on record that a housing is guided, before anything of it was rated."""
    return HousingGuide.objects.create(
        submission_id=uuid.uuid4(),
        housing=housing,
        is_guided=True,
        reason="Two rods through the top plate",
        occurred_at=MONDAY,
        recorded_by=by,
    )


def rated_unit(
    *,
    listed_lbf: float = 40_000.0,
    rate_lbf_in: float = 1000.0,
    to_in: float = 8.0,
    travel_in: float = 6.0,
    positions_per_side: int = 4,
    unsound: Mapping[str, str] | None = None,
    in_stock: int = 0,
    is_guided: bool = True,
    **of_housing: Any,
) -> Unit:
    """A unit that pulls 8 × 1,000 × 6 = 48,000 lbf, unless told otherwise."""
    manager = ManagerFactory()
    housing = HousingFactory(positions_per_side=positions_per_side, **of_housing)
    hammer = HammerFactory(yard=housing.yard)
    lot = PadLotFactory()
    bench_test(lot, manager, rate_lbf_in=rate_lbf_in, to_in=to_in)
    list_hammer(hammer, manager, listed_lbf)
    mount_housing(housing=housing, hammer=hammer, at=MONDAY, by=manager)
    if is_guided:
        keep_level(housing, manager)
    count(housing, manager, lot, travel_in=travel_in, unsound=unsound)
    if in_stock:
        receive(lot, manager, in_stock)
    housing.refresh_from_db()
    return Unit(housing, hammer, lot, manager)


def mended_unit(unsound: Mapping[str, str]) -> tuple[Unit, Replaced, Signed]:
    """A unit counted with a cracked pad, which was replaced, and counted again as unsound says."""
    unit = rated_unit(unsound={"A1": "cracked"}, in_stock=2)
    replaced = sign_replacement(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=MONDAY + timedelta(days=1),
        pads=[PadFitted("A", 1, unit.lot.pk)],
        by=unit.manager,
    )
    at = MONDAY + timedelta(days=2)
    signed = count(unit.housing, unit.manager, unit.lot, unsound=unsound, at=at)
    return unit, replaced, signed


def kept_plan(unit: Unit | None = None, goal: str = "fewest", **asked: Any) -> RestorePlan:
    """A plan for a unit with two pads gone, unless another is given."""
    short = unit or rated_unit(unsound={"A1": "cracked", "B2": "missing"}, in_stock=4)
    return keep_plan(
        submission_id=uuid.uuid4(), asked=Asked(goal, short.housing, **asked), by=short.manager
    )


def proof_set_up(**more: Any) -> ProofSetUp:
    """A unit pulled by a load cell between clamp and anchor, as it should be."""
    plain: dict[str, Any] = {
        "indicator": more.pop("indicator", None) or LoadIndicatorFactory(),
        "tape": more.pop("tape", None) or TapeFactory(),
        "pulled_at": MONDAY + timedelta(days=1),
        "tare_lbf": 0.0,
        "anchor": "Dead man 2 of the yard, rated 200 tons",
        "is_vibrating": False,
        "are_pads_as_recorded": True,
    }
    return ProofSetUp(**plain | more)


def pull_readings(
    housing: SuppressorHousing, ratio: float = 1.0, tare_lbf: float = 0.0
) -> list[BranchReading]:
    """Five readings going up and four coming down, at a ratio of what its pads give."""
    head = LedgerEntry.objects.filter(housing=housing).order_by("sequence").last()
    known = expected_pull(read_inputs(head.inputs)) if head else None
    force_lbf = known[0].force_lbf if known else lambda stretch_in: 8_000.0 * stretch_in
    up = (1.0, 2.0, 3.0, 4.0, 5.0)
    both = [(x, Branch.LOADING) for x in up] + [(x, Branch.UNLOADING) for x in up[3::-1]]
    return [BranchReading(tare_lbf + ratio * force_lbf(x), x, branch) for x, branch in both]


def proof_pull(
    housing: SuppressorHousing,
    by: User,
    ratio: float = 1.0,
    *,
    readings: Sequence[BranchReading] | None = None,
    submission_id: uuid.UUID | None = None,
    based_on: int | None = None,
    corrects: ProofPull | None = None,
    **more: Any,
) -> RecordedPull:
    """Pull a unit of rated_unit, at a ratio of what its pads give."""
    head = LedgerEntry.objects.filter(housing=housing).order_by("sequence").last()
    return record_proof_pull(
        submission_id=submission_id or uuid.uuid4(),
        housing=housing,
        set_up=proof_set_up(**more),
        readings=pull_readings(housing, ratio) if readings is None else readings,
        based_on=(head.sequence if head else 0) if based_on is None else based_on,
        by=by,
        corrects=corrects,
    )


def ordered_repair(machine: Any, by: User | None = None, **changes: Any) -> RepairOrder:
    """A repair ordered by hand for today."""
    plain: dict[str, Any] = {
        "submission_id": uuid.uuid4(),
        "machine": machine,
        "what": "New hose at the clamp",
        "who": "Odd Brandt",
        "planned_on": timezone.localdate(),
        "by": by or ManagerFactory(),
    }
    return order_repair(**plain | changes)


def used_part(order: RepairOrder, by: User | None = None, **changes: Any) -> RepairLine:
    """A hose used in a repair, its price not known."""
    plain: dict[str, Any] = {
        "submission_id": uuid.uuid4(),
        "order": order,
        "kind": "part",
        "text": "Hose 3/4, 40 in",
        "amount": Decimal(1),
        "by": by or ManagerFactory(),
    }
    return add_line(**plain | changes)


def days_ago(days: int) -> datetime:
    """Noon so many days ago by the yard's clock: one put back or forward meanwhile moves no day."""
    return timezone.make_aware(datetime.combine(timezone.localdate() - timedelta(days), time(12)))


def ordered_pads(by: User | None = None, **changes: Any) -> PadOrder:
    """Twelve pads of a lot ordered today for a yard that pays in USD, promised in three weeks."""
    plain: dict[str, Any] = {
        "submission_id": uuid.uuid4(),
        "pads": 12,
        "price_each": Decimal("86.50"),
        "supplier": "Nordhavn Rubber",
        "ordered_on": timezone.localdate(),
        "promised_on": timezone.localdate() + timedelta(days=21),
        "ordered_by": "Kay Lund",
        "by": by or ManagerFactory(),
    }
    given = plain | changes
    if "yard" not in given:
        given["yard"] = YardFactory(currency="USD")
    if "what" not in given:
        given["what"] = PadLotFactory()
    made = order_pads(**given)
    return PadOrder.objects.with_state().get(pk=made.pk)


def received_pads(order: PadOrder, pads: int = 4, **changes: Any) -> PadReceipt:
    """Pads of an order that came just now, of the lot that was ordered."""
    plain: dict[str, Any] = {
        "submission_id": uuid.uuid4(),
        "order": order,
        "lot": order.lot,
        "pads": pads,
        "received_at": timezone.now(),
        "by": order.recorded_by,
    }
    return receive_pads(**plain | changes)
