"""The ranking beside a job's form: best first, what governs, and what changed since."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from fleet.models import Clamp, Hammer, ReaderPreference, SuppressorHousing
from fleet.quantities import Quantity
from ratings.models import ExtractionJob
from tests.all_tables import changed, everything
from tests.builders import receive
from tests.factories import HammerFactory, HousingFactory
from tests.job_builders import commit, extraction_job, figured_unit
from tests.ratings.jobs.asked_job import answer, carried, form_of, rows
from tests.ratings.jobs.job_form import filled
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def test_units_are_ranked_best_first_with_what_governs(dispatcher_client: Client) -> None:
    weak = figured_unit(listed_lbf=90_000)
    unknown = figured_unit({"eccentric_moment_lb_in": None})
    strong = figured_unit(rate_lbf_in=1500.0)
    told = rows(answer(dispatcher_client, form_of(dispatcher_client, extraction_job())))
    assert [row.split()[1] for row in told] == [
        strong.housing.mark,
        weak.housing.mark,
        unknown.housing.mark,
    ]
    assert "suitable Least margin: " in told[0]
    # It may be promised once it is brought to its listing: its forces come first.
    assert "suitable with care Governed by: line pull at the pads" in told[1]
    assert "below listing" in told[1]
    assert "cannot be judged" in told[2]
    assert f"Eccentric moment of {unknown.hammer.mark} is not on record" in told[2]


def test_what_may_go_only_once_things_are_put_right_is_counted_apart(
    dispatcher_client: Client,
) -> None:
    figured_unit(counted_at=timezone.now() - timedelta(days=60))
    figured_unit(rate_lbf_in=1500.0)
    told = words(answer(dispatcher_client, form_of(dispatcher_client, extraction_job())))
    assert "1 may go 1 may go only once things are put right Of" in told
    assert "may be promised" not in told


UNSAID = {f"holds_{each}": None for each in ("sheet_pair", "h", "pipe", "timber", "concrete")}


def test_what_no_plan_lets_go_is_not_counted_as_to_be_put_right(
    dispatcher_client: Client,
) -> None:
    # Below its listing with no pad in stock, and with a clamp of which nobody said what it holds.
    figured_unit(listed_lbf=90_000)
    unsaid = figured_unit(rate_lbf_in=1500.0)
    Clamp.objects.filter(fittings__hammer=unsaid.hammer).update(**UNSAID)
    told = words(answer(dispatcher_client, form_of(dispatcher_client, extraction_job())))
    assert "0 may go 0 may go only once things are put right 2 would hold, but no plan" in told
    fields = form_of(dispatcher_client, extraction_job())
    mended = answer(dispatcher_client, fields, only="promised")
    assert "No unit may go, not even once things are put right." in words(mended)


def test_pads_in_stock_that_bring_a_unit_to_its_listing_are_a_plan(
    dispatcher_client: Client,
) -> None:
    unit = figured_unit(listed_lbf=47_000, unsound={"A1": "cracked"})
    receive(unit.lot, unit.manager, 8)
    told = words(answer(dispatcher_client, form_of(dispatcher_client, extraction_job())))
    assert "0 may go 1 may go only once things are put right Of" in told


def test_every_reason_beside_the_one_that_governs_is_told(dispatcher_client: Client) -> None:
    figured_unit(listed_lbf=90_000)
    job = extraction_job(capacity_lbf=20_000.0)
    (row,) = rows(answer(dispatcher_client, form_of(dispatcher_client, job)))
    assert "Governed by: hook load on the crane" in row
    assert "do not send its forces fall short; below listing" in row
    assert re.search(r"Also: line pull at the pads 1\.2.×", row)


def test_it_answers_before_the_job_is_saved_and_saves_nothing(dispatcher_client: Client) -> None:
    figured_unit()
    before = everything()
    response = answer(dispatcher_client, filled(dispatcher_client))
    assert len(rows(response)) == 1
    assert changed(before) == set()
    assert "Save the job to commit a unit to it." in words(response)


def test_an_auditor_may_ask_but_is_offered_no_commitment(
    auditor_client: Client, dispatcher_client: Client
) -> None:
    figured_unit(rate_lbf_in=1500.0)
    fields = form_of(dispatcher_client, extraction_job())
    assert "Commit S-" in words(answer(dispatcher_client, fields))
    assert "Commit S-" not in words(answer(auditor_client, fields))


def test_a_blank_crane_capacity_is_never_suitable(dispatcher_client: Client) -> None:
    figured_unit(rate_lbf_in=1500.0)
    fields = form_of(dispatcher_client, extraction_job())
    (row,) = rows(answer(dispatcher_client, fields, capacity_lbf=""))
    assert "cannot be judged" in row
    assert "enter what its chart allows at this radius" in row


def test_a_job_that_cannot_be_calculated_lists_what_is_wrong_with_links(
    dispatcher_client: Client,
) -> None:
    figured_unit()
    fields = filled(dispatcher_client, last_day="2026-10-01", length_ft="")
    response = answer(dispatcher_client, fields)
    page = response.content.decode()
    assert "No answer yet." in page
    assert 'href="#id_last_day"' in page
    assert 'href="#id_pile-0-length_ft"' in page
    assert rows(response) == []


def test_a_blank_form_is_no_error(dispatcher_client: Client) -> None:
    assert "No answer yet." in words(answer(dispatcher_client, {}))


def test_a_changed_number_marks_what_changed_with_how_it_was(dispatcher_client: Client) -> None:
    unit = figured_unit(rate_lbf_in=1500.0)
    fields = form_of(dispatcher_client, extraction_job())
    first = answer(dispatcher_client, fields)
    assert "Changed" not in words(first)
    again = answer(dispatcher_client, fields, shown=carried(first, "shown"), capacity_lbf="20000")
    (row,) = rows(again)
    assert "Changed ; was: suitable, clamp grip 1.37×" in row
    assert f"1 unit changed: {unit.housing.mark} not suitable, was suitable." in words(again)
    same = answer(dispatcher_client, fields, shown=carried(again, "shown"), capacity_lbf="20000")
    assert "Changed" not in words(same)
    assert "No unit changed." in words(same)


def test_what_changed_is_put_into_the_line_that_is_read_out(dispatcher_client: Client) -> None:
    figured_unit()
    fields = form_of(dispatcher_client, extraction_job())
    page = answer(dispatcher_client, fields).content.decode()
    assert '<p hx-swap-oob="innerHTML:#answer-news"></p>' in page


def test_what_was_seen_is_kept_through_a_slip_of_the_pen(dispatcher_client: Client) -> None:
    figured_unit(rate_lbf_in=1500.0)
    fields = form_of(dispatcher_client, extraction_job())
    first = answer(dispatcher_client, fields)
    slip = answer(dispatcher_client, fields, shown=carried(first, "shown"), length_ft="", open="12")
    assert carried(slip, "shown") == carried(first, "shown")
    assert carried(slip, "open") == "12"


@pytest.mark.parametrize("shown", ["x", "[]", '{"1": [Infinity, 1, 2, 3]}', '"<script>"'])
def test_what_is_sent_back_spoiled_is_no_error(dispatcher_client: Client, shown: str) -> None:
    figured_unit()
    fields = form_of(dispatcher_client, extraction_job())
    for page in ("-1", "999999", "x", "9" * 40):
        answer(dispatcher_client, fields, shown=shown, page=page, open=page, job="9" * 30)


def test_a_unit_whose_details_stood_open_is_told_open_again(dispatcher_client: Client) -> None:
    unit = figured_unit()
    fields = form_of(dispatcher_client, extraction_job())
    page = answer(dispatcher_client, fields, open=str(unit.housing.pk)).content.decode()
    assert "<details open " in page


def test_only_numbers_as_saved_lead_to_a_commitment(dispatcher_client: Client) -> None:
    unit = figured_unit(rate_lbf_in=1500.0)
    job = extraction_job()
    fields = form_of(dispatcher_client, job)
    link = f"/jobs/{job.pk}/units/{unit.housing.pk}/"
    assert link in answer(dispatcher_client, fields).content.decode()
    response = answer(dispatcher_client, fields, embedment_ft="39")
    assert link not in response.content.decode()
    assert "These numbers are not saved yet" in words(response)


def test_numbers_as_saved_are_known_as_such_in_si_too(dispatcher_client: Client) -> None:
    figured_unit(rate_lbf_in=1500.0)
    job = extraction_job(embedment_ft=39.37)
    user = dispatcher_client.session["_auth_user_id"]
    ReaderPreference.objects.create(user_id=user, units="si")
    response = answer(dispatcher_client, form_of(dispatcher_client, job))
    assert "not saved yet" not in words(response)
    assert Quantity.FORCE.symbol("si") in words(response)


def test_a_unit_committed_to_this_job_says_so_and_is_not_held_against_it(
    dispatcher_client: Client,
) -> None:
    job = extraction_job()
    made = commit(figured_unit(), job)
    (row,) = rows(answer(dispatcher_client, form_of(dispatcher_client, job)))
    assert "Committed to this job" in row
    assert "held on these days" not in row
    page = answer(dispatcher_client, form_of(dispatcher_client, job)).content.decode()
    assert f"/commitments/{made.pk}/" in page


def test_a_unit_committed_to_another_job_says_to_which(dispatcher_client: Client) -> None:
    commit(figured_unit(), extraction_job(site="Dolphin 9"))
    (row,) = rows(answer(dispatcher_client, form_of(dispatcher_client, extraction_job())))
    assert "do not send held by Dolphin 9" in row
    assert "ahead of time, or see why it can’t be" in row


def test_housings_off_the_hammer_are_counted(dispatcher_client: Client) -> None:
    figured_unit()
    HousingFactory()
    told = words(answer(dispatcher_client, form_of(dispatcher_client, extraction_job())))
    assert "1 housing off the hammer is not asked." in told


def test_a_yard_without_units_says_so(dispatcher_client: Client) -> None:
    HammerFactory()
    told = words(answer(dispatcher_client, form_of(dispatcher_client, extraction_job())))
    assert "No housing is on a hammer" in told


def test_it_says_that_it_is_a_screening_aid(dispatcher_client: Client) -> None:
    figured_unit()
    told = words(answer(dispatcher_client, form_of(dispatcher_client, extraction_job())))
    assert "A screening aid" in told
    assert "a qualified person decide" in told


def test_marks_are_written_as_text(dispatcher_client: Client) -> None:
    unit, job = figured_unit(), extraction_job(site="<script>alert(3)</script>")
    SuppressorHousing.objects.filter(pk=unit.housing.pk).update(mark="<script>alert(1)</script>")
    Hammer.objects.filter(pk=unit.hammer.pk).update(mark="<img src=x onerror=alert(2)>")
    first = answer(dispatcher_client, form_of(dispatcher_client, job))
    again = answer(
        dispatcher_client,
        form_of(dispatcher_client, job),
        shown=carried(first, "shown"),
        capacity_lbf="20000",
    )
    for response in (first, again):
        assert "<script>" not in response.content.decode()
        assert "<img" not in response.content.decode()


def test_pages_of_the_ranking_remember_each_other(
    dispatcher_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ratings.jobs.answer.ROWS_ON_A_PAGE", 2)
    for _ in range(3):
        figured_unit(rate_lbf_in=1500.0)
    fields = form_of(dispatcher_client, extraction_job())
    first = answer(dispatcher_client, fields)
    assert "Page 1 of 2" in words(first)
    second = answer(dispatcher_client, fields, to_page="2", page="1", shown=carried(first, "shown"))
    assert len(rows(second)) == 1
    assert carried(second, "page") == "2"
    back = answer(
        dispatcher_client,
        fields,
        to_page="1",
        page="2",
        shown=carried(second, "shown"),
        capacity_lbf="20000",
    )
    assert "2 units changed" in words(back)


def test_a_page_with_eight_units_takes_as_many_queries_as_one_with_three(
    dispatcher_client: Client,
) -> None:
    job = extraction_job()
    taken = []
    for more in (3, 5):
        for _ in range(more):
            figured_unit(rate_lbf_in=1500.0)
        fields = form_of(dispatcher_client, job)
        # What a ledger entry rests on is read once and kept, so the second time is what counts.
        answer(dispatcher_client, fields)
        with CaptureQueriesContext(connection) as captured:
            response = answer(dispatcher_client, fields)
        taken.append((len(rows(response)), len(captured)))
    (few, before), (many, after) = taken
    assert (few, many) == (3, 8)
    assert before == after


def test_a_job_not_on_record_is_none(dispatcher_client: Client) -> None:
    figured_unit()
    fields = form_of(dispatcher_client, extraction_job())
    missing = ExtractionJob.objects.latest("pk").pk + 1
    told = answer(dispatcher_client, fields, job=str(missing))
    assert "Save the job to commit a unit to it." in words(told)
