"""The form of a pull that works without scripts."""

from __future__ import annotations

import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.models import ReaderPreference
from inspections.models import PullPhotoFile
from ratings.models import Commitment, PullRecord
from tests.builders import picture
from tests.factories import AuditorFactory, DispatcherFactory
from tests.inspections.field.sent import signed_in
from tests.job_builders import commit, extraction_job, figured_unit, pull_done
from tests.site.html_form import Fields, error_at, opened, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def made() -> Commitment:
    return commit(figured_unit(), extraction_job(first_day=timezone.localdate()))


def filled(client: Client, made: Commitment) -> tuple[str, Fields]:
    url = reverse("new-pull", args=[made.pk])
    seen = {"pile_mark": "B3", "outcome": "came", "load_source": "load indicator"}
    seen["watched_by"] = "Ines Halloran"
    return url, opened(client, url) | seen | {"hook_load_lbf": "45000"}


def test_a_pull_with_a_photo_is_on_record(made: Commitment) -> None:
    client = signed_in(DispatcherFactory())
    url, fields = filled(client, made)
    page = client.post(url, fields | {"photo": picture("toe.png")}, follow=True)
    pull = PullRecord.objects.get()
    assert page.redirect_chain == [(reverse("pull-record", args=[pull.pk]), 302)]
    assert PullPhotoFile.objects.get().photo.pull == pull
    assert "24,550 lbf" in words(page)
    assert "Watched by Ines Halloran" in words(page)


def test_a_file_that_is_no_picture_is_refused_and_nothing_is_kept(made: Commitment) -> None:
    client = signed_in(DispatcherFactory())
    url, fields = filled(client, made)
    page = client.post(url, fields | {"photo": SimpleUploadedFile("toe.png", b"not a picture")})
    assert "no picture" in error_at(page, "photo")
    assert not PullRecord.objects.exists()


def test_a_doubt_is_shown_and_taken_once_it_is_said_to_be_right(made: Commitment) -> None:
    client = signed_in(DispatcherFactory())
    url, fields = filled(client, made)
    assert "are_doubts_known" not in client.get(url).content.decode()
    page = client.post(url, fields | {"hook_load_lbf": "130000"})
    assert "above the crane’s capacity" in error_at(page, "hook_load_lbf")
    assert 'name="are_doubts_known"' in page.content.decode()
    again = fields | {"hook_load_lbf": "130000", "are_doubts_known": "on"}
    assert client.post(url, again).status_code == 302


def test_a_reader_of_si_types_kilonewtons(made: Commitment) -> None:
    by = DispatcherFactory()
    ReaderPreference.objects.create(user=by, units="si")
    client = signed_in(by)
    url, fields = filled(client, made)
    assert client.post(url, fields | {"hook_load_lbf": "200"}).status_code == 302
    assert PullRecord.objects.get().hook_load_lbf == pytest.approx(44_962, abs=1)


def test_a_record_is_corrected_from_its_own_page(made: Commitment) -> None:
    wrong = pull_done(made)
    client = signed_in(DispatcherFactory())
    url = reverse("new-pull", args=[made.pk]) + f"?corrects={wrong.pk}"
    fields = opened(client, url)
    assert fields["hook_load_lbf"] == "45000"
    refused = client.post(url, fields | {"hook_load_lbf": "46000"})
    assert "say why it is corrected" in error_at(refused, "correction_reason")
    done = fields | {"hook_load_lbf": "46000", "correction_reason": "Misread."}
    assert client.post(url, done).status_code == 302
    assert "it counts no more" in words(client.get(reverse("pull-record", args=[wrong.pk])))


def test_an_auditor_reads_and_does_not_write(made: Commitment) -> None:
    client = signed_in(AuditorFactory())
    url = reverse("new-pull", args=[made.pk])
    assert client.get(url).status_code == 403
    assert client.post(url, {"submission_id": str(uuid.uuid4())}).status_code == 403


def test_pulls_are_on_the_pages_of_job_unit_and_commitment(made: Commitment) -> None:
    pull = pull_done(made, pile_mark="B3")
    client, link = signed_in(AuditorFactory()), reverse("pull-record", args=[pull.pk])
    for path in (
        reverse("job", args=[made.job_id]),
        reverse("unit", args=[made.housing_id]),
        reverse("commitment", args=[made.pk]),
        reverse("pulls"),
    ):
        assert link in client.get(path).content.decode(), path


def test_who_watched_is_asked_by_name(made: Commitment) -> None:
    client = signed_in(DispatcherFactory())
    url, fields = filled(client, made)
    page = client.post(url, fields | {"watched_by": "  "})
    assert "give the name of who watched it" in error_at(page, "watched_by")
    assert not PullRecord.objects.exists()
