"""What is in every housing, made again from the facts and held to what is kept of it."""

from __future__ import annotations

from collections.abc import Iterator

from fleet.models import PadPosition, SuppressorHousing
from inspections.count.newest_facts import NOTHING_KNOWN, facts, newest_travel, states
from ratings.record.faults import Fault, Scope
from ratings.record.verify import part_of_verifying


@part_of_verifying("positions", "pads and travel are what the newest facts say")
def look_at_positions(scope: Scope) -> Iterator[int | Fault]:
    """Yield positions and travels that are not what counts, replacements and tapes come to."""
    for housing in SuppressorHousing.objects.order_by("mark", "pk"):
        newest = states(facts(housing))
        for position in PadPosition.objects.filter(housing=housing).order_by("side", "number"):
            said = newest.get((position.side, position.number), NOTHING_KNOWN)
            kept = (position.condition, position.lot_id, position.seen_at, position.was)
            if kept != (said.condition, said.lot_id, said.seen_at, said.was):
                yield Fault(
                    f"housing {housing.mark}, position {position.side}{position.number}",
                    f"it is kept as {position.condition or 'never counted'}, and the newest facts "
                    f"say {said.condition or 'never counted'}, of another lot or another time",
                )
        taped = newest_travel(housing)
        if (housing.travel_in, housing.travel_seen_at) != taped:
            yield Fault(
                f"housing {housing.mark}, travel",
                f"it is kept as {housing.travel_in} in, and the newest tape says {taped[0]} in",
            )
        yield 1
