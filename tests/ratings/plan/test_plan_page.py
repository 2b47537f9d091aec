"""The page that plans several jobs: the plan with its reasons, and units promised from it."""

from __future__ import annotations

import uuid
from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.outages import take_out_of_service
from inspections.calendar.days import State, days_of
from ratings.models import Commitment, ConditionKind, ExtractionJob
from ratings.plan.offers import plan_of_jobs
from ratings.plan.words import tick_key
from ratings.transfers.recording import record_yard_haul
from tests.all_tables import changed, everything
from tests.builders import count
from tests.job_builders import commit, extraction_job, figured_unit, transfer
from tests.site.html_form import error_at, words

pytestmark = pytest.mark.django_db


def day(ahead: int) -> date:
    return timezone.localdate() + timedelta(days=ahead)


def job(site: str, ahead: int = 3, **more: Any) -> ExtractionJob:
    return extraction_job(site=site, first_day=day(ahead), **more)


def page(client: Client, **query: str) -> str:
    return words(client.get(reverse("plan"), query))


def ticks(response: Any) -> list[str]:
    return [row.key for each in response.context["jobs"] for row in each.chosen]


def post(
    client: Client,
    ticked: list[str],
    until: date | None = None,
    named: str = "Odd Brandt",
    **more: Any,
) -> Any:
    sent: dict[str, Any] = {"submission_id": str(uuid.uuid4()), "promise": ticked, "care": ticked}
    sent |= {f"watched-{key}": named for key in ticked}
    query = f"?end={until.isoformat()}" if until else ""
    return client.post(reverse("plan") + query, sent | more)


def chosen(*jobs: ExtractionJob) -> dict[str, list[str]]:
    found = plan_of_jobs(jobs)
    return {
        each.job.site: [choice.offer.unit for choice in each.part.choices] if each.part else []
        for each in found.jobs
    }


def test_the_nearest_goes_and_the_page_says_why(dispatcher_client: Client) -> None:
    near, far = figured_unit(), figured_unit()
    job("Coal quay", distances={near.housing.yard_id: 12.0, far.housing.yard_id: 90.0})
    shown = page(dispatcher_client)
    assert "The nearest of the two that suit and are free: 12 mi." in shown
    assert f"Farther: 90 mi, {near.housing} 12 mi." in shown


def test_each_job_gets_a_unit_of_its_own() -> None:
    units = {figured_unit().housing.mark for _ in range(2)}
    found = chosen(job("Coal quay"), job("Lock gate"))
    assert {mark for marks in found.values() for mark in marks} == units


def test_a_job_gets_as_many_units_as_it_needs() -> None:
    for _ in range(3):
        figured_unit()
    assert len(chosen(job("Coal quay", units_needed=2))["Coal quay"]) == 2


def test_days_on_the_way_keep_a_unit_from_a_job_that_begins_next_day(
    dispatcher_client: Client,
) -> None:
    unit = figured_unit()
    first, second = job("Coal quay", 3, days=2), job("Lock gate", 6, days=2)
    assert chosen(first, second) == {"Coal quay": [unit.housing.mark], "Lock gate": []}
    shown = page(dispatcher_client)
    assert f"{unit.housing} is free then for all of it" in shown
    assert "Goes to Coal quay" in shown


def test_a_commitment_and_its_days_on_the_way_are_left_alone(dispatcher_client: Client) -> None:
    unit = figured_unit()
    commit(unit, job("Coal quay", 3, days=2))
    # The day after the job the unit is on the way back.
    second = job("Lock gate", 5, days=2)
    assert chosen(second) == {"Lock gate": []}
    assert "Held: Coal quay, with its days on the way" in page(dispatcher_client)


def test_a_job_that_has_its_units_asks_for_none(dispatcher_client: Client) -> None:
    unit = figured_unit()
    commit(unit, job("Coal quay"))
    shown = page(dispatcher_client)
    assert "1 of 1 job has all the units needed" in shown
    assert f"committed already: {unit.housing}" in shown


