"""One unit's page for a job on record: committing it, and releasing it again."""

from __future__ import annotations

import uuid
from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.models import Clamp, OutOfService
from fleet.models.clamp import HELD_BY_COLUMN
from inspections.count.signing import Seen, sign_inspection
from inspections.count.submission import Submission
from ratings.jobs.commitments import CannotCommit
from ratings.models import Commitment, ExtractionJob
from tests.builders import Unit, count, days_ago
from tests.factories import HousingFactory
from tests.job_builders import commit, extraction_job, figured_unit
from tests.ratings.jobs.asked_job import answer, form_of
from tests.site.html_form import Fields, error_at, fields_of, opened, words

pytestmark = pytest.mark.django_db


def url_of(job: ExtractionJob, unit: Unit) -> str:
    return reverse("job-unit", args=[job.pk, unit.housing.pk])


def form(client: Client, job: ExtractionJob, unit: Unit) -> Fields:
    return opened(client, url_of(job, unit))


def test_a_suitable_unit_is_committed_with_one_button(dispatcher_client: Client) -> None:
    unit, job = figured_unit(rate_lbf_in=1500.0), extraction_job()
    response = dispatcher_client.post(url_of(job, unit), form(dispatcher_client, job, unit))
    made = Commitment.objects.get()
    assert response.status_code == 302
    assert response["Location"] == reverse("commitment", args=[made.pk])
    assert (made.job, made.housing) == (job, unit.housing)


def test_the_button_names_the_days(dispatcher_client: Client) -> None:
    day = date(timezone.localdate().year + 1, 12, 3)
    unit = figured_unit(rate_lbf_in=1500.0)
    count(unit.housing, unit.manager, unit.lot, at=timezone.now())
    job = extraction_job(first_day=timezone.localdate() + timedelta(days=1), days=1)
    page = words(dispatcher_client.get(url_of(job, unit)))
    assert f"Commit this unit for {job.first_day:%-d %b %Y}" in page
    assert day > job.first_day


def test_with_care_only_by_somebody_who_says_so(dispatcher_client: Client) -> None:
    unit, job = figured_unit(), extraction_job()
    # Asked from the start, and not once it is refused.
    page = dispatcher_client.get(url_of(job, unit)).content.decode()
    assert 'name="with_care"' in page.split("Commit this unit for")[0]
    fields = form(dispatcher_client, job, unit)
    refused = dispatcher_client.post(url_of(job, unit), fields)
    assert refused.status_code == 200
    assert "only by somebody who knows that it is suitable with care only" in words(refused)
    assert not Commitment.objects.exists()
    unnamed = dispatcher_client.post(url_of(job, unit), fields | {"with_care": "on"})
    assert "give the name" in error_at(unnamed, "watched_by")
    named = fields | {"with_care": "on", "watched_by": " Ines Halloran "}
    assert dispatcher_client.post(url_of(job, unit), named).status_code == 302
    answer = Commitment.objects.get().answer
    assert answer.contents["particulars"]["watched_by"] == "Ines Halloran"


def test_a_unit_looked_at_since_its_last_full_count_shows_both_days(
    dispatcher_client: Client,
) -> None:
    unit, job = figured_unit(rate_lbf_in=1500.0), extraction_job()
    url, today = url_of(job, unit), timezone.localdate()
    assert "Last looked at" not in words(dispatcher_client.get(url))
    sign_inspection(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(seen_at=timezone.now(), pads=[], note="Walked past it."),
        by=unit.manager,
    )
    told = words(dispatcher_client.get(url))
    assert f"Last looked at on {today:%-d %b %Y}, and not counted in full." in told


def test_a_second_copy_commits_once(dispatcher_client: Client) -> None:
    unit, job = figured_unit(rate_lbf_in=1500.0), extraction_job()
    fields = form(dispatcher_client, job, unit)
    for _ in range(2):
        dispatcher_client.post(url_of(job, unit), fields)
    assert Commitment.objects.count() == 1


