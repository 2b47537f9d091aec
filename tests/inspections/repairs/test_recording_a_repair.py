from __future__ import annotations

import uuid
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from fleet.picture import NoPicture
from inspections.count.findings import FoundFault, Observations
from inspections.count.signing import Seen, sign_inspection
from inspections.count.submission import Submission
from inspections.models import Finding, RepairClosing, RepairOrder
from inspections.repairs.recording import (
    add_photo,
    cancel_repair,
    cost_of,
    finish_repair,
    take_back_line,
)
from ratings.models import LedgerEntry
from tests.builders import MONDAY, Unit, ordered_repair, picture, rated_unit, used_part
from tests.factories import ClampFactory, HammerFactory, ManagerFactory, YardFactory

pytestmark = pytest.mark.django_db


def found_at(unit: Unit, severity: str = "mend") -> Finding:
    """A finding of a hose, at the hammer of a unit."""
    signed = sign_inspection(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(
            MONDAY + timedelta(days=1),
            [],
            observations=Observations(
                findings=[
                    FoundFault(
                        1,
                        severity,
                        "Hose chafed",
                        act_by=timezone.localdate(),
                        who_acts="Odd Brandt",
                    )
                ]
            ),
        ),
        by=unit.manager,
    )
    return signed.inspection.findings.get()


def finish(order: RepairOrder, **changes: Any) -> RepairClosing:
    plain: dict[str, Any] = {
        "submission_id": uuid.uuid4(),
        "order": order,
        "ended_at": timezone.now(),
        "text": "Hose changed and bled",
        "done_by": "Odd Brandt",
        "closes_finding": True,
        "by": ManagerFactory(),
    }
    return finish_repair(**plain | changes)


def cancel(order: RepairOrder, **changes: Any) -> RepairClosing:
    plain: dict[str, Any] = {"submission_id": uuid.uuid4(), "reason": "Sold"}
    return cancel_repair(order=order, by=ManagerFactory(), **plain | changes)


def test_a_repair_of_a_finding_closes_it_with_what_was_done_and_by_whom() -> None:
    finding = found_at(rated_unit())
    order = ordered_repair(finding.machine, finding=finding)
    finish(order)
    finding.refresh_from_db()
    assert finding.closing.done == f"Hose changed and bled (by Odd Brandt, repair order {order.pk})"


def test_what_was_found_stays_open_where_nobody_says_that_it_is_put_right() -> None:
    finding = found_at(rated_unit())
    finish(ordered_repair(finding.machine, finding=finding), closes_finding=False)
    assert Finding.objects.open().filter(pk=finding.pk).exists()


def test_a_repair_done_changes_no_figure_and_releases_nothing() -> None:
    unit = rated_unit()
    finding = found_at(unit, "stop")
    entries = LedgerEntry.objects.count()
    finish(ordered_repair(finding.machine, finding=finding))
    assert LedgerEntry.objects.count() == entries
    assert finding.out_of_service is not None
    assert finding.out_of_service.released_at is None


def test_a_cancelled_repair_leaves_the_finding_open_to_be_ordered_again() -> None:
    finding = found_at(rated_unit())
    cancel(ordered_repair(finding.machine, finding=finding))
    assert Finding.objects.open().filter(pk=finding.pk).exists()
    assert ordered_repair(finding.machine, finding=finding).ended is None


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"what": " "}, "what", "say what is to be done"),
        ({"who": ""}, "who", "name who does it"),
        ({"planned_on": MONDAY.date() - timedelta(days=900)}, "planned_on", "is the year right?"),
    ],
)
def test_an_order_that_says_too_little_is_refused_at_its_field(
    changes: dict[str, Any], field: str, words: str
) -> None:
    with pytest.raises(ValidationError) as refusal:
        ordered_repair(HammerFactory(), **changes)
    assert words in refusal.value.message_dict[field][0]
    assert not RepairOrder.objects.exists()


def test_a_finding_is_ordered_once_and_at_its_own_machine() -> None:
    finding = found_at(rated_unit())
    with pytest.raises(ValidationError, match="order the repair there"):
        ordered_repair(HammerFactory(), finding=finding)
    ordered_repair(finding.machine, finding=finding)
    with pytest.raises(ValidationError, match="has a repair order already"):
        ordered_repair(finding.machine, finding=finding)


def test_a_closed_finding_is_not_ordered() -> None:
    finding = found_at(rated_unit())
    finish(ordered_repair(finding.machine, finding=finding))
    finding = Finding.objects.get(pk=finding.pk)
    with pytest.raises(ValidationError, match="nothing to repair of it"):
        ordered_repair(finding.machine, finding=finding)


def test_a_machine_out_of_use_is_not_repaired() -> None:
    clamp = ClampFactory(retired_on=MONDAY.date())
    with pytest.raises(ValidationError, match="out of use since"):
        ordered_repair(clamp)


