"""Chains and answers, triggers and shelves: what else must hold, each part by itself."""

from __future__ import annotations

from collections.abc import Iterator

from django.db.models import Sum

from fleet.guards import missing_triggers
from fleet.models import PadLot, ShelfCount, StockMove, SuppressorHousing
from ratings.ledger.answers import answer_fault
from ratings.ledger.verify import BrokenLedger, refuse_orphans, verify_chains
from ratings.models import JobAnswer
from ratings.record.faults import Fault, Scope


def look_at_chains(scope: Scope) -> Iterator[int | Fault]:
    """Yield the first fault of each unit's chain, head and last entry."""
    for found in verify_chains(SuppressorHousing.objects.order_by("mark", "pk")):
        yield _of(found) if isinstance(found, BrokenLedger) else found
    try:
        refuse_orphans()
    except BrokenLedger as broken:
        yield _of(broken)


def _of(broken: BrokenLedger) -> Fault:
    return Fault(f"housing {broken.housing}, entry {broken.sequence}", broken.differs)


def look_at_answers(scope: Scope) -> Iterator[int | Fault]:
    """Yield the fault of each answer to a job that doesn't hold."""
    answers = JobAnswer.objects.select_related("entry", "job", "housing", "hammer", "commitment")
    for answer in answers.order_by("pk").iterator(chunk_size=500):
        fault = answer_fault(answer)
        if fault:
            yield Fault(str(answer), fault)
        yield 1


def look_at_shelves(scope: Scope) -> Iterator[int | Fault]:
    """Yield shelves whose count is not what the moves of stock come to."""
    moved = StockMove.objects.order_by().values_list("lot", "yard").annotate(pads=Sum("change"))
    come_to = {(lot, yard): pads for lot, yard, pads in moved}
    kept = {
        (shelf.lot_id, shelf.yard_id): shelf.pads for shelf in ShelfCount.objects.order_by("pk")
    }
    marks = dict(PadLot.objects.values_list("pk", "mark"))
    for lot, yard in sorted(come_to.keys() | kept.keys(), key=str):
        there, counted = come_to.get((lot, yard), 0), kept.get((lot, yard), 0)
        if there != counted:
            shelf = f"yard {yard}" if yard else "no yard"
            yield Fault(
                f"lot {marks.get(lot, lot)} on the shelf of {shelf}",
                f"{counted} pads are kept as there, and its moves come to {there}",
            )
        yield 1


def look_at_triggers(scope: Scope) -> Iterator[int | Fault]:
    """Yield the triggers that guard tables of facts and are not there."""
    lacking = missing_triggers()
    if lacking:
        more = f" and {len(lacking) - 1} more" if len(lacking) > 1 else ""
        yield Fault(
            f"trigger {lacking[0]}{more}",
            "it is not there as it was laid down: rows that must stay could be changed unseen by "
            "the program",
        )
    yield 1
