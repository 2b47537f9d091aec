"""Housings: entered with a position for every pad, and locked in one order."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from typing import TypeVar

from django.db import transaction

from fleet import together
from fleet.models import PadPosition, SuppressorHousing
from fleet.people.yards import look_again, look_again_at
from fleet.questions import Question

Found = TypeVar("Found")


@transaction.atomic
def enter_housing(housing: SuppressorHousing) -> SuppressorHousing:
    """Save a new housing together with its pad positions, none of them counted yet."""
    housing.save()
    PadPosition.objects.bulk_create(
        PadPosition(housing=housing, side=side, number=number)
        for side, number in housing.position_keys
    )
    return housing


def lock_housing(housing_id: int) -> SuppressorHousing:
    """Lock one housing until the transaction ends, and return it as it is now."""
    locked = _LOCKED.first(key=housing_id)
    if locked is None:
        raise SuppressorHousing.DoesNotExist(f"No housing has the key {housing_id}.")
    look_again_at(locked)
    return locked


_LOCKED = Question(
    lambda key: SuppressorHousing.objects.select_for_update().filter(pk=key).order_by()
)


ALL_LOCKED = "all housings locked"
# Under these is held what no housing entered, hung or listed changes: guides, proof pulls, the
# policy in force, and whether any unit is on a road or on hire; then, of each by itself and let go
# where it is changed, the hammer of a housing and the listing of a hammer.
GUIDES, PROOF_PULLS, POLICY, ON_A_ROAD, ON_HIRE, HAMMER_OF, LISTING_OF = HELD_UNDER_LOCK = (
    "guides",
    "proof pulls",
    "policy",
    "on a road",
    "on hire",
    "hammer of",
    "listing of",
)


def lock_every_housing() -> None:
    """Lock every housing in the order of their keys, and read none of them.

    Once while many facts are recorded together: a lock lasts as long as their transaction, and
    whatever asks for all of them waits for those that were there when it began.
    """

    def lock() -> list[tuple[int, int]] | None:
        keys = SuppressorHousing.objects.select_for_update().order_by("pk")
        return list(keys.values_list("pk", "yard")) or None

    locked = together.once(ALL_LOCKED, lock)
    look_again(SuppressorHousing, locked or ())


def once_all_are_locked(key: Hashable, find: Callable[[], Found]) -> Found:
    """Find once for many facts recorded together what nobody changes without a housing's lock.

    Only once all are locked: before that, others may change it between one fact and the next.
    """
    return find() if together.held(ALL_LOCKED) is None else together.once(key, find)


def each_once_all_are_locked(
    key: str, ids: Iterable[int], find: Callable[[list[int]], dict[int, Found]]
) -> dict[int, Found]:
    """Find for each of some keys, as once_all_are_locked does, what stands in it if anything."""
    asked = list(ids)
    if together.held(ALL_LOCKED) is None:
        return find(asked)
    lacking = [each for each in asked if together.held((key, each)) is None]
    found = find(lacking) if lacking else {}
    for each in lacking:
        together.hold((key, each), (found.get(each),))
    held = {each: together.held((key, each))[0] for each in asked}
    return {each: value for each, value in held.items() if value is not None}


def lock_all_housings() -> list[SuppressorHousing]:
    """Lock every housing in the order of their keys."""
    locked = list(SuppressorHousing.objects.select_for_update().order_by("pk"))
    look_again(SuppressorHousing, ((each.pk, each.yard_id) for each in locked))
    return locked