def test_a_unit_committed_that_fell_since_is_told(dispatcher_client: Client) -> None:
    unit = figured_unit()
    commit(unit, job("Coal quay"))
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "missing"}, at=timezone.now())
    shown = page(dispatcher_client)
    assert "The plan counts on it all the same" in shown
    assert "0 of 1 job" in shown
    assert "in doubt" in shown


def test_a_unit_on_its_way_to_another_yard_is_held() -> None:
    unit = figured_unit()
    transfer(unit, 3)
    assert chosen(job("Coal quay", 4)) == {"Coal quay": []}


def test_after_its_transfer_its_haul_is_from_the_other_yard() -> None:
    unit = figured_unit()
    sent = transfer(unit, 1)
    row = job("Coal quay", 9, distances={unit.housing.yard_id: 500.0, sent.goal_id: 15.0})
    assert plan_of_jobs([row]).plan.haul_mi == 15.0


def test_a_haul_goes_by_way_of_a_yard_that_has_one() -> None:
    unit, other = figured_unit(), figured_unit()
    record_yard_haul(
        submission_id=uuid.uuid4(),
        one=unit.housing.yard,
        other=other.housing.yard,
        haul_mi=100.0,
        by=unit.manager,
    )
    row = job("Coal quay", units_needed=2, distances={unit.housing.yard_id: 20.0})
    assert plan_of_jobs([row]).plan.haul_mi == 140.0


def test_a_job_no_unit_suits_says_which_comes_closest(dispatcher_client: Client) -> None:
    unit = figured_unit()
    job("Coal quay", capacity_lbf=30_000.0)
    shown = page(dispatcher_client)
    assert "1 unit short." in shown
    assert f"Closest: {unit.housing}" in shown


def test_a_unit_out_of_service_is_named_with_what_would_help(dispatcher_client: Client) -> None:
    unit = figured_unit()
    take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=unit.housing,
        since=timezone.now(),
        reason="Crack at the yoke",
        by=unit.manager,
    )
    job("Coal quay")
    assert f"Release it to service: {unit.housing} may go then." in page(dispatcher_client)


def test_the_units_ticked_are_promised(dispatcher_client: Client) -> None:
    figured_unit(), figured_unit()
    job("Coal quay"), job("Lock gate")
    offered = ticks(dispatcher_client.get(reverse("plan")))
    answer = post(dispatcher_client, offered[:1])
    assert Commitment.objects.in_force().count() == 1
    assert "is promised to Coal quay" in words(answer)


def test_one_refused_stops_none_of_the_rest_and_is_told(dispatcher_client: Client) -> None:
    first, second = figured_unit(), figured_unit()
    job("Coal quay"), job("Lock gate")
    offered = ticks(dispatcher_client.get(reverse("plan")))
    # Somebody else takes one of them meanwhile.
    is_first = offered[0].endswith(f"-{first.housing.pk}")
    taken = first if is_first else second
    commit(taken, job("Elsewhere"))
    told = words(post(dispatcher_client, offered))
    assert f"Refused: {taken.housing} for Coal quay" in told
    assert "is promised to Lock gate" in told
    assert Commitment.objects.in_force().count() == 2


def test_a_plan_looked_at_before_it_changed_is_told(dispatcher_client: Client) -> None:
    unit = figured_unit()
    row = job("Coal quay")
    offered = ticks(dispatcher_client.get(reverse("plan")))
    commit(unit, row)
    answer = post(dispatcher_client, offered)
    assert "the plan has changed since you looked at it" in words(answer)


def test_sent_twice_it_is_promised_once(dispatcher_client: Client) -> None:
    figured_unit()
    job("Coal quay")
    offered, sent = ticks(dispatcher_client.get(reverse("plan"))), str(uuid.uuid4())
    for _ in range(2):
        answer = post(dispatcher_client, offered, submission_id=sent)
        assert "is promised to Coal quay" in words(answer)
    assert Commitment.objects.count() == 1


