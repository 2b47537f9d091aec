"""Row locks on housings, always taken in one order and before anything else is read.

What concerns one unit locks its housing; what concerns them all (a lot's rate, the policy)
locks every housing. So no two writers can wait for each other in a ring, and none reads a
rate that another is about to replace. SQLite has one write lock and needs no more.
"""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import QuerySet

from fleet.models import SuppressorHousing


def lock_housing(housing_id: int) -> SuppressorHousing:
    """Lock one housing until the transaction ends, and return it as it is now."""
    return SuppressorHousing.objects.select_for_update().get(pk=housing_id)


def lock_housings(housing_ids: Iterable[int]) -> list[SuppressorHousing]:
    """Lock several housings in the order of their keys."""
    return _locked_in_order(SuppressorHousing.objects.filter(pk__in=list(housing_ids)))


def lock_all_housings() -> list[SuppressorHousing]:
    """Lock every housing in the order of their keys."""
    return _locked_in_order(SuppressorHousing.objects.all())


def _locked_in_order(housings: QuerySet[SuppressorHousing]) -> list[SuppressorHousing]:
    return list(housings.select_for_update().order_by("pk"))
