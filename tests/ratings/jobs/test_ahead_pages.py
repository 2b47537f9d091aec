"""Committing ahead of time by its form, the page that says what is missing, and confirming."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django.utils.timezone import localdate

from ratings.models import Commitment, CommitmentConfirmation, ConditionKind
from tests.builders import Unit, count, days_ago
from tests.job_builders import commit, extraction_job, figured_unit
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def tomorrow() -> date:
    return localdate() + timedelta(days=1)


def overdue(**more: Any) -> Unit:
    return figured_unit(counted_at=days_ago(60), **more)


def sent(page: str, **more: str) -> dict[str, str]:
    """The form that commits ahead of time as the page has it, its first thing ticked."""
    submission = page.split('id="ahead"')[1].split('name="submission_id" value="')[1][:36]
    return {
        "ahead": "1",
        "submission_id": submission,
        "do_0": "on",
        "from_0": f"{localdate()}",
        "to_0": f"{tomorrow()}",
        "with_care": "on",
    } | more


def asked(client: Client, unit: Unit, **more: str) -> Any:
    job = extraction_job(site="Lock gate")
    url = reverse("job-unit", args=[job.pk, unit.housing.pk])
    return client.post(url, sent(client.get(url).content.decode(), **more))


def test_a_dispatcher_commits_a_unit_that_is_to_be_counted_first(
    dispatcher_client: Client,
) -> None:
    unit = overdue()
    assert asked(dispatcher_client, unit).status_code == 302
    made = Commitment.objects.get()
    condition = made.conditions.get()
    assert (condition.kind, condition.from_day, condition.to_day) == (
        "count",
        localdate(),
        tomorrow(),
    )
    page = words(dispatcher_client.get(reverse("commitment", args=[made.pk])))
    assert "NOT YET" in page
    assert "Count every pad and tape the travel" in page
    sheet = dispatcher_client.get(reverse("pull-sheet", args=[made.pk]))
    assert sheet.status_code == 409
    assert "No pull sheet yet" in words(sheet)
    assert "count every pad and tape the travel" in words(sheet)
    assert "NOT YET" in words(Client().get(reverse("crew", args=[made.code])))


def test_what_is_still_to_do_is_marked_as_assumed_in_the_answer_below(
    dispatcher_client: Client,
) -> None:
    unit = overdue()
    asked(dispatcher_client, unit)
    url = reverse("commitment", args=[Commitment.objects.get().pk])
    page = words(dispatcher_client.get(url))
    assert "assumed done This answer takes as done what stands “to do”" in page
    assert "Inspection assumed done" in page
    assert "Not done yet, taken as done on its day." in page
    assert "Inspection holds" not in page
    assert "Standing holds" in page
    count(unit.housing, unit.manager, unit.lot, at=timezone.now())
    page = words(dispatcher_client.get(url))
    assert "Inspection holds" in page
    assert "assumed done" not in page


def test_once_all_is_done_one_button_confirms_it_and_the_sheet_prints(
    dispatcher_client: Client,
) -> None:
    unit = overdue()
    asked(dispatcher_client, unit)
    made = Commitment.objects.get()
    count(unit.housing, unit.manager, unit.lot, at=timezone.now())
    page = dispatcher_client.get(reverse("commitment", args=[made.pk]))
    assert "Confirm it on an answer of now" in words(page)
    submission = page.content.decode().split('name="submission_id" value="')[1][:36]
    url = reverse("confirm-commitment", args=[made.pk])
    unnamed = {"submission_id": submission, "with_care": "on"}
    assert "give the name" in words(dispatcher_client.post(url, unnamed, follow=True))
    for _ in range(2):
        sent = {"submission_id": submission, "with_care": "on", "watched_by": "Ines Halloran"}
        answer = dispatcher_client.post(url, sent)
        assert answer["Location"] == reverse("commitment", args=[made.pk])
    assert CommitmentConfirmation.objects.count() == 1
    sheet = dispatcher_client.get(reverse("pull-sheet", args=[made.pk]))
    assert sheet["Content-Type"] == "application/pdf"
    shown = words(dispatcher_client.get(reverse("commitment", args=[made.pk])))
    assert "The answer it is confirmed on" in shown


def test_confirmed_too_early_it_says_what_is_missing(dispatcher_client: Client) -> None:
    asked(dispatcher_client, overdue())
    made = Commitment.objects.get()
    url = reverse("confirm-commitment", args=[made.pk])
    response = dispatcher_client.post(url, {"submission_id": f"{made.answer.submission_id}"})
    shown = words(dispatcher_client.get(response["Location"]))
    assert "Not confirmed. This is not done yet: count every pad" in shown
    response = dispatcher_client.post(url, {"submission_id": "nonsense"})
    assert "load this page again" in words(dispatcher_client.get(response["Location"]))


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (lambda: {"from_0": ""}, "Give the day: this is ticked or written."),
        (lambda: {"to_0": "soon"}, "This is no day: give one such as 2026-12-03."),
        (
            lambda: {"to_0": f"{localdate() + timedelta(days=40)}"},
            "is after the first day of the job",
        ),
        (lambda: {"from_0": f"{tomorrow()}", "to_0": f"{localdate()}"}, "turn the days round"),
        (lambda: {"from_0": "2020-01-01", "to_0": "2020-01-02"}, "is past"),
        (lambda: {"other_0": "A permit"}, "Give the day: this is ticked or written."),
        (lambda: {"other_0": "x" * 201}, "200 at the most"),
        (lambda: {"do_0": "", "from_0": "", "to_0": ""}, "Nothing is to be done"),
        (lambda: {"indicator": "99999"}, "Select a valid choice"),
    ],
)
def test_bad_input_is_refused_with_words_and_commits_nothing(
    dispatcher_client: Client, typed: Callable[[], dict[str, str]], said: str
) -> None:
    response = asked(dispatcher_client, overdue(), **typed())
    assert response.status_code == 200
    assert said in words(response)
    assert not Commitment.objects.exists()


def test_without_the_tick_that_would_do_it_is_refused(dispatcher_client: Client) -> None:
    typed = {
        "do_0": "",
        "other_0": "Permit",
        "from_other_0": f"{localdate()}",
        "to_other_0": f"{localdate()}",
    }
    response = asked(dispatcher_client, overdue(), **typed)
    assert "would still be not ready for this job: its pads are not counted in time" in words(
        response
    )
    assert not Commitment.objects.exists()


def test_a_form_with_nothing_ticked_says_so(dispatcher_client: Client) -> None:
    typed = {"do_0": "", "from_0": "", "to_0": "", "with_care": ""}
    told = words(asked(dispatcher_client, overdue(), **typed))
    assert "Nothing is to be done: tick what will be" in told


def test_care_that_nobody_knows_of_is_asked_at_its_tick(dispatcher_client: Client) -> None:
    told = words(asked(dispatcher_client, overdue(), with_care=""))
    assert "committed only by somebody who knows that it is suitable with care only" in told
    assert not Commitment.objects.exists()


def test_ways_to_fit_pads_are_offered_and_only_one_is_taken(dispatcher_client: Client) -> None:
    unit = figured_unit(unsound={"A1": "cracked", "A2": "cracked"}, in_stock=4)
    job = extraction_job()
    url = reverse("job-unit", args=[job.pk, unit.housing.pk])
    page = dispatcher_client.get(url)
    assert f"of lot {unit.lot.mark} in " in words(page)
    assert dispatcher_client.post(url, sent(page.content.decode())).status_code == 302
    condition = Commitment.objects.get().conditions.get()
    assert condition.kind == ConditionKind.PADS
    assert condition.lot == unit.lot
    assert condition.positions


def test_a_note_meets_what_no_record_shows(dispatcher_client: Client) -> None:
    days = {"from_other_0": f"{localdate()}", "to_other_0": f"{tomorrow()}"}
    asked(dispatcher_client, overdue(), other_0="Permit", **days)
    made = Commitment.objects.get()
    condition = made.conditions.get(kind="other")
    url = reverse("meet-condition", args=[condition.pk])
    page = dispatcher_client.get(url).content.decode()
    submission = page.split('name="submission_id" value="')[1][:36]
    blank = dispatcher_client.post(url, {"submission_id": submission, "note": " "})
    assert blank.status_code == 200
    done = dispatcher_client.post(url, {"submission_id": submission, "note": "Permit 12."})
    assert done["Location"] == reverse("commitment", args=[made.pk])
    assert "Permit 12" in words(dispatcher_client.get(done["Location"]))
    counted = made.conditions.get(kind="count")
    assert dispatcher_client.get(reverse("meet-condition", args=[counted.pk])).status_code == 404


@pytest.mark.parametrize("name", ["board", "jobs"])
def test_a_commitment_that_fell_is_on_the_board_and_on_jobs(
    auditor_client: Client, name: str
) -> None:
    unit = figured_unit()
    commit(unit, extraction_job(site="Coal quay"))
    assert "holds no more" not in words(auditor_client.get(reverse(name)))
    faults = {f"A{number}": "cracked" for number in (1, 2, 3)}
    count(unit.housing, unit.manager, unit.lot, unsound=faults, at=timezone.now())
    page = words(auditor_client.get(reverse(name)))
    assert "1 commitment holds no more. Its pull sheet is void:" in page
    assert f"{unit.housing.mark} for Coal quay" in page
    assert "Do not send it out." in page


def test_jobs_say_beside_a_unit_what_its_sheet_is(dispatcher_client: Client) -> None:
    unit = overdue()
    asked(dispatcher_client, unit)
    assert f"{unit.housing.mark} (not yet)" in words(dispatcher_client.get(reverse("jobs")))
