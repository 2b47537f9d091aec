"""Files beside a job, and a job entered again for other days."""

from __future__ import annotations

import uuid
from datetime import date, timedelta
from io import BytesIO
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import DatabaseError, transaction
from django.test import Client
from django.urls import reverse
from PIL import Image
from pypdf import PdfWriter

from fleet.picture import MOST_BYTES
from ratings.jobs import attachments
from ratings.jobs.attachments import attach, withdraw
from ratings.jobs.copying import copy_job
from ratings.jobs.history import recorded_document
from ratings.mechanics.extraction.holds import HoldKind, OtherHold
from ratings.models import ExtractionJob, JobAttachment
from tests.all_tables import changed, everything
from tests.factories import DispatcherFactory, YardFactory
from tests.job_builders import attached, commit, extraction_job, figured_unit
from tests.site.html_form import Fields, error_at, opened, words

pytestmark = pytest.mark.django_db


def pdf(password: str = "") -> bytes:
    """A PDF of one blank page."""
    held, writer = BytesIO(), PdfWriter()
    writer.add_blank_page(width=72, height=72)
    if password:
        writer.encrypt(password, algorithm="RC4-40")
    writer.write(held)
    return held.getvalue()


def image(kind: str, **more: Any) -> bytes:
    """A picture, two dots wide."""
    held = BytesIO()
    Image.new("RGB", (2, 1)).save(held, kind, **more)
    return held.getvalue()


def url_of(job: ExtractionJob) -> str:
    return reverse("job-attachments", args=[job.pk])


def sent(client: Client, job: ExtractionJob, content: bytes, **more: Any) -> Any:
    """A file sent as the page's form sends it."""
    fields = opened(client, url_of(job)) | {"kind": "boring", "title": "Boring 3"}
    name = more.pop("name", "boring.pdf")
    return client.post(url_of(job), fields | {"sent": SimpleUploadedFile(name, content)} | more)


@pytest.mark.parametrize(
    ("content", "content_type", "disposition"),
    [
        (pdf(), "application/pdf", "attachment"),
        (image("PNG"), "image/jpeg", "inline"),
        (image("JPEG"), "image/jpeg", "inline"),
    ],
    ids=["pdf", "png", "jpeg"],
)
def test_a_file_is_kept_beside_its_job_and_served_safely(
    dispatcher_client: Client,
    auditor_client: Client,
    client: Client,
    content: bytes,
    content_type: str,
    disposition: str,
) -> None:
    job = extraction_job()
    assert sent(dispatcher_client, job, content, name="evil.html").status_code == 302
    held = JobAttachment.objects.get()
    assert held.content_type == content_type
    url = reverse("job-attachment", args=[held.pk])
    response = auditor_client.get(url)
    body = b"".join(response.streaming_content)  # type: ignore[attr-defined]
    assert len(body) == held.size_bytes
    assert response.headers["Content-Type"] == content_type
    assert response.headers["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in response.headers["Content-Security-Policy"]
    assert response.headers["Content-Disposition"].startswith(disposition)
    assert "evil" not in response.headers["Content-Disposition"]
    assert client.get(url).status_code == 302
    assert "Boring 3" in words(auditor_client.get(url_of(job)))


def test_what_a_picture_tells_of_its_place_is_left_out() -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8825)[1] = "N"
    exif[0x010E] = "secret"
    kept = attachments.read_file(image("JPEG", exif=exif))
    assert b"secret" not in kept.content
    assert not Image.open(BytesIO(kept.content)).getexif()


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "This file is empty"),
        (b"<script>alert(1)</script>", "none of these: send a PDF, a JPEG or a PNG"),
        (b"%PDF-1.7 and nothing else", "broken off or damaged"),
        (pdf()[:200], "broken off or damaged"),
        (pdf("secret"), "locked with a password"),
        (image("WEBP"), "none of these"),
        (image("GIF"), "none of these"),
        (image("PNG")[:40], "none of these"),
        (b"%PDF-" + b"x" * MOST_BYTES, "larger than 12 MB"),
    ],
    ids=["empty", "script", "no pdf", "half a pdf", "locked", "webp", "gif", "half", "large"],
)
def test_a_file_that_is_not_what_it_should_be_is_refused(
    dispatcher_client: Client, content: bytes, said: str
) -> None:
    job = extraction_job()
    before = everything()
    page = sent(dispatcher_client, job, content)
    assert said in error_at(page, "sent")
    assert changed(before) == set()