def test_one_that_suits_with_care_only_asks_who_watches(dispatcher_client: Client) -> None:
    unit, row = figured_unit(listed_lbf=47_900), job("Coal quay")
    key = tick_key(row.pk, unit.housing.pk)
    shown = dispatcher_client.get(reverse("plan")).content.decode()
    assert f'name="care" value="{key}"' in shown.replace("\n", " ")
    before = everything()
    assert "committed only by somebody who knows that" in words(
        post(dispatcher_client, [key], care=[])
    )
    unnamed = post(dispatcher_client, [key], named=" ")
    assert "Who watches the pull is blank: give the name" in words(unnamed)
    too_long = post(dispatcher_client, [key], named="x" * 81)
    assert "Who watches the pull has 81 characters" in words(too_long)
    assert changed(before) == set()
    assert "is promised" in words(post(dispatcher_client, [key]))
    made = Commitment.objects.get()
    assert made.answer.contents["particulars"]["watched_by"] == "Odd Brandt"


def test_a_refusal_loses_nothing_that_was_ticked_and_typed(dispatcher_client: Client) -> None:
    unit, row = figured_unit(listed_lbf=47_900), job("Coal quay")
    key = tick_key(row.pk, unit.housing.pk)
    refused = post(dispatcher_client, [key], care=[])
    (shown,) = [each for planned in refused.context["jobs"] for each in planned.chosen]
    assert (shown.is_ticked, shown.is_care_known, shown.watched_by) == (True, False, "Odd Brandt")
    assert 'value="Odd Brandt"' in refused.content.decode()


@pytest.mark.parametrize("given", ["", "1", "1-2-3", "a-b", "9" * 400, "1-999999"])
def test_a_tick_that_was_never_offered_is_refused(dispatcher_client: Client, given: str) -> None:
    figured_unit()
    job("Coal quay")
    before = everything()
    assert post(dispatcher_client, [given]).status_code == 200
    assert changed(before) == set()


def test_a_job_far_ahead_is_promised_on_condition_of_a_count(dispatcher_client: Client) -> None:
    unit = figured_unit()
    row = job("Coal quay", 60)
    shown = page(dispatcher_client, end=day(90).isoformat())
    assert "on condition: count every pad and tape the travel" in shown
    post(dispatcher_client, [tick_key(row.pk, unit.housing.pk)], until=day(90))
    (made,) = Commitment.objects.in_force()
    (condition,) = made.conditions.all()
    assert condition.kind == ConditionKind.COUNT
    assert condition.to_day <= row.first_day
    (shown_days,) = days_of([unit.housing], day(58), day(64))
    assert State.PROMISED in {run.state for run in shown_days.runs}


def test_nothing_ticked_is_told(dispatcher_client: Client) -> None:
    figured_unit()
    job("Coal quay")
    assert "No unit was ticked" in words(post(dispatcher_client, []))


@pytest.mark.parametrize(
    ("name", "query", "said"),
    [
        ("end", {"start": "2026-03-14", "end": "2026-03-01"}, "before the first day"),
        ("end", {"start": "2026-03-14", "end": "2028-03-14"}, "at the most"),
        ("start", {"start": "0001-01-01"}, "too long ago"),
        ("start", {"start": "tomorrow"}, "This is not a day"),
        ("end", {"end": "9999-12-31"}, "ten years ahead"),
        ("jobs", {"jobs": "999999"}, "not one of the available choices"),
        ("jobs", {"jobs": "x"}, "not a valid"),
    ],
)
def test_what_cannot_be_asked_is_answered_beside_its_field(
    dispatcher_client: Client, name: str, query: dict[str, str], said: str
) -> None:
    job("Coal quay")
    answer = dispatcher_client.get(reverse("plan"), query)
    assert answer.status_code == 200
    assert said in " ".join(answer.context["form"].errors[name])
    assert said in words(answer) or said in error_at(answer, name)


def test_only_the_jobs_ticked_are_planned(dispatcher_client: Client) -> None:
    figured_unit()
    job("Coal quay")
    other = job("Lock gate")
    answer = dispatcher_client.get(reverse("plan"), {"jobs": str(other.pk)})
    assert [each.planned.job for each in answer.context["jobs"]] == [other]


def test_jobs_that_are_over_are_not_planned(dispatcher_client: Client) -> None:
    job("Coal quay", -9)
    assert "No job of these days is on record" in page(dispatcher_client)
