"""Housings: entered with a position for every pad, and locked in one order."""

from __future__ import annotations

from django.db import transaction

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


def lock_all_housings() -> list[SuppressorHousing]:
    """Lock every housing in the order of their keys."""
    return list(SuppressorHousing.objects.select_for_update().order_by("pk"))
