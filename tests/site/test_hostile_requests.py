"""Requests no person makes: each gets a clear answer, and none breaks the site."""

from __future__ import annotations

import re
import zlib
from collections.abc import Iterator
from io import BytesIO
from typing import Any

import pytest
from django.test import Client
from django.urls import URLResolver, get_resolver, reverse
from PIL import Image, PngImagePlugin

from fleet.fields import LARGEST_KEY
from fleet.models import Refusal
from fleet.picture import NoPicture, read_picture
from ratings.models import JobAttachment
from tests.all_tables import changed, everything
from tests.builders import rated_unit
from tests.factories import DispatcherFactory, PadLotFactory
from tests.fuzz.forms import File, Pair, post
from tests.inspections.field.sent import payload, send, signed_in
from tests.job_builders import attached, extraction_job
from tests.site.html_form import all_sound, words

pytestmark = pytest.mark.django_db

TOO_LARGE = (LARGEST_KEY + 1, 10**25, int("9" * 4000))


def addresses(resolver: URLResolver, before: str = "") -> Iterator[str]:
    """The address of every page, as it is written in the lists of urls."""
    for each in resolver.url_patterns:
        path = before + str(each.pattern)
        if isinstance(each, URLResolver):
            yield from addresses(each, path)
        else:
            yield path


def of_record(key: int) -> list[str]:
    """The address of every page of a record, with this key."""
    found = [path for path in addresses(get_resolver()) if "<int:" in path]
    assert len(found) > 100
    plain = [re.sub(r"<int:\w+>", str(key), path) for path in found]
    return ["/" + re.sub(r"<\w+:\w+>", "hammer", path) for path in plain]


@pytest.mark.parametrize("key", TOO_LARGE, ids=["2^63", "26 digits", "4,000 digits"])
def test_no_page_of_a_record_breaks_at_a_key_no_database_holds(
    manager_client: Client, key: int
) -> None:
    statuses = {path: manager_client.get(path).status_code for path in of_record(key)}
    assert set(statuses.values()) <= {404, 405}, statuses


@pytest.mark.parametrize("name", ["housings", "lots"])
@pytest.mark.parametrize(
    "key", [*map(str, TOO_LARGE), f"-{TOO_LARGE[0]}", f"+{TOO_LARGE[0]}", "9" * 5000, "²", "-1"]
)
def test_labels_of_what_no_database_holds_are_refused(
    manager_client: Client, name: str, key: str
) -> None:
    page = manager_client.post(reverse("labels"), {"stock": "letter-30", name: key})
    assert page.status_code == 200
    assert page.context["form"].errors[name]


def test_a_yard_that_no_database_holds_is_refused_where_somebody_is_bound(
    manager_client: Client,
) -> None:
    page = manager_client.post(
        reverse("person-yards", args=[DispatcherFactory().pk]), {"yards": f"-{TOO_LARGE[0]}"}
    )
    assert page.status_code == 200
    assert page.context["form"].errors["yards"]


def test_a_lot_that_no_database_holds_is_refused_where_pads_are_counted(
    manager_client: Client,
) -> None:
    unit = rated_unit()
    url = reverse("count-pads", args=[unit.housing.pk])
    fields = all_sound(manager_client, url)
    before = everything()
    for key in map(str, TOO_LARGE):
        page = manager_client.post(url, fields | {"lot-A1": key})
        assert page.status_code == 200
    assert changed(before) == set()


@pytest.mark.parametrize(
    "body",
    [
        "[" * 50_000 + "]" * 50_000,
        '{"a":' * 50_000 + "1" + "}" * 50_000,
        '{"housing": ' + "9" * 5000 + "}",
    ],
    ids=["lists in lists", "in each other", "an integer of 5,000 digits"],
)
@pytest.mark.parametrize("page", ["field-inspections", "field-pulls"])
def test_json_that_no_phone_sends_is_refused_in_words(
    manager_client: Client, page: str, body: str
) -> None:
    answer = manager_client.post(reverse(page), body, content_type="application/json")
    assert answer.status_code == 422
    assert answer.json()["errors"]


def test_a_page_that_carries_what_was_seen_takes_none_of_it(dispatcher_client: Client) -> None:
    for seen in ("[" * 50_000, '{"1": [' + "9" * 5000 + ', "a", "b", "c"]}', '{"1": []}'):
        answer = dispatcher_client.post(reverse("job-answer"), {"seen": seen, "before": seen})
        assert answer.status_code == 200


