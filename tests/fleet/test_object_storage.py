"""Kept files in a bucket: a real server of the S3 protocol on this machine, and the site on it."""

from __future__ import annotations

import json
import subprocess
import sys
import uuid
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.test import Client, override_settings
from django.urls import reverse

from fleet.kept_files import StoreDown
from inspections.models import PhotoFile
from inspections.photos.pieces import LEAST_PIECE_BYTES
from ratings.upkeep import checks
from tests.bucket import BUCKET, options
from tests.builders import rated_unit
from tests.inspections.field.sent import payload, send, signed_in
from tests.inspections.field.test_photos import grainy, put
from tests.inspections.retention.test_retention import amiss, attached_long_ago, gone, ruled
from tests.job_builders import attached, extraction_job
from tests.site.test_security import ROOT, plain_environment


def names(bucket: Any) -> list[str]:
    return sorted(each.key for each in bucket.objects.all())


def told_of_files() -> str:
    return "\n".join(f"{each.state} {each.words}" for each in checks.look_at_files())


@pytest.mark.django_db
def test_a_photo_comes_in_pieces_and_is_given_out_to_whoever_may_read(bucket: Any) -> None:
    unit, photo_id, whole = rated_unit(), uuid.uuid4(), grainy()
    client = signed_in(unit.manager)
    named = [{"id": str(photo_id), "caption": "Side A", "finding": None}]
    assert send(client, payload(unit, photos=named)).status_code == 201
    first = whole[:LEAST_PIECE_BYTES]
    assert put(client, photo_id, first, 0, len(whole)).json()["received"] == len(first)
    assert names(bucket) == [f"pieces/{photo_id}/0000000000.part"]
    assert put(client, photo_id, whole[len(first) :], len(first), len(whole)).status_code == 201
    kept = PhotoFile.objects.get(photo=photo_id)
    assert str(kept.file.name) in names(bucket)
    url = reverse("inspection-photo", args=[photo_id])
    answer: Any = client.get(url)
    assert b"".join(answer.streaming_content)[:2] == b"\xff\xd8"
    assert Client().get(url).headers["Location"].startswith(reverse("sign-in"))
    with pytest.raises(NotImplementedError):
        assert kept.file.url


@pytest.mark.django_db(transaction=True)
def test_what_is_let_go_is_gone_from_the_bucket_and_the_record_holds(bucket: Any) -> None:
    file = attached_long_ago()
    kept = bucket.Object(str(file.file.name))
    whole = kept.get()["Body"].read()
    kept.put(Body=b"another")
    assert amiss() != []
    kept.put(Body=whole)
    ruled()
    gone(file)
    assert names(bucket) == []
    assert amiss() == []


@pytest.mark.django_db
def test_a_store_that_does_not_answer_is_told_and_is_no_lost_file(
    bucket: Any, s3_server: str
) -> None:
    unit, file = rated_unit(), attached(extraction_job())
    client = signed_in(unit.manager)
    url = reverse("job-attachment", args=[file.pk])
    assert client.get(url).status_code == 200
    with override_settings(**options("http://127.0.0.1:9")):
        answer = client.get(url)
        assert answer.status_code == 503
        assert "The store of files does not answer" in answer.content.decode()
        with pytest.raises(StoreDown):
            default_storage.save("a.txt", ContentFile(b"a"))
        assert "WRONG photos and papers can’t be kept" in told_of_files()
    bucket.Object(str(file.file.name)).delete()
    assert client.get(url).status_code == 404


def test_the_doctor_writes_reads_deletes_and_sees_that_nobody_else_reads(bucket: Any) -> None:
    assert told_of_files().startswith(f"good photos and papers can be kept in bucket {BUCKET}")
    assert names(bucket) == []


@pytest.mark.parametrize("asked", ["open", "is_open_to_all"])
def test_the_doctor_leaves_nothing_behind_where_the_store_answers_oddly(
    bucket: Any, monkeypatch: pytest.MonkeyPatch, asked: str
) -> None:
    def oddly(*_: Any) -> None:
        raise StoreDown("418 I am a teapot")

    with monkeypatch.context() as patch:
        patch.setattr(f"fleet.object_storage.PrivateObjects.{asked}", oddly)
        assert "WRONG photos and papers can’t be kept: 418" in told_of_files()
    assert names(bucket) == []


def test_a_bucket_that_everybody_reads_is_wrong(bucket: Any, s3_server: str) -> None:
    with override_settings(**options(s3_server, default_acl="public-read")):
        assert "WRONG anybody may read the photos and papers" in told_of_files()


def test_a_bucket_that_is_not_there_is_wrong(s3_server: str) -> None:
    with override_settings(**options(s3_server, bucket_name="another")):
        assert "WRONG photos and papers can’t be kept" in told_of_files()


@pytest.mark.parametrize(("bucket_name", "loaded"), [("", False), (BUCKET, False)])
def test_the_site_starts_without_what_speaks_to_a_store(
    tmp_path: Path, bucket_name: str, loaded: bool
) -> None:
    code = (
        "import sys, json, django; django.setup(); import fleet.config.urls; "
        "from django.conf import settings; print(json.dumps(["
        "settings.STORAGES['default'].get('OPTIONS', {}).get('endpoint_url'), "
        "'boto3' in sys.modules]))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env=plain_environment(
            tmp_path,
            DJANGO_SETTINGS_MODULE="fleet.config.settings",
            LEDGER_S3_BUCKET=bucket_name,
            LEDGER_S3_ENDPOINT="https://files.example",
        ),
        capture_output=True,
        text=True,
        check=True,
    )
    assert json.loads(done.stdout) == ["https://files.example" if bucket_name else None, loaded]
