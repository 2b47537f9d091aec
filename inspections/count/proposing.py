"""A correction of an inspection as one person proposes it and another confirms it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Any

from django.contrib.auth.models import User
from django.urls import reverse

from fleet.dates import day_words, moment_words
from fleet.models import PadLot, SuppressorHousing
from fleet.models.machine import column_of, sort_of
from fleet.outages import named
from fleet.quantities import Quantity, plain_number
from fleet.roles import who_words
from inspections.count.submission import ChangedMeanwhile
from inspections.models import Inspection, Severity
from inspections.schedule.kinds import kind_named
from inspections.schedule.tables import machine_url
from ratings.ledger.posting import Cause
from ratings.models import CurrentRating, What
from ratings.models.policy import safeguards
from ratings.proposals.acts import Act, Arguments, stand_words
from ratings.proposals.telling import FINEST, beside


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
    newest = Inspection.objects.filter(**column_of(machine)).order_by("pk").last()
    facts = {
        _corrected(given): stand_words(Inspection, record, field),
        f"the newest record of {named(machine)}": f"inspection {newest.pk}" if newest else "none",
    }
    if isinstance(machine, SuppressorHousing):
        head = CurrentRating.objects.filter(housing=machine).first()
        facts[f"the ledger of {machine}"] = f"at entry {head.sequence}" if head else "empty"
    return facts


def _details(given: Arguments, system: str) -> list[tuple[str, str]]:
    seen, machine, correction = given["seen"], _machine(given), given["correction"]
    told = [
        (sort_of(machine).label.capitalize(), str(machine)),
        ("Corrects", _corrected(given)),
        ("What was wrong", correction.reason),
        *_beside(_told_seen(seen, system), _told_before(correction, system)),
        # A correction leaves list and findings of what it corrects be, and may add its own.
        ("Checklist", "\n".join(_answer_words(each) for each in seen.observations.answers)),
        ("Findings", "\n".join(_finding_words(each) for each in seen.observations.findings)),
        ("Photos", "\n".join(each.caption or "one" for each in seen.observations.photos)),
    ]
    return [(label, words) for label, words in told if words]


def _beside(now: dict[str, str], then: dict[str, str]) -> list[tuple[str, str]]:
    return [(label, beside(words, then.get(label))) for label, words in now.items()]


def _told_seen(seen: Any, system: str) -> dict[str, str]:
    second = User.objects.filter(pk=seen.second_look_by).first() if seen.second_look_by else None
    return {
        "Kind": str(kind_named(seen.kind).name),
        "Seen at": moment_words(seen.seen_at),
        "Weather": seen.weather,
        "Pads": _pads(seen.pads),
        "Travel": _travel_words(seen.travel_in, system),
        "Reason of the travel": seen.travel_reason,
        "Hours": _hours_words(seen.hours),
        "Hours of the pack": _hours_words(seen.pack_hours),
        "Sound again, because": seen.sound_again_reason,
        "Who else looks at them": who_words(second) if second else "",
        "Note": "\n".join(words for words in (seen.note, seen.clock_words) if words),
    }


def _told_before(correction: Any, system: str) -> dict[str, str]:
    """Tell what is corrected by the same labels; of a replacement, what it has of them."""
    before = correction.inspection
    if before is None:
        replaced = correction.replacement
        return {"Seen at": moment_words(replaced.fitted_at)}
    of_hammer, of_pack = before.hour_reading, before.pack_hour_reading
    return {
        "Kind": before.kind_name,
        "Seen at": moment_words(before.seen_at),
        "Weather": before.weather,
        "Pads": _pads(before.pads.all()),
        "Travel": _travel_words(before.travel_in, system),
        "Reason of the travel": before.travel_reason,
        "Hours": _hours_words(of_hammer.hours if of_hammer else None),
        "Hours of the pack": _hours_words(of_pack.hours if of_pack else None),
        "Sound again, because": before.sound_again_reason,
        "Who else looks at them": who_words(before.second_look_by) if before.second_look_by else "",
        "Note": before.note,
    }


def _travel_words(travel_in: float | None, system: str) -> str:
    if travel_in is None:
        return "not taped"
    return Quantity.LENGTH.words(travel_in, system, FINEST)


def _hours_words(hours: float | None) -> str:
    return plain_number(hours, FINEST) if hours is not None else ""


def _answer_words(answer: Any) -> str:
    why = f" ({answer.reason})" if answer.reason else ""
    return f"{answer.part}: {answer.text}: {answer.state}{why}"


def _finding_words(found: Any) -> str:
    told = [
        f"{found.text} ({Severity(found.severity).label})",
        f"of the {found.machine}" if found.machine else "",
        f"item {found.item_key}" if found.item_key else "",
        f"{found.who_acts} acts" if found.who_acts else "",
        f"by {day_words(found.act_by)}" if found.act_by else "",
    ]
    return f"{found.number}: {', '.join(each for each in told if each)}"


def _pads(pads: Iterable[Any]) -> str:
    pads = sorted(pads, key=lambda pad: (pad.side, pad.number))
    if not pads:
        return "not counted"
    lots = PadLot.objects.in_bulk({pad.lot_id for pad in pads if pad.lot_id is not None})
    kinds: Counter[tuple[str, str]] = Counter()
    places: dict[tuple[str, str], list[str]] = {}
    for pad in pads:
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