def png_with_text(unpacks_to: int) -> bytes:
    """A picture of a few kilobytes with a text beside it that unpacks to so many bytes."""
    held = BytesIO()
    note = PngImagePlugin.PngInfo()
    note.add(b"zTXt", b"Comment\0\0" + zlib.compress(b"\0" * unpacks_to))
    Image.new("RGB", (4, 4)).save(held, "PNG", pnginfo=note)
    return held.getvalue()


def test_a_picture_with_a_text_that_unpacks_to_80_mb_is_no_picture() -> None:
    sent = png_with_text(80 * 1024 * 1024)
    assert len(sent) < 200_000
    with pytest.raises(NoPicture, match=r"no picture|damaged"):
        read_picture(sent)


def test_a_picture_cut_off_at_any_byte_is_refused_in_words() -> None:
    for name in ("PNG", "JPEG", "WEBP"):
        held = BytesIO()
        Image.effect_noise((24, 24), 80).convert("RGB").save(held, name)
        whole = held.getvalue()
        for end in range(0, len(whole) // 2, max(1, len(whole) // 40)):
            with pytest.raises(NoPicture):
                read_picture(whole[:end], keep_place=True)


def test_such_a_picture_beside_a_job_is_refused_beside_its_field(
    dispatcher_client: Client,
) -> None:
    job = extraction_job()
    url = reverse("job-attachments", args=[job.pk])
    sent = BytesIO(png_with_text(80 * 1024 * 1024))
    sent.name = "boring.png"
    page = dispatcher_client.post(
        url, {"kind": "boring", "title": "Boring 3", "sent": sent, "submission_id": "1" * 32}
    )
    assert page.status_code == 200
    assert not JobAttachment.objects.exists()
    assert "picture" in words(page)


def test_a_kept_file_that_is_gone_is_not_found_and_says_so(dispatcher_client: Client) -> None:
    kept = attached(extraction_job())
    kept.file.storage.delete(str(kept.file.name))
    page = dispatcher_client.get(reverse("job-attachment", args=[kept.pk]))
    assert page.status_code == 404


def test_a_note_longer_than_any_is_refused_by_the_phone_s_door_too() -> None:
    unit = rated_unit()
    before = everything()
    answer = send(signed_in(unit.manager), payload(unit, note="x" * 50_000))
    assert answer.status_code == 422
    assert "50000 characters" in str(answer.json()["errors"]["note"])
    assert changed(before) == set()


def test_pages_asked_for_beyond_any_number_show_what_there_is(manager_client: Client) -> None:
    PadLotFactory()
    for asked in ("page=" + "9" * 5000, f"page={10**26}", f"yard={10**26}", "yard=" + "9" * 5000):
        for page in ("board", "lots", "jobs", "due"):
            assert manager_client.get(f"{reverse(page)}?{asked}").status_code == 200


@pytest.mark.parametrize(
    "name", ["\0", "..", "/", "\x01\x02.\x03"], ids=["NUL", "dots", "slash", "controls"]
)
def test_a_file_is_taken_whatever_it_is_called(manager_client: Client, name: str) -> None:
    """A hundred kB of it: what a parser leaves of a dropped file it reads as more fields."""
    sent: list[Pair] = [("file", File(name, b"PK\x03\x04" + b"\xff" * 100_000)), ("act", "send")]
    page = post(manager_client, reverse("receive-unit"), sent).content.decode()
    assert "It does not hold: the archive" in page


def test_a_form_that_was_broken_off_is_told_so(manager_client: Client) -> None:
    content = b"--x\r\n" + b"y" * 5_000 + b"\r\n\r\n"
    answer = manager_client.post(
        reverse("receive-unit"), content, content_type="multipart/form-data; boundary=x"
    )
    assert answer.status_code == 400
    assert "The form is broken off" in answer.content.decode()
    assert Refusal.objects.get().words.startswith("The form is broken off")


def test_a_form_of_too_long_texts_is_told_so(manager_client: Client, settings: Any) -> None:
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 2_000
    answer = manager_client.post(reverse("new-lot"), {"notes": "x" * 3_000})
    assert answer.status_code == 400
    assert "more than 2,000 bytes in all" in answer.content.decode()


def test_a_form_of_too_many_fields_is_told_so(manager_client: Client, settings: Any) -> None:
    settings.DATA_UPLOAD_MAX_NUMBER_FIELDS = 5
    answer = manager_client.post(reverse("new-lot"), {f"x{place}": "1" for place in range(9)})
    assert answer.status_code == 400
    assert "more than 5 fields" in answer.content.decode()
