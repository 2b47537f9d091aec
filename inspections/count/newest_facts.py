"""What the newest facts say is in a housing, whatever order they arrived in.

A position holds what the latest count or replacement of it saw or fitted, by the time it
happened; of two at the same time the one recorded later. A fact that was corrected counts no
more. So a late record enters history at its own time and never overwrites a newer one.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet

from fleet.models import PadPosition, SuppressorHousing
from fleet.models.housing import Condition
from inspections.models import Inspection, PadCount, PadReplacement, ReplacedPad


@dataclass(frozen=True)
class PositionFact:
    """One count or replacement of one position."""

    side: str
    number: int
    condition: str
    lot_id: int | None
    happened_at: datetime
    recorded_at: datetime


def settle(housing: SuppressorHousing) -> None:
    """Bring the housing's positions and travel to what the newest facts say.

    The caller holds the lock on the housing.
    """
    newest: dict[tuple[str, int], PositionFact] = {}
    for fact in sorted(_facts(housing), key=lambda fact: (fact.happened_at, fact.recorded_at)):
        newest[fact.side, fact.number] = fact
    alike: defaultdict[tuple[str, int | None, datetime | None], list[int]] = defaultdict(list)
    for position in PadPosition.objects.filter(housing=housing):
        alike[_state(newest.get((position.side, position.number)))].append(position.pk)
    # One statement for all that are alike, which in a count are nearly all.
    for (condition, lot_id, seen_at), keys in alike.items():
        PadPosition.objects.filter(pk__in=keys).update(
            condition=condition, lot=lot_id, seen_at=seen_at
        )
    _settle_travel(housing)


def lots_at(housing: SuppressorHousing, moment: datetime) -> dict[tuple[str, int], int]:
    """Return the lot of each pad as the newest facts of a moment have it, where known."""
    lots: dict[tuple[str, int], int | None] = {}
    facts = _facts(housing, until=moment)
    for fact in sorted(facts, key=lambda fact: (fact.happened_at, fact.recorded_at)):
        lots[fact.side, fact.number] = fact.lot_id
    return {position: lot for position, lot in lots.items() if lot is not None}


def is_late(inspection: Inspection) -> bool:
    """Whether newer records of pads or travel stand in a housing than this inspection is."""
    counted_or_taped = Q(pads__isnull=False) | Q(travel_in__isnull=False)
    housing, seen_at = inspection.housing_id, inspection.seen_at
    newer = Inspection.objects.standing().filter(
        counted_or_taped, housing=housing, seen_at__gt=seen_at
    )
    repaired = PadReplacement.objects.standing().filter(housing=housing, fitted_at__gt=seen_at)
    return newer.exists() or repaired.exists()


def _facts(housing: SuppressorHousing, until: datetime | None = None) -> Iterator[PositionFact]:
    counts = _standing_inspections(housing).filter(pads__isnull=False)
    if until is not None:
        counts = counts.filter(seen_at__lte=until)
    last_count = counts.first()
    if last_count is not None:
        for seen in PadCount.objects.filter(inspection=last_count):
            yield PositionFact(
                seen.side,
                seen.number,
                seen.condition,
                seen.lot_id,
                last_count.seen_at,
                last_count.recorded_at,
            )
    standing = PadReplacement.objects.standing().filter(housing=housing)
    if until is not None:
        standing = standing.filter(fitted_at__lte=until)
    replaced = ReplacedPad.objects.filter(replacement__in=standing).select_related("replacement")
    for pad in replaced:
        yield PositionFact(
            pad.side,
            pad.number,
            Condition.SOUND,
            pad.lot_id,
            pad.replacement.fitted_at,
            pad.replacement.recorded_at,
        )


def _standing_inspections(housing: SuppressorHousing) -> QuerySet[Inspection]:
    standing: QuerySet[Inspection] = Inspection.objects.standing().filter(housing=housing)
    return standing.order_by("-seen_at", "-recorded_at", "-pk")


def _state(fact: PositionFact | None) -> tuple[str, int | None, datetime | None]:
    """Return the condition, the lot and when that was seen; of no fact, that nothing is known."""
    return (fact.condition, fact.lot_id, fact.happened_at) if fact else ("", None, None)


def _settle_travel(housing: SuppressorHousing) -> None:
    taped = _standing_inspections(housing).filter(travel_in__isnull=False).first()
    housing.travel_in = taped.travel_in if taped else None
    housing.travel_seen_at = taped.seen_at if taped else None
    housing.save(update_fields=["travel_in", "travel_seen_at"])