def test_a_unit_that_is_not_suitable_has_no_button_and_is_refused(
    dispatcher_client: Client,
) -> None:
    unit, job = figured_unit({"clamp_force_lbf": 20_000.0}), extraction_job()
    assert "Commit this unit" not in words(dispatcher_client.get(url_of(job, unit)))
    sent = {"submission_id": str(uuid.uuid4())}
    refused = dispatcher_client.post(url_of(job, unit), sent)
    assert "not suitable for this job (clamp grip)" in words(refused)
    assert not Commitment.objects.exists()


@pytest.mark.parametrize(
    "held", [{"holds_h": False}, dict.fromkeys(HELD_BY_COLUMN, None)], ids=["other", "unknown"]
)
def test_a_unit_whose_clamp_does_not_hold_the_pile_is_offered_no_form_ahead_of_time(
    dispatcher_client: Client, held: dict[str, bool | None]
) -> None:
    unit, job = figured_unit(rate_lbf_in=1500.0), extraction_job()
    Clamp.objects.update(**held)
    page = words(dispatcher_client.get(url_of(job, unit)))
    assert "Commit it on these conditions" not in page
    assert "can’t be committed ahead of time either: its clamp is not on record as one" in page


def test_a_unit_that_something_planned_would_mend_is_offered_the_form_ahead_of_time(
    dispatcher_client: Client,
) -> None:
    unit = figured_unit(counted_at=days_ago(60))
    page = words(dispatcher_client.get(url_of(extraction_job(), unit)))
    assert "Commit it on these conditions" in page
    assert "ahead of time either" not in page


@pytest.mark.parametrize(
    ("off", "days", "said"), [(-9, 3, "are past"), (1, 400, "at the most, since nobody")]
)
def test_days_no_unit_can_be_committed_for_are_told_at_the_head(
    dispatcher_client: Client, off: int, days: int, said: str
) -> None:
    unit = figured_unit(rate_lbf_in=1500.0)
    job = extraction_job(first_day=timezone.localdate() + timedelta(days=off), days=days)
    page = words(dispatcher_client.get(url_of(job, unit)))
    assert "Nothing can be committed on these days." in page
    assert said in page
    assert "Commit this unit" not in page
    assert "Commit it on these conditions" not in page
    ranked = words(answer(dispatcher_client, form_of(dispatcher_client, job)))
    assert "Nothing can be committed on these days." in ranked
    assert "may go only once" not in ranked
    assert f"Commit {unit.housing}" not in ranked
    assert said in ranked


def test_days_that_can_be_committed_for_are_told_of_nothing(dispatcher_client: Client) -> None:
    unit, job = figured_unit(rate_lbf_in=1500.0), extraction_job()
    for page in (
        dispatcher_client.get(url_of(job, unit)),
        answer(dispatcher_client, form_of(dispatcher_client, job)),
    ):
        assert "Nothing can be committed" not in words(page)


def test_a_unit_taken_meanwhile_is_refused_in_words(dispatcher_client: Client) -> None:
    unit, job = figured_unit(rate_lbf_in=1500.0), extraction_job()
    fields = form(dispatcher_client, job, unit)
    commit(unit, extraction_job(site="Dolphin 9"))
    refused = dispatcher_client.post(url_of(job, unit), fields)
    assert refused.status_code == 200
    assert Commitment.objects.count() == 1


def test_only_who_plans_may_commit(auditor_client: Client) -> None:
    unit, job = figured_unit(rate_lbf_in=1500.0), extraction_job()
    assert "Commit this unit" not in words(auditor_client.get(url_of(job, unit)))
    sent = {"submission_id": str(uuid.uuid4())}
    assert auditor_client.post(url_of(job, unit), sent).status_code == 403
    assert not Commitment.objects.exists()


def test_a_unit_committed_leads_to_its_papers(dispatcher_client: Client) -> None:
    unit, job = figured_unit(), extraction_job()
    made = commit(unit, job)
    response = dispatcher_client.get(url_of(job, unit))
    assert "Committed to this job" in words(response)
    assert reverse("commitment", args=[made.pk]) in response.content.decode()


