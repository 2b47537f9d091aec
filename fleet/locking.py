"""Row locks on housings, always taken in one order and before anything else is read.

What concerns one unit locks its housing; what may concern any of them (a lot's rate, the
policy, a listing, a mounting) locks every housing. So no two writers can wait for each other
in a ring, and none reads a rate that another is about to replace. SQLite has one write lock
and needs no more.
"""

from __future__ import annotations

from fleet.models import SuppressorHousing


def lock_housing(housing_id: int) -> SuppressorHousing:
    """Lock one housing until the transaction ends, and return it as it is now."""
    return SuppressorHousing.objects.select_for_update().get(pk=housing_id)


def lock_all_housings() -> list[SuppressorHousing]:
    """Lock every housing in the order of their keys."""
    return list(SuppressorHousing.objects.select_for_update().order_by("pk"))
