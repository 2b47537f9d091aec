"""Entering a housing in the yard's register, with a position for every pad."""

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