def test_a_housing_off_the_hammer_is_not_found(dispatcher_client: Client) -> None:
    url = reverse("job-unit", args=[extraction_job().pk, HousingFactory().pk])
    assert dispatcher_client.get(url).status_code == 404


def test_a_unit_is_released_for_a_reason(dispatcher_client: Client) -> None:
    made = commit(figured_unit(), extraction_job())
    url = reverse("release-commitment", args=[made.pk])
    blank = dispatcher_client.post(url, {"reason": " "})
    assert blank.status_code == 200
    assert dispatcher_client.post(url, {"reason": "Rained off."}).status_code == 302
    made.refresh_from_db()
    assert made.release_reason == "Rained off."


def test_only_who_plans_may_release(auditor_client: Client) -> None:
    made = commit(figured_unit(), extraction_job())
    url = reverse("release-commitment", args=[made.pk])
    assert auditor_client.get(url).status_code == 403
    assert auditor_client.post(url, {"reason": "x"}).status_code == 403


def test_a_release_keeps_what_was_typed_where_it_is_too_long(dispatcher_client: Client) -> None:
    made = commit(figured_unit(), extraction_job())
    url = reverse("release-commitment", args=[made.pk])
    refused = dispatcher_client.post(url, {"reason": "x" * 500})
    assert fields_of(refused)["reason"] == "x" * 500


def test_a_standing_that_fell_is_at_the_top_of_job_and_unit(dispatcher_client: Client) -> None:
    unit, job = figured_unit(), extraction_job()
    commit(unit, job)
    faults = {f"A{number}": "cracked" for number in (1, 2, 3)}
    count(unit.housing, unit.manager, unit.lot, unsound=faults, at=timezone.now())
    for url in (
        reverse("job", args=[job.pk]),
        reverse("unit", args=[unit.housing.pk]),
    ):
        page = words(dispatcher_client.get(url))
        assert "Do not send it out. The standing of" in page
        assert page.index("Do not send it out.") < 900


def test_a_unit_taken_out_of_service_is_at_the_top_of_its_job(dispatcher_client: Client) -> None:
    unit, job = figured_unit(), extraction_job()
    commit(unit, job)
    OutOfService.objects.create(
        housing=unit.housing,
        since=timezone.now(),
        reason="<b>cracked</b> lug",
        recorded_by=unit.manager,
        submission_id=uuid.uuid4(),
    )
    response = dispatcher_client.get(reverse("job", args=[job.pk]))
    assert "is out of service: <b>cracked</b> lug." in words(response)
    assert "<b>cracked</b>" not in response.content.decode()


def test_the_units_of_a_job_are_listed_with_their_papers(dispatcher_client: Client) -> None:
    unit, job = figured_unit(), extraction_job()
    made = commit(unit, job)
    response = dispatcher_client.get(reverse("job", args=[job.pk]))
    assert "as it was committed" in words(response)
    for name in ("commitment", "pull-sheet", "release-commitment"):
        assert reverse(name, args=[made.pk]) in response.content.decode()


def test_the_board_says_what_holds_a_unit(dispatcher_client: Client) -> None:
    unit = figured_unit()
    commit(unit, extraction_job(site="<i>Dolphin</i> 9"))
    response = dispatcher_client.get(reverse("board"))
    assert "held by <i>Dolphin</i> 9, " in words(response)
    assert "<i>Dolphin" not in response.content.decode()


def test_a_bare_note_commits_no_unit_whose_last_full_count_is_too_old(
    dispatcher_client: Client,
) -> None:
    unit, job = figured_unit(counted_at=days_ago(60)), extraction_job()
    sign_inspection(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(seen_at=timezone.now(), pads=[], note="Walked past it."),
        by=unit.manager,
    )
    page = words(dispatcher_client.get(url_of(job, unit)))
    old, today = (f"{timezone.localdate() - timedelta(days=ago):%-d %b %Y}" for ago in (60, 0))
    assert f"last full count {old} (looked at {today})" in page
    assert "its last full count is 61 days old" in page
    with pytest.raises(CannotCommit, match="not counted in time"):
        commit(unit, job)
