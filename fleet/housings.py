"""Housings: entered with a position for every pad, and locked in one order."""

from __future__ import annotations

from django.db import transaction

from fleet import together
from fleet.models import PadPosition, SuppressorHousing


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
    return SuppressorHousing.objects.select_for_update().get(pk=housing_id)


ALL_LOCKED = "all housings locked"


def lock_every_housing() -> None:
    """Lock every housing in the order of their keys, and read none of them.

    Once while many facts are recorded together: a lock lasts as long as their transaction, and
    whatever asks for all of them waits for those that were there when it began.
    """

    def lock() -> list[int] | None:
        keys = SuppressorHousing.objects.select_for_update().order_by("pk")
        return list(keys.values_list("pk", flat=True)) or None

    together.once(ALL_LOCKED, lock)


def lock_all_housings() -> list[SuppressorHousing]:
    """Lock every housing in the order of their keys."""
    return list(SuppressorHousing.objects.select_for_update().order_by("pk"))
