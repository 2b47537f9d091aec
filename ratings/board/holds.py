"""Which job holds a unit now or next, and what was found wrong with it and is not mended."""

from __future__ import annotations

from django.db.models import Count
from django.utils import timezone

from fleet.dates import days_words
from fleet.models import SuppressorHousing
from ratings.models import Commitment


def holds_now() -> dict[int, str]:
    """Return the site and days of each unit's first commitment that isn't over, by its key."""
    held = Commitment.objects.filter(
        released_at__isnull=True, last_day__gte=timezone.localdate()
    ).select_related("job")
    # The first of a unit is written last, and so stays.
    return {
        each.housing_id: f"{each.job.site}, {days_words(each.first_day, each.last_day)}"
        for each in held.order_by("-first_day")
    }


def open_findings() -> dict[int, int]:
    """Return how many findings to be acted on are open at each unit that has any, by its key."""
    found = (
        SuppressorHousing.objects.filter(
            findings__closing__isnull=True,
            findings__severity__in=("mend", "stop"),
        )
        .order_by()
        .annotate(many=Count("findings"))
    )
    return dict(found.values_list("pk", "many"))