@pytest.mark.parametrize(
    ("change", "at", "said"),
    [
        ({"kind": ""}, "kind", "choose what it is"),
        ({"kind": "will"}, "kind", "not one of the available choices"),
        ({"title": ""}, "title", "say what it is"),
        ({"title": "x" * 121}, "title", "120 at the most"),
        ({"sent": ""}, "sent", "choose a file"),
    ],
)
def test_a_form_that_cannot_be_is_answered_at_its_field(
    dispatcher_client: Client, change: Fields, at: str, said: str
) -> None:
    assert said in error_at(sent(dispatcher_client, extraction_job(), pdf(), **change), at)


def test_a_file_sent_twice_is_kept_once() -> None:
    job, by, sent_as = extraction_job(), DispatcherFactory(), uuid.uuid4()
    for _ in range(2):
        attach(submission_id=sent_as, job=job, kind="other", title="Chart", sent=pdf(), by=by)
    assert job.attachments.count() == 1


def test_a_job_takes_so_many_files_and_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(attachments, "MOST_OF_A_JOB", 2)
    job = extraction_job()
    first, _ = attached(job), attached(job)
    with pytest.raises(ValidationError, match="withdraw one"):
        attached(job)
    withdraw(submission_id=uuid.uuid4(), attachment=first, reason="Old.", by=DispatcherFactory())
    attached(job)


def test_a_file_is_withdrawn_with_a_reason_and_kept(dispatcher_client: Client) -> None:
    held = attached(extraction_job(), "Boring 7")
    url = reverse("withdraw-attachment", args=[held.pk])
    fields = opened(dispatcher_client, url)
    assert error_at(dispatcher_client.post(url, fields | {"reason": " "}), "reason")
    for reason in ("Of another site.", "Again."):
        assert dispatcher_client.post(url, fields | {"reason": reason}).status_code == 302
    page = words(dispatcher_client.get(url_of(held.job)))
    assert "Of another site." in page
    assert "Again." not in page
    assert dispatcher_client.get(reverse("job-attachment", args=[held.pk])).status_code == 200
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        JobAttachment.objects.update(title="Other")


def test_who_may_not_plan_attaches_and_withdraws_nothing(auditor_client: Client) -> None:
    held = attached(extraction_job())
    before = everything()
    assert auditor_client.post(url_of(held.job), {}).status_code == 403
    url = reverse("withdraw-attachment", args=[held.pk])
    assert auditor_client.post(url, {"reason": "No."}).status_code == 403
    assert changed(before) == set()
    assert "Attach it" not in words(auditor_client.get(url_of(held.job)))


def test_a_copy_asks_the_same_of_other_days_and_holds_no_unit(dispatcher_client: Client) -> None:
    job = extraction_job(
        piles=[{"label": "north", "count": 4}, {"label": "south"}],
        distances={YardFactory().pk: 12.0},
        holds=(OtherHold(HoldKind.CONCRETE, 5000.0, note="cap"),),
        days_since_driving=100,
        frost_days=9,
    )
    commit(figured_unit(), job)
    attached(job)
    url = reverse("copy-job", args=[job.pk])
    first = job.first_day + timedelta(days=30)
    fields = opened(dispatcher_client, url)
    assert fields["site"] == job.site
    days = {"first_day": first.isoformat(), "last_day": first.isoformat()}
    for _ in range(2):
        assert dispatcher_client.post(url, fields | days).status_code == 302
    copy = ExtractionJob.objects.exclude(pk=job.pk).get()
    was, now = recorded_document(job), recorded_document(copy)
    assert now["job"] == was["job"] | {
        "first_day": first.isoformat(),
        "last_day": first.isoformat(),
        "days_since_driving": 130,
        "frost_days": None,
    }
    for part in ("piles", "layers", "holds", "distances"):
        assert now[part] == was[part]
    assert not copy.commitments.exists()
    assert not copy.attachments.exists()
    assert (copy.version, copy.versions.count()) == (1, 1)


@pytest.mark.parametrize(
    ("change", "at", "said"),
    [
        ({"site": ""}, "site", "name the site"),
        ({"first_day": ""}, "first_day", "give the day"),
        ({"last_day": "2026-01-01"}, "last_day", "before the first day"),
    ],
)
def test_a_copy_on_no_days_is_refused(
    dispatcher_client: Client, change: Fields, at: str, said: str
) -> None:
    job = extraction_job()
    url = reverse("copy-job", args=[job.pk])
    days = {"first_day": "2027-03-02", "last_day": "2027-03-04"}
    before = everything()
    page = dispatcher_client.post(url, opened(dispatcher_client, url) | days | change)
    assert said in error_at(page, at)
    assert changed(before) == set()


def test_a_program_copies_to_no_days_reversed_either() -> None:
    job = extraction_job()
    with pytest.raises(ValidationError, match="before the first day"):
        copy_job(
            submission_id=uuid.uuid4(),
            job=job,
            site="Elsewhere",
            first_day=date(2027, 3, 4),
            last_day=date(2027, 3, 2),
            by=DispatcherFactory(),
        )