def test_a_second_copy_of_each_form_changes_nothing() -> None:
    sent, by = uuid.uuid4(), ManagerFactory()
    hammer = HammerFactory()
    order = ordered_repair(hammer, by, submission_id=sent)
    assert ordered_repair(hammer, by, submission_id=sent) == order
    assert used_part(order, submission_id=sent) == used_part(order, submission_id=sent)
    assert finish(order, submission_id=sent) == finish(order, submission_id=uuid.uuid4())
    assert (RepairOrder.objects.count(), order.lines.count()) == (1, 1)


def test_the_cost_is_in_the_currency_of_the_yard_and_says_what_is_not_priced() -> None:
    order = ordered_repair(HammerFactory(yard=YardFactory(currency="EUR")))
    used_part(order, amount=Decimal(3), price_each=Decimal("41.50"))
    used_part(order, kind="labour", amount=Decimal("1.5"), price_each=Decimal(60))
    used_part(order)
    cost = cost_of(list(order.lines.all()))
    assert cost.sums == (("EUR", Decimal("214.50")),)
    assert (cost.unpriced, cost.hours) == (1, Decimal("1.5"))


def test_a_price_needs_the_currency_of_its_yard() -> None:
    order = ordered_repair(HammerFactory(yard=YardFactory(name="Fleetwater", currency="")))
    with pytest.raises(ValidationError) as refusal:
        used_part(order, price_each=Decimal(2))
    assert "Yard Fleetwater has no currency yet" in refusal.value.message_dict["price_each"][0]


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"amount": Decimal(0)}, "amount"),
        ({"amount": Decimal(-1)}, "amount"),
        ({"price_each": Decimal(-5)}, "price_each"),
        ({"kind": "gift"}, "kind"),
        ({"text": " "}, "text"),
    ],
)
def test_a_line_that_cannot_be_is_refused_at_its_field(changes: dict[str, Any], field: str) -> None:
    order = ordered_repair(HammerFactory(yard=YardFactory(currency="USD")))
    with pytest.raises(ValidationError) as refusal:
        used_part(order, **changes)
    assert list(refusal.value.message_dict) == [field]


def test_a_line_taken_back_counts_no_more_and_stays() -> None:
    order = ordered_repair(HammerFactory(yard=YardFactory(currency="USD")))
    line = used_part(order, price_each=Decimal(9))
    take_back_line(submission_id=uuid.uuid4(), line=line, reason="Not used", by=ManagerFactory())
    assert cost_of(list(order.lines.all())).sums == ()
    assert order.lines.count() == 1
    assert not order.lines.standing().exists()


def test_a_bill_may_come_after_the_repair_but_not_to_a_cancelled_one() -> None:
    done, cancelled = ordered_repair(HammerFactory()), ordered_repair(HammerFactory())
    finish(done)
    cancel(cancelled)
    assert used_part(done).pk
    with pytest.raises(ValidationError, match="was cancelled"):
        used_part(cancelled)


def test_an_order_ends_once() -> None:
    done, cancelled = ordered_repair(HammerFactory()), ordered_repair(HammerFactory())
    finish(done)
    cancel(cancelled)
    with pytest.raises(ValidationError, match="is done since"):
        cancel(done)
    with pytest.raises(ValidationError, match="was cancelled"):
        finish(cancelled)


def test_a_repair_is_not_done_before_what_it_repairs_was_found() -> None:
    finding = found_at(rated_unit())
    order = ordered_repair(finding.machine, finding=finding)
    with pytest.raises(ValidationError) as refusal:
        finish(order, ended_at=MONDAY)
    assert "before it was found" in refusal.value.message_dict["ended_at"][0]


def test_a_photo_is_kept_once_and_what_is_none_is_refused() -> None:
    order, sent = ordered_repair(HammerFactory()), uuid.uuid4()
    for _ in range(2):
        add_photo(
            photo_id=sent, order=order, when="after", sent=picture().read(), by=ManagerFactory()
        )
    assert order.photos.count() == 1
    with pytest.raises(NoPicture):
        add_photo(photo_id=uuid.uuid4(), order=order, when="after", sent=b"no", by=ManagerFactory())


def test_the_database_keeps_repairs_as_they_were_recorded() -> None:
    order = ordered_repair(HammerFactory())
    with pytest.raises(IntegrityError), transaction.atomic():
        RepairOrder.objects.filter(pk=order.pk).update(what="Nothing")


def test_an_open_order_planned_before_today_is_late() -> None:
    order = ordered_repair(HammerFactory(), planned_on=timezone.localdate() - timedelta(days=1))
    assert order.is_late
    finish(order)
    assert not RepairOrder.objects.get(pk=order.pk).is_late
