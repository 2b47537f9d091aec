"""What the page on the interface shows: examples of this site's own records, that run as they are.

A test takes them off the page and runs each.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from fleet import clock
from fleet.models import Hammer, PadLot, SuppressorHousing
from ratings.models import Commitment, Gauge, Tape, TestStand

if TYPE_CHECKING:
    from inspections.api.resources import Resource
    from inspections.api.writing import Act


@dataclass(frozen=True)
class Shown:
    """What the page speaks of. Ids are those of the first records there are, else 1."""

    resources: tuple[Resource, ...]
    acts: tuple[Act, ...]
    titles: dict[int, str]
    ids: dict[str, int]
    moment: str
    day: str


def shown() -> Shown:
    """Return what the page speaks of, as it stands now."""
    # Imported on need: the site must not wait for the interface at start.
    from inspections.api.problems import TITLES
    from inspections.api.resources import RESOURCES
    from inspections.api.writing import ACTS

    models: dict[str, Any] = {
        "housing": SuppressorHousing,
        "hammer": Hammer,
        "lot": PadLot,
        "stand": TestStand,
        "gauge": Gauge,
        "tape": Tape,
        "commitment": Commitment,
    }
    firsts = {name: model.objects.order_by("pk").first() for name, model in models.items()}
    now = clock.now()
    return Shown(
        resources=RESOURCES,
        acts=ACTS,
        titles=TITLES,
        ids={name: first.pk if first else 1 for name, first in firsts.items()},
        moment=now.strftime("%Y-%m-%dT%H:%M:%SZ"),
        day=(now - timedelta(days=365)).strftime("%Y-%m-%dT00:00:00Z"),
    )
