from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from fleet.context import system_of
from fleet.models import Mounting, PadPosition, SuppressorHousing
from inspections.units.advice import advise, stale_lots
from inspections.units.arithmetic import hand_arithmetic
from ratings.jobs.commitments import holds_of_unit
from ratings.ledger.differences import differences, pull_change_lbf
from ratings.mechanics.standing import Standing
from ratings.models import LedgerEntry, Listing
from ratings.pictures import history_graphs, large_rules


@dataclass(frozen=True)
class LedgerLine:
    """A ledger entry beside the one before it."""

    entry: LedgerEntry
    changes: list[str]
    pull_change_lbf: float | None


def unit(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Show one unit: what it can pull, how that is reckoned, and how it came to be."""
    housing = get_object_or_404(SuppressorHousing.objects.select_related("yard"), pk=housing_id)
    system = system_of(request)
    entries = list(
        LedgerEntry.objects.filter(housing=housing)
        .select_related("recorded_by", "corrects")
        .prefetch_related("corrections")
        .order_by("sequence")
    )
    head = entries[-1] if entries else None
    mounting = Mounting.objects.current().filter(housing=housing).select_related("hammer").first()
    spells = list(housing.times_out_of_service.select_related("recorded_by", "released_by"))
    findings = list(
        housing.findings.select_related(
            "housing", "inspection__recorded_by", "closing__recorded_by"
        ).prefetch_related("photos__held")
    )
    context = {
        "section": "board",
        "housing": housing,
        "hammer": mounting.hammer if mounting else None,
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
        "holds": holds_of_unit(housing),
        "advice": advise(housing),
        "stale_lots": stale_lots(housing),
        "sides": _sides(housing),
        "ledger": _ledger_lines(entries, system),
        "graphs": history_graphs(entries, housing.mark, system) if entries else None,
        "findings": findings,
        "to_act_on": [each for each in findings if _is_to_act_on(each)],
        "today": timezone.localdate(),
        "mountings": housing.mountings.select_related("hammer"),
        "records": _records(housing),
        "spell": next((each for each in spells if each.released_at is None), None),
        "spells": spells,
    }
    return render(request, "units/unit.html", context)


def _is_to_act_on(finding: Any) -> bool:
    return not hasattr(finding, "closing") and finding.severity != "note"


def _records(housing: SuppressorHousing) -> list[tuple[datetime, str, Any]]:
    """Inspections and pad replacements, each with its time and what it is, the newest first."""
    inspections = housing.inspections.select_related("recorded_by", "own_kind", "corrected_by")
    replacements = housing.replacements.select_related("recorded_by", "corrected_by")
    records: list[tuple[datetime, str, Any]]
    records = [(each.seen_at, "inspection", each) for each in inspections]
    records += [(each.fitted_at, "replacement", each) for each in replacements]
    return sorted(records, key=lambda record: record[0], reverse=True)


def _sides(housing: SuppressorHousing) -> dict[str, list[PadPosition]]:
    sides: dict[str, list[PadPosition]] = {"A": [], "B": []}
    for position in housing.positions.select_related("lot"):
        sides[position.side].append(position)
    return sides


def _ledger_lines(entries: list[LedgerEntry], system: str) -> list[LedgerLine]:
    """Newest first, as people look for it."""
    befores = [None, *entries][: len(entries)]
    lines = [
        LedgerLine(entry, differences(before, entry, system), pull_change_lbf(before, entry))
        for before, entry in zip(befores, entries, strict=True)
    ]
    return lines[::-1]
