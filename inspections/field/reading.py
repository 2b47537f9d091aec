"""What a phone takes along to read of a unit: its figures and findings, in the reader's words."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from django.utils import timezone

from fleet.dates import day_words
from fleet.models import MachineSort, SuppressorHousing
from fleet.quantities import Quantity, capacity_words, listed_words, pull_words
from fleet.units import Hung
from inspections.models import Finding
from inspections.schedule.due import open_findings
from ratings.models import LedgerEntry

Words = list[str]


def reading(housing: Any, system: str, findings: dict[int, list[Finding]]) -> dict[str, Any]:
    """Return what stands of a unit and what was found, as words in the reader's units.

    housing: of a query with_last_seen, with its current rating. findings: from findings_by_housing.
    """
    rating = getattr(housing, "current_rating", None)
    head = rating.head if rating else None
    return {
        "sure": head.risk_words if head else "",
        "figures": _figures(housing, head, system),
        "missing": head.results["missing"] if head else [],
        "findings": [_finding_words(each) for each in findings.get(housing.pk, [])],
    }


def findings_by_housing(
    housings: Collection[SuppressorHousing], hung: Mapping[int, Hung]
) -> dict[int, list[Finding]]:
    """Return the findings still open of what hangs together with each housing, the gravest first.

    hung: of hung_today. In a fixed number of queries.
    """
    open_now = list(open_findings())
    by_machine: dict[tuple[str, int], list[Finding]] = {}
    for finding in open_now:
        for sort in MachineSort:
            key = getattr(finding, f"{sort.column}_id")
            if key is not None:
                by_machine.setdefault((sort.column, key), []).append(finding)
    found: dict[int, list[Finding]] = {}
    for housing in housings:
        machines = hung[housing.pk].by_sort if housing.pk in hung else {}
        keys = {(sort.column, machine.pk) for sort, machine in machines.items()}
        keys.add((MachineSort.HOUSING.column, housing.pk))
        mine = {each.pk for key in keys for each in by_machine.get(key, [])}
        found[housing.pk] = [each for each in open_now if each.pk in mine]
    return found


def _figures(housing: Any, head: LedgerEntry | None, system: str) -> list[Words]:
    listed_lbf = head.listed_lbf if head else None
    capacity_lbf = head.working_capacity_lbf if head else None
    figures = [
        ["Working capacity", capacity_words(capacity_lbf, system, listed_lbf=listed_lbf)],
        ["Listed", listed_words(listed_lbf, system)],
        [
            "Line pull",
            pull_words(head.pull_lbf if head else None, system, listed_lbf=listed_lbf),
        ],
        ["Sound pads", head.sound_pads_words if head else "nothing counted yet"],
        ["Last full count", day_words(housing.counted_at) if housing.counted_at else "never made"],
        ["Travel taped", _length(housing.travel_in, system)],
    ]
    if head and head.usable_travel_in is not None:
        limited = head.results["limited_by"]
        words = _length(head.usable_travel_in, system)
        figures.append(["Usable travel", f"{words}, limited by {limited}" if limited else words])
    return figures


def _length(inches: float | None, system: str) -> str:
    return "not taped" if inches is None else Quantity.LENGTH.words(inches, system)


def _finding_words(finding: Finding) -> str:
    words = f"{finding.text} ({finding.get_severity_display()}"
    if finding.act_by is None:
        return f"{words})"
    late = ", overdue" if finding.act_by < timezone.localdate() else ""
    return f"{words}, {finding.who_acts} by {day_words(finding.act_by)}{late})"
