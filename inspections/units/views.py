from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from fleet.context import system_of
from fleet.models import (
    ClampFitting,
    Hammer,
    Hire,
    HousingGuide,
    Mounting,
    PadPosition,
    PowerPackConnection,
    SuppressorHousing,
    Transfer,
)
from fleet.outages import outages_of_unit
from inspections.count.second_look import second_looks_wanted
from inspections.models import Finding, Severity
from inspections.schedule.due import due_of_fleet, findings_with_gravity
from inspections.units.advice import advise, better_tests
from inspections.units.arithmetic import hand_arithmetic
from inspections.units.records import newest_records
from inspections.units.strain import strains
from ratings.jobs.validity import commitments_of_unit
from ratings.ledger.facts import gather
from ratings.mechanics.standing import Standing
from ratings.models import LedgerEntry, Listing, ProofPull, PullRecord
from ratings.pictures import history_graphs, large_rules
from ratings.surveillance.words import softenings

# More would hide the steps they are drawn by, and every one of them weighs on the page.
ENTRIES_DRAWN = 200
FINDINGS_NAMED = 5


def unit(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Show one unit: what it can pull, how that is calculated, and how it came to be."""
    asked = SuppressorHousing.objects.select_related("yard").with_last_seen()
    housing = get_object_or_404(asked, pk=housing_id)
    system = system_of(request)
    ledger = LedgerEntry.objects.filter(housing=housing).order_by("-sequence")
    head = ledger.first()
    drawn = ledger.only("recorded_at", "pull_lbf", "working_capacity_lbf", "listed_lbf")
    mounting = Mounting.objects.current().filter(housing=housing).select_related("hammer").first()
    to_act_on = findings_with_gravity(Finding.objects.open().of_units([housing.pk])).exclude(
        severity=Severity.MONITOR
    )
    inputs = gather([housing])[housing.pk].inputs
    hammer = mounting.hammer if mounting else None
    counted = {housing.pk: getattr(housing, "counted_at", None)}
    context = {
        "section": "board",
        "housing": housing,
        "overload": PullRecord.objects.open_overloads(counted).get(housing.pk),
        "hammer": hammer,
        **(_machines_on(hammer) if hammer else {}),
        "mounting": mounting,
        "listing": (
            Listing.objects.in_force_by_hammer([mounting.hammer_id]).get(mounting.hammer_id)
            if mounting
            else None
        ),
        "head": head,
        "standing": head.judged if head else Standing.UNRATED,
        "rules": large_rules(head, housing.mark, system),
        "arithmetic": hand_arithmetic(head) if head else None,
        "commitments": commitments_of_unit(housing),
        "advice": advise(inputs),
        "better_tests": better_tests(inputs),
        "stale_rates": sorted((rate.lot, rate.stale) for rate in inputs.lots if rate.stale),
        "sides": _sides(housing),
        "softenings": softenings(
            housing.positions.filter(lot__isnull=False).order_by().values_list("lot", flat=True)
        ),
        "strains": strains(housing, head),
        "graphs": (
            history_graphs(list(drawn[:ENTRIES_DRAWN])[::-1], housing.mark, system)
            if head
            else None
        ),
        "due": due_of_fleet([housing])[0],
        "second_looks": second_looks_wanted().filter(housing=housing),
        "said_sound": housing.positions.filter(said_sound_at__isnull=False),
        "to_act_on": to_act_on[:FINDINGS_NAMED],
        "to_act_on_count": to_act_on.count(),
        "today": timezone.localdate(),
        "guide": HousingGuide.objects.in_force_by_housing([housing.pk]).get(housing.pk),
        "outages": outages_of_unit(housing),
        "hire": Hire.objects.open_by_housing([housing.pk]).get(housing.pk),
        "transfer": Transfer.objects.open_by_housing([housing.pk]).get(housing.pk),
        "pulls": ProofPull.objects.by_housing([housing.pk]).get(housing.pk),
        "tables": newest_records(request, housing),
    }
    return render(request, "units/unit.html", context)


def _sides(housing: SuppressorHousing) -> dict[str, list[PadPosition]]:
    sides: dict[str, list[PadPosition]] = {"A": [], "B": []}
    for position in housing.positions.select_related("lot"):
        sides[position.side].append(position)
    return sides


def _machines_on(hammer: Hammer) -> dict[str, Any]:
    """Return the clamp and the power pack that are on a hammer today; None for none."""
    connections = PowerPackConnection.objects.current().filter(hammer=hammer)
    connection = connections.select_related("power_pack").first()
    return {
        "clamp": ClampFitting.objects.current().clamps_by_hammer([hammer.pk]).get(hammer.pk),
        "power_pack": connection.power_pack if connection else None,
    }
