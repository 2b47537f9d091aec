from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from fleet.context import system_of
from fleet.models import (
    Hire,
    MachineSort,
    Mounting,
    SuppressorHousing,
    Transfer,
)
from fleet.outages import outages_of_unit
from inspections.card.facts import Known, why_no_card
from inspections.count.newest_facts import not_of_the_facts_words, unexplained
from inspections.count.second_look import second_looks_wanted
from inspections.forecast.tables import days_ahead
from inspections.models import Finding, Forecast, ReceivedUnit
from inspections.schedule.due import due_of_fleet, findings_with_gravity
from inspections.units.advice import advise, better_tests
from inspections.units.arithmetic import hand_arithmetic
from inspections.units.records import newest_records
from inspections.units.strain import strains
from ratings.jobs.validity import commitments_of_unit
from ratings.ledger.facts import gather
from ratings.mechanics.standing import Standing
from ratings.models import LedgerEntry, PullRecord
from ratings.pictures import history_graphs, large_rules
from ratings.surveillance.words import softenings

# More would hide the steps they are drawn by, and every one of them weighs on the page.
ENTRIES_DRAWN = 200
FINDINGS_NAMED = 5


def _not_of_the_facts(housing: SuppressorHousing) -> str:
    """Say that its ledger and its records are two things, "" where they are one."""
    differs = unexplained(housing)
    return not_of_the_facts_words(housing, differs) if differs else ""


def unit(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Show one unit: what it can pull, how that is calculated, and how it came to be."""
    asked = SuppressorHousing.objects.select_related("yard").with_last_seen()
    housing = get_object_or_404(asked, pk=housing_id)
    system = system_of(request)
    ledger = LedgerEntry.objects.filter(housing=housing).order_by("-sequence")
    head = ledger.first()
    drawn = ledger.only("recorded_at", "pull_lbf", "working_capacity_lbf", "listed_lbf")
    mounting = Mounting.objects.current().filter(housing=housing).select_related("hammer").first()
    to_act_on = list(findings_with_gravity(Finding.objects.of_units([housing.pk]).to_mend()))
    due = due_of_fleet([housing])[0]
    hung = {each.sort: each.machine for each in due.machines}
    facts = gather([housing])[housing.pk]
    inputs = facts.inputs
    hammer = mounting.hammer if mounting else None
    positions = sorted(facts.positions, key=lambda each: (each.side, each.number))
    fitted = {each.lot.mark: each.lot for each in positions if each.lot is not None}
    lots = [fitted[mark] for mark in sorted(fitted)]
    counted = {housing.pk: getattr(housing, "counted_at", None)}
    kept_forecast = Forecast.objects.filter(housing=housing).first()
    outages = outages_of_unit(housing)
    context = {
        "section": "board",
        "housing": housing,
        "not_of_the_facts": _not_of_the_facts(housing),
        "overload": PullRecord.objects.open_overloads(counted).get(housing.pk),
        "hammer": hammer,
        "clamp": hung.get(MachineSort.CLAMP),
        "power_pack": hung.get(MachineSort.POWER_PACK),
        "mounting": mounting,
        "listing": facts.listing,
        "head": head,
        "standing": head.judged if head else Standing.UNRATED,
        "rules": large_rules(head, housing.mark, system),
        "arithmetic": hand_arithmetic(head) if head else None,
        "commitments": commitments_of_unit(housing),
        "advice": advise(inputs),
        "better_tests": better_tests(inputs, facts.ratings),
        "stale_rates": sorted((rate.lot, rate.stale) for rate in inputs.lots if rate.stale),
        "sides": {side: [each for each in positions if each.side == side] for side in "AB"},
        "softenings": softenings([lot.pk for lot in lots]),
        "strains": strains(housing, lots, head, inputs.policy),
        "graphs": (
            history_graphs(list(drawn[:ENTRIES_DRAWN])[::-1], housing.mark, system)
            if head
            else None
        ),
        "due": due,
        "second_looks": second_looks_wanted().filter(housing=housing),
        "said_sound": [each for each in positions if each.said_sound_at is not None],
        "to_act_on": to_act_on[:FINDINGS_NAMED],
        "to_act_on_count": len(to_act_on),
        "today": timezone.localdate(),
        "guide": facts.guide,
        "outages": outages,
        "has_card": not why_no_card(Known(housing, head, due, facts, outages)),
        "received": ReceivedUnit.objects.filter(housing=housing)
        .select_related("recorded_by")
        .first(),
        "hire": Hire.objects.open_by_housing([housing.pk]).get(housing.pk),
        "transfer": Transfer.objects.open_by_housing([housing.pk]).get(housing.pk),
        "pulls": facts.pulls,
        "kept_forecast": kept_forecast,
        "days_ahead": days_ahead(kept_forecast.document) if kept_forecast else [],
        "tables": newest_records(request, housing),
    }
    return render(request, "units/unit.html", context)
