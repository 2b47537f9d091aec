"""Signing an inspection, beside writing the rows it leaves and nothing else.

Signing is short of its goal, and why: of its 38 statements the other makes the ten that write. Of
its time, asking what stands takes 34 in 100, by 21 questions whose SQL is made once: reading the
answers into records is most of that, the database 3, and the other asks none of it. Each finds a
fact that may have changed since. Writing takes 32, with leaves of the journal, as the other does.
The rest is what signing is: bringing the housing to its facts and holding that to the ledger,
refusing what can't be, rating, spelling and hashing the entry, 6. By another cut, settling what is
in the housing takes 33 in 100, posting 31, of which gathering what the rating goes by 11, and
finding what hung together then 5.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

from django.apps import apps
from django.db import transaction
from django.utils import timezone

from fleet.models import PadPosition, SuppressorHousing
from fleet.models.leaf import Leaf
from inspections.count.signing import PadSeen, Seen, sign_inspection
from inspections.count.submission import Submission
from ratings.models import CurrentRating
from tests.benchmarks.databases import Filled
from tests.benchmarks.measuring import Pairs, Run, benchmark, timed
from tests.benchmarks.yards import long_life
from tests.builders import Unit

# Of a housing with 24 pads.
PER_SIDE = 12
TOLD_OF_A_POSITION = ("condition", "lot_id", "seen_at", "was", "said_sound_at")


def _sign(unit: Unit) -> None:
    """Sign a count of every pad, one of them cracked since, and the travel taped."""
    housing = SuppressorHousing.objects.get(pk=unit.housing.pk)
    pads = [
        PadSeen(side, number, "cracked" if (side, number) == ("A", 1) else "sound", unit.lot.pk)
        for side, number in housing.position_keys
    ]
    signed = sign_inspection(
        housing=housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(seen_at=timezone.now(), pads=pads, travel_in=4.5),
        by=unit.manager,
    )
    if signed.entry is None:
        raise RuntimeError("signing posted no entry")


def _life(run: Run, full: int, fast: int) -> Filled[Unit]:
    entries = run.size(full, fast)
    return run.databases.filled(
        ("life of 24 pads", entries), lambda: long_life(entries, per_side=PER_SIDE)
    )


def _undone(filled: Filled[Unit], work: Callable[[], None]) -> Callable[[], float]:
    """Return a work done in a transaction that is then undone; the undoing doesn't count."""

    def run() -> float:
        with filled.used(), transaction.atomic():
            took = timed(work)
            transaction.set_rollback(True)
        return took

    return run


def _rows_left(work: Callable[[], None]) -> Callable[[], None]:
    """Do a work, undo it, and return one that writes the same rows by the ORM alone.

    By the ORM as the site sets it up, which leaves a leaf of each row in the journal. All new rows
    of a table go in at once, and positions alike are changed at once.
    """
    positions = {each.pk: each for each in PadPosition.objects.all()}
    with transaction.atomic():
        last = Leaf.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
        work()
        new: dict[type[Any], list[Any]] = {}
        changed: list[Any] = []
        for leaf in Leaf.objects.filter(pk__gt=last).order_by("pk"):
            model = apps.get_model(leaf.model)
            row = model._base_manager.get(pk=leaf.row_key)
            if leaf.what == Leaf.What.RECORDED:
                new.setdefault(model, []).append(row)
            else:
                changed.append(row)
        # Two tables have no leaves.
        changed += CurrentRating.objects.all()
        moved = [
            each for each in PadPosition.objects.all() if _told(each) != _told(positions[each.pk])
        ]
        transaction.set_rollback(True)
    alike: dict[tuple[Any, ...], list[int]] = {}
    for each in moved:
        alike.setdefault(_told(each), []).append(each.pk)

    def write() -> None:
        with transaction.atomic():
            for model, rows in new.items():
                model._base_manager.bulk_create(rows)
            for row in changed:
                row.save(force_update=True)
            for values, keys in alike.items():
                PadPosition.objects.filter(pk__in=keys).update(
                    **dict(zip(TOLD_OF_A_POSITION, values, strict=True))
                )

    return write


def _told(position: PadPosition) -> tuple[Any, ...]:
    return tuple(getattr(position, name) for name in TOLD_OF_A_POSITION)


@benchmark(
    "sign",
    "signing an inspection of 24 pads, to the same rows written by the ORM in one transaction",
    goal=1.3,
)
def sign(run: Run) -> Pairs:
    filled = _life(run, 50, 10)
    with filled.used() as unit:
        write = _rows_left(lambda: _sign(unit))
    return run.paired(_undone(filled, lambda: _sign(filled.holds)), _undone(filled, write))


@benchmark(
    "sign_growth",
    "signing at 10,000 entries of the unit, to signing at 50",
    goal=1.2,
    sides=("at 10,000", "at 50"),
)
def sign_growth(run: Run) -> Pairs:
    many, few = _life(run, 10_000, 20), _life(run, 50, 10)
    return run.paired(
        _undone(many, lambda: _sign(many.holds)), _undone(few, lambda: _sign(few.holds))
    )
