"""A correction of an inspection as one person proposes it and another confirms it."""

from __future__ import annotations

from collections import Counter
from typing import Any

from django.urls import reverse

from fleet.dates import moment_words
from fleet.models import PadLot, SuppressorHousing
from fleet.models.machine import column_of, sort_of
from fleet.outages import named
from fleet.quantities import Quantity, plain_number
from inspections.count.submission import ChangedMeanwhile
from inspections.models import Inspection
from inspections.schedule.kinds import kind_named
from inspections.schedule.tables import machine_url
from ratings.ledger.posting import Cause
from ratings.models import CurrentRating, What
from ratings.models.policy import safeguards
from ratings.proposals.acts import Act, Arguments


def _asks(given: Arguments) -> bool:
    return given.get("correction") is not None and safeguards().second_person_corrections


def _machine(given: Arguments) -> Any:
    return given.get("housing") or given["machine"]


def _corrected(given: Arguments) -> str:
    correction = given["correction"]
    if correction.inspection is not None:
        return f"inspection {correction.inspection.pk}"
    return f"pad replacement {correction.replacement.pk}"


def _facts(given: Arguments) -> dict[str, str]:
    machine, correction = _machine(given), given["correction"]
    record = correction.inspection or correction.replacement
    field = "corrects" if correction.inspection is not None else "corrects_replacement"
    is_corrected = Inspection.objects.filter(**{field: record}).exists()
    newest = Inspection.objects.filter(**column_of(machine)).order_by("pk").last()
    facts = {
        _corrected(given): "corrected" if is_corrected else "in force",
        f"the newest record of {named(machine)}": f"inspection {newest.pk}" if newest else "none",
    }
    if isinstance(machine, SuppressorHousing):
        head = CurrentRating.objects.filter(housing=machine).first()
        facts[f"the ledger of {machine}"] = f"at entry {head.sequence}" if head else "empty"
    return facts


def _details(given: Arguments, system: str) -> list[tuple[str, str]]:
    seen, machine = given["seen"], _machine(given)
    travel = Quantity.LENGTH.words(seen.travel_in, system) if seen.travel_in is not None else ""
    told = [
        (sort_of(machine).label.capitalize(), str(machine)),
        ("Corrects", _corrected(given)),
        ("What was wrong", given["correction"].reason),
        ("Kind", str(kind_named(seen.kind).name)),
        ("Seen at", moment_words(seen.seen_at)),
        ("Pads", _pads(seen)),
        ("Travel", travel or "not taped"),
        ("Reason of the travel", seen.travel_reason),
        *(
            (label, plain_number(hours, 1) if hours is not None else "")
            for label, hours in (("Hours", seen.hours), ("Hours of the pack", seen.pack_hours))
        ),
        ("Sound again, because", seen.sound_again_reason),
        ("Note", seen.note),
    ]
    return [(label, words) for label, words in told if words]


def _pads(seen: Any) -> str:
    if not seen.pads:
        return "not counted"
    lots = PadLot.objects.in_bulk({pad.lot_id for pad in seen.pads if pad.lot_id is not None})
    kinds: Counter[tuple[str, str]] = Counter()
    places: dict[tuple[str, str], list[str]] = {}
    for pad in seen.pads:
        key = (pad.condition, str(lots.get(pad.lot_id, "")))
        kinds[key] += 1
        places.setdefault(key, []).append(f"{pad.side}{pad.number}")
    return "; ".join(
        f"{count} {condition}{f' of lot {lot}' if lot else ''}: {', '.join(places[condition, lot])}"
        for (condition, lot), count in kinds.items()
    )


INSPECTION_ACT = Act(
    What.INSPECTION,
    asks=_asks,
    title=lambda given: f"Correction of {_corrected(given)} of {named(_machine(given))}",
    about=_machine,
    facts=_facts,
    details=_details,
    page=lambda given: (
        reverse("unit", args=[given["housing"].pk])
        if given.get("housing")
        else machine_url(given["machine"])
    ),
    known=Inspection,
    cause=Cause.PAD_COUNT,
    outcome=lambda signed: signed.inspection.pk,
    refusals=(ChangedMeanwhile,),
)
