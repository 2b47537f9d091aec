"""Two people at one job, and what it was from save to save."""

from __future__ import annotations

import json
import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, transaction
from django.test import Client
from django.urls import reverse

from fleet.models import ReaderPreference
from ratings.jobs.history import differences, recorded_document
from ratings.jobs.recording import JobChangedMeanwhile, save_job
from ratings.models import ExtractionJob, JobVersion
from tests.all_tables import changed, everything
from tests.conftest import append_only_lifted
from tests.factories import DispatcherFactory, YardFactory
from tests.inspections.field.sent import signed_in
from tests.job_builders import GROUND, PILE, commit, extraction_job, figured_unit
from tests.ratings.jobs.job_form import PILE as TYPED_PILE
from tests.ratings.jobs.job_form import SAND, filled, groups, rows, saved
from tests.site.html_form import Fields, fields_of, opened, words

pytestmark = pytest.mark.django_db


def url_of(job: ExtractionJob) -> str:
    return reverse("job", args=[job.pk])


@pytest.fixture
def other_client() -> Client:
    """Somebody else who plans."""
    return signed_in(DispatcherFactory(first_name="Maren", last_name="Holt"))


def both_opened(one: Client, other: Client) -> tuple[ExtractionJob, Fields, Fields]:
    """A job that two people have open, as the form of each holds it."""
    job = saved(one)
    return job, opened(one, url_of(job)), opened(other, url_of(job))


def test_who_saves_second_is_shown_what_the_first_changed_and_keeps_what_was_typed(
    dispatcher_client: Client, other_client: Client
) -> None:
    job, mine, theirs = both_opened(dispatcher_client, other_client)
    theirs |= {"capacity_lbf": "90000", "pile-0-embedment_ft": "44"}
    assert other_client.post(url_of(job), theirs).status_code == 302
    before = everything()
    page = dispatcher_client.post(url_of(job), mine | {"note": "Low tide.", "legs": "1"})
    assert page.status_code == 200
    assert changed(before) == set()
    told = words(page)
    assert "Nothing was saved. Maren Holt saved this job at" in told
    assert "Crane capacity for this pull 90,000 lbf 120,000 lbf" in told
    assert "Embedment of pile group 1 44 ft 40 ft" in told
    assert "Note blank Low tide." in told
    typed = fields_of(page)
    assert (typed["note"], typed["capacity_lbf"], typed["legs"]) == ("Low tide.", "120000", "1")


def test_mine_goes_on_top_of_theirs_only_once_it_is_asked_for(
    dispatcher_client: Client, other_client: Client
) -> None:
    job, mine, theirs = both_opened(dispatcher_client, other_client)
    other_client.post(url_of(job), theirs | {"capacity_lbf": "90000"})
    page = dispatcher_client.post(url_of(job), mine | {"note": "Low tide."})
    again = fields_of(page)
    # Saved as before, it is refused as before.
    assert dispatcher_client.post(url_of(job), again).status_code == 200
    assert dispatcher_client.post(url_of(job), again | {"on_top": "2"}).status_code == 302
    job.refresh_from_db()
    assert (job.version, job.note, job.capacity_lbf) == (3, "Low tide.", 120_000)


def test_mine_does_not_go_on_top_of_what_was_saved_after_i_was_shown(
    dispatcher_client: Client, other_client: Client
) -> None:
    job, mine, theirs = both_opened(dispatcher_client, other_client)
    other_client.post(url_of(job), theirs | {"capacity_lbf": "90000"})
    again = fields_of(dispatcher_client.post(url_of(job), mine | {"note": "Low tide."}))
    newest = opened(other_client, url_of(job)) | {"capacity_lbf": "80000"}
    assert other_client.post(url_of(job), newest).status_code == 302
    page = dispatcher_client.post(url_of(job), again | {"on_top": "2"})
    assert "80,000 lbf 120,000 lbf" in words(page)
    assert "Save mine on top" in words(page)


def test_taking_theirs_shows_the_job_as_it_is_on_record(
    dispatcher_client: Client, other_client: Client
) -> None:
    job, mine, theirs = both_opened(dispatcher_client, other_client)
    other_client.post(url_of(job), theirs | {"capacity_lbf": "90000"})
    page = dispatcher_client.post(url_of(job), mine | {"note": "Low tide."})
    assert f'href="{url_of(job)}">Take theirs' in page.content.decode()
    assert opened(dispatcher_client, url_of(job))["capacity_lbf"] == "90000"


def test_a_form_drawn_again_is_still_of_the_version_it_was_opened_with(
    dispatcher_client: Client, other_client: Client
) -> None:
    job, mine, theirs = both_opened(dispatcher_client, other_client)
    other_client.post(url_of(job), theirs | {"capacity_lbf": "90000"})
    drawn = fields_of(dispatcher_client.post(url_of(job), mine | {"more_layers": "1"}))
    assert "Save mine on top" in words(dispatcher_client.post(url_of(job), drawn))


