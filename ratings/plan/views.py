"""The page that plans several jobs at once."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from fleet.context import system_of
from fleet.roles import planner_required, signed_in
from ratings.jobs.commitments import LONGEST_NAME
from ratings.jobs.validity import CommitmentNow, commitments_of_job
from ratings.plan.forms import DEFAULT_DAYS, PlanForm
from ratings.plan.offers import FleetPlan, PlannedJob, plan_of_jobs
from ratings.plan.promising import Promised, promise
from ratings.plan.words import MOST_WAYS, Row, chosen_rows, closest_row, passed_rows, way_words


@dataclass(frozen=True)
class JobOnPage:
    """A job of the plan as the page shows it."""

    planned: PlannedJob
    chosen: list[Row]
    passed: list[Row]
    ways: list[str]
    closest: Row | None
    warnings: list[CommitmentNow]


@planner_required
def plan(request: HttpRequest) -> HttpResponse:
    """Show the best plan for the jobs of some days, and promise the units of it that are ticked."""
    asked = request.GET.copy()
    today = timezone.localdate()
    asked.setdefault("start", today.isoformat())
    asked.setdefault("end", (today + timedelta(days=DEFAULT_DAYS - 1)).isoformat())
    form = PlanForm(asked)
    context: dict[str, Any] = {"section": "jobs", "form": form}
    if form.is_valid():
        jobs = form.chosen
        found = plan_of_jobs(jobs)
        promised: list[Promised] = []
        if request.method == "POST":
            promised = _promise(request, found)
            # As it is once these are held.
            found = plan_of_jobs(jobs)
        context |= _shown(found, request) | {
            "promised": [each for each in promised if each.commitment],
            "refused": [each for each in promised if each.refusal],
            "submission_id": uuid.uuid4(),
            "nothing_ticked": request.method == "POST" and not promised,
        }
    return render(request, "plan/plan.html", context)


def _promise(request: HttpRequest, found: FleetPlan) -> list[Promised]:
    try:
        sent = uuid.UUID(request.POST.get("submission_id", ""))
    except ValueError:
        sent = uuid.uuid4()
    ticked = request.POST.getlist("promise")
    return promise(
        submission_id=sent,
        plan=found,
        ticked=ticked,
        known_with_care=request.POST.getlist("care"),
        watched_by={key: request.POST.get(f"watched-{key}", "") for key in ticked},
        by=signed_in(request),
    )


def _warnings(planned: PlannedJob) -> list[CommitmentNow]:
    """Return the commitments of a job that don't hold as they were made: it counts on them."""
    if not planned.committed:
        return []
    return [each for each in commitments_of_job(planned.job) if each.is_live and each.is_void]


def _as_sent(row: Row, request: HttpRequest) -> Row:
    """Return a row with what somebody ticked and typed, so that a refusal loses none of it."""
    if request.method != "POST":
        return row
    return replace(
        row,
        is_ticked=row.key in request.POST.getlist("promise"),
        is_care_known=row.key in request.POST.getlist("care"),
        watched_by=request.POST.get(f"watched-{row.key}", ""),
    )


def _shown(found: FleetPlan, request: HttpRequest) -> dict[str, Any]:
    system = system_of(request)
    jobs = [
        JobOnPage(
            each,
            [_as_sent(row, request) for row in chosen_rows(each.part, found, system)]
            if each.part
            else [],
            passed_rows(each.part, found, system) if each.part else [],
            [way_words(way) for way in each.part.ways[:MOST_WAYS]] if each.part else [],
            closest_row(each.part, found, system) if each.part and each.missing else None,
            _warnings(each),
        )
        for each in found.jobs
    ]
    return {
        "jobs": jobs,
        # One that counts on a commitment that holds no more is not served for sure.
        "served": sum(each.planned.missing == 0 and not each.warnings for each in jobs),
        "haul_mi": found.plan.haul_mi,
        "is_proven": found.plan.is_proven,
        "longest_name": LONGEST_NAME,
        "has_choices": any(each.chosen for each in jobs),
    }