@pytest.mark.parametrize("version", [None, "", "x", "-1", "999", "9" * 40])
def test_a_form_that_says_no_version_of_the_job_saves_over_nothing(
    dispatcher_client: Client, version: str | None
) -> None:
    job = saved(dispatcher_client)
    fields = opened(dispatcher_client, url_of(job)) | {"note": "Low tide."}
    fields = {name: value for name, value in fields.items() if name != "version"}
    if version is not None:
        fields["version"] = version
    before = everything()
    assert "Save mine on top" in words(dispatcher_client.post(url_of(job), fields))
    assert changed(before) == set()


def test_the_same_change_sent_twice_is_one_version(dispatcher_client: Client) -> None:
    job = saved(dispatcher_client)
    fields = opened(dispatcher_client, url_of(job)) | {"note": "Low tide."}
    for _ in range(2):
        assert dispatcher_client.post(url_of(job), fields).status_code == 302
    job.refresh_from_db()
    assert job.version == job.versions.count() == 2


def test_a_save_that_changes_nothing_is_no_version(dispatcher_client: Client) -> None:
    job = saved(dispatcher_client)
    before = everything()
    dispatcher_client.post(url_of(job), opened(dispatcher_client, url_of(job)))
    assert "ratings.JobVersion" not in changed(before)
    assert "ratings.ExtractionJob" not in changed(before)


def change(job: ExtractionJob, **more: Any) -> ExtractionJob:
    """A change by a program, of a job as it read it."""
    plain: dict[str, Any] = {"fields": {}, "piles": [PILE], "layers": GROUND, "distances": {}}
    by = DispatcherFactory()
    return save_job(submission_id=uuid.uuid4(), job=job, by=by, **plain | more)


def test_a_program_that_read_an_older_version_is_refused_too() -> None:
    job = extraction_job()
    read_before = ExtractionJob.objects.get(pk=job.pk)
    change(job, fields={"note": "First."})
    with pytest.raises(JobChangedMeanwhile) as refused:
        change(read_before, fields={"note": "Second."})
    assert (refused.value.theirs["job"]["note"], refused.value.yours["job"]["note"]) == (
        "First.",
        "Second.",
    )
    assert change(read_before, fields={"note": "First."}).version == 2


def test_every_version_is_kept_as_a_document_by_whoever_saved_it() -> None:
    job = extraction_job(distances={YardFactory(name="Saltmere Bend").pk: 35.0})
    changed_job = change(job, fields={"site": "North pier"})
    first, second = job.versions.order_by("number")
    assert (first.number, second.number) == (1, 2)
    assert (first.recorded_by, second.recorded_by) == (job.created_by, changed_job.changed_by)
    assert first.contents["distances"] == {"Saltmere Bend": 35}
    assert first.contents["piles"][0]["embedment_ft"] == 40
    assert second.contents == recorded_document(changed_job) == json.loads(second.document)


def test_a_job_of_before_versions_keeps_what_it_was_with_its_first_change() -> None:
    job = extraction_job(note="As it was.")
    with append_only_lifted():
        job.versions.all().delete()
    change(job, fields={"note": "As it is."})
    first, second = job.versions.order_by("number")
    assert [each.contents["job"]["note"] for each in (first, second)] == ["As it was.", "As it is."]
    assert (first.recorded_by, first.recorded_at) == (job.changed_by, job.changed_at)


def test_a_version_is_never_changed() -> None:
    version = extraction_job().versions.get()
    for act in (version.delete, lambda: JobVersion.objects.update(number=9)):
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
            act()


def test_days_held_by_units_are_refused_before_a_version_is_made() -> None:
    job = extraction_job()
    commit(figured_unit(), job)
    with pytest.raises(ValidationError, match="release it first"):
        change(job, fields={"last_day": job.last_day + timedelta(days=1)})
    assert job.versions.count() == 1


def test_the_page_of_versions_tells_what_each_changed(
    dispatcher_client: Client, auditor_client: Client
) -> None:
    job = saved(dispatcher_client, **groups(TYPED_PILE | {"count": "12"}))
    fields = opened(dispatcher_client, url_of(job)) | {"water_depth_ft": "7"}
    fields |= rows(SAND, SAND | {"thickness_ft": "25"}) | groups(
        TYPED_PILE | {"count": "12"}, TYPED_PILE | {"label": "south row", "end": ""}
    )
    assert dispatcher_client.post(url_of(job), fields).status_code == 302
    url = reverse("job-history", args=[job.pk])
    told = words(auditor_client.get(url))
    assert "Depth of the water level: 5 ft → 7 ft" in told
    assert "Kind of layer 2: cohesive (clay, silt) → granular (sand, gravel)" in told
    assert "What they are called of pile group 2: blank → south row" in told
    user = auditor_client.session["_auth_user_id"]
    ReaderPreference.objects.create(user_id=user, units="si")
    assert "Depth of the water level: 1.524 m → 2.1336 m" in words(auditor_client.get(url))


def test_nothing_differs_of_a_document_and_itself() -> None:
    document = recorded_document(extraction_job())
    assert differences(document, document, "us") == []


def test_a_new_job_has_no_history_to_be_asked_for(dispatcher_client: Client) -> None:
    assert "version" not in filled(dispatcher_client)
    assert dispatcher_client.get(reverse("job-history", args=[999])).status_code == 404
