from __future__ import annotations

import os
import struct
import time
import uuid
import zlib
from io import BytesIO, StringIO
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

import pytest
from django.conf import settings as site
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from PIL import Image
from pytest_django import Settings

from fleet.picture import NoPicture, read_picture
from inspections.models import PhotoFile
from inspections.photos.pieces import LEAST_PIECE_BYTES, received
from inspections.photos.recording import clear_pieces
from tests.builders import rated_unit
from tests.inspections.field.sent import payload, send, signed_in

if TYPE_CHECKING:
    from tests.inspections.field.sent import Answer

Phone = tuple[Client, uuid.UUID]


def jpeg(width: int = 60, height: int = 40, **options: object) -> bytes:
    held = BytesIO()
    Image.new("RGB", (width, height), "grey").save(held, "JPEG", **options)
    return held.getvalue()


def grainy() -> bytes:
    """A picture of more than one piece."""
    held = BytesIO()
    Image.frombytes("RGB", (200, 150), Random(1).randbytes(90_000)).save(held, "JPEG")
    return held.getvalue()


FIRST = LEAST_PIECE_BYTES


def put(client: Client, photo_id: uuid.UUID, piece: bytes, offset: int, length: int) -> Answer:
    return client.put(
        reverse("field-photo", args=[photo_id]),
        piece,
        content_type="application/octet-stream",
        headers={"Upload-Offset": str(offset), "Upload-Length": str(length)},
    )


@pytest.fixture
def phone(db: None, settings: Settings, tmp_path: Path) -> Phone:
    """A phone signed in, and a photo that a signed inspection names."""
    settings.MEDIA_ROOT = tmp_path
    unit, photo_id = rated_unit(), uuid.uuid4()
    client = signed_in(unit.manager)
    named = [{"id": str(photo_id), "caption": "Side A", "finding": None}]
    assert send(client, payload(unit, photos=named)).status_code == 201
    return client, photo_id


def test_a_photo_in_two_pieces_is_kept_whole(phone: Phone) -> None:
    client, photo_id = phone
    whole = grainy()
    first = put(client, photo_id, whole[:FIRST], 0, len(whole))
    assert first.json() == {"received": FIRST, "done": False}
    last = put(client, photo_id, whole[FIRST:], FIRST, len(whole))
    assert last.status_code == 201
    assert PhotoFile.objects.get(photo=photo_id).width == 200


def test_a_piece_out_of_step_is_told_where_to_go_on(phone: Phone) -> None:
    client, photo_id = phone
    whole = grainy()
    put(client, photo_id, whole[:FIRST], 0, len(whole))
    answer = put(client, photo_id, whole[:FIRST], 0, len(whole))
    assert (answer.status_code, answer.json()["received"]) == (409, FIRST)
    assert client.get(reverse("field-photo", args=[photo_id])).json()["received"] == FIRST


def test_a_piece_of_a_few_bytes_is_refused_but_as_the_last(phone: Phone) -> None:
    client, photo_id = phone
    whole = grainy()
    answer = put(client, photo_id, whole[: FIRST - 1], 0, len(whole))
    assert answer.status_code == 422
    assert answer.json()["errors"]["photo"] == [
        "A piece of a photo has 16 kB or more, but for its last."
    ]
    assert put(client, photo_id, whole[: len(whole) - 1], 0, len(whole)).status_code == 200
    last = put(client, photo_id, whole[-1:], len(whole) - 1, len(whole))
    assert last.status_code == 201


def came_days_ago(photo_id: uuid.UUID, days: float) -> None:
    at = time.time() - 86_400 * days
    for each in (Path(site.MEDIA_ROOT) / "pieces" / str(photo_id)).iterdir():
        os.utime(each, (at, at))


def test_pieces_are_kept_for_ninety_days_and_then_sent_anew(phone: Phone) -> None:
    client, photo_id = phone
    whole = grainy()
    put(client, photo_id, whole[:FIRST], 0, len(whole))
    came_days_ago(photo_id, 89.9)
    call_command("photo_pieces", stdout=StringIO())
    url = reverse("field-photo", args=[photo_id])
    assert client.get(url).json() == {"received": FIRST, "done": False}
    came_days_ago(photo_id, 90.1)
    out = StringIO()
    call_command("photo_pieces", stdout=out)
    assert "Photos that never came whole, and were cleared: 1." in out.getvalue()
    assert client.get(url).json() == {"received": 0, "done": False}
    assert put(client, photo_id, whole, 0, len(whole)).status_code == 201


def test_a_stray_folder_among_the_pieces_is_passed_over(phone: Phone) -> None:
    client, photo_id = phone
    whole = grainy()
    put(client, photo_id, whole[:FIRST], 0, len(whole))
    came_days_ago(photo_id, 90.1)
    (Path(site.MEDIA_ROOT) / "pieces" / ".snapshot").mkdir()
    assert clear_pieces() == 1
    assert received(photo_id) == 0


def test_old_pieces_of_which_one_came_lately_are_kept(phone: Phone) -> None:
    client, photo_id = phone
    whole = grainy()
    put(client, photo_id, whole[:FIRST], 0, len(whole) + FIRST)
    came_days_ago(photo_id, 200)
    put(client, photo_id, whole[:FIRST], FIRST, len(whole) + FIRST)
    assert clear_pieces() == 0
    assert received(photo_id) == 2 * FIRST


def test_a_photo_sent_twice_is_kept_once(phone: Phone) -> None:
    client, photo_id = phone
    whole = jpeg()
    put(client, photo_id, whole, 0, len(whole))
    assert put(client, photo_id, whole, 0, len(whole)).json()["done"]
    assert PhotoFile.objects.count() == 1


def test_a_file_that_is_no_picture_is_refused_and_can_be_sent_anew(phone: Phone) -> None:
    client, photo_id = phone
    answer = put(client, photo_id, b"not a picture", 0, 13)
    assert answer.status_code == 422
    assert "no picture" in answer.json()["errors"]["photo"][0]
    whole = jpeg()
    assert put(client, photo_id, whole, 0, len(whole)).json()["done"]


def test_a_photo_nobody_named_is_refused(phone: Phone) -> None:
    client, _ = phone
    assert put(client, uuid.uuid4(), b"x", 0, 1).status_code == 404


def test_sixty_megabytes_are_refused_at_the_first_piece(phone: Phone) -> None:
    client, photo_id = phone
    assert put(client, photo_id, b"x" * 100, 0, 60_000_000).status_code == 422


def test_a_million_dots_a_side_are_refused_unopened() -> None:
    header = struct.pack(">IIBBBBB", 1_000_000, 1_000_000, 8, 2, 0, 0, 0)
    chunk = b"IHDR" + header
    png = (
        b"\x89PNG\r\n\x1a\n"
        + struct.pack(">I", len(header))
        + chunk
        + struct.pack(">I", zlib.crc32(chunk))
        + struct.pack(">I", 0)
        + b"IDAT"
        + struct.pack(">I", zlib.crc32(b"IDAT"))
    )
    with pytest.raises(NoPicture, match=r"dots|no picture"):
        read_picture(png)


def test_the_place_a_photo_was_taken_is_left_out() -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8825)[1] = "N"
    exif[0x010E] = "by the ferry slip"
    kept = read_picture(jpeg(exif=exif.tobytes()))
    assert not Image.open(BytesIO(kept.content)).getexif()


def test_a_yard_may_keep_the_place_and_no_other_tag() -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8825)[1] = "N"
    exif[0x010E] = "by the ferry slip"
    kept = Image.open(BytesIO(read_picture(jpeg(exif=exif.tobytes()), keep_place=True).content))
    assert kept.getexif().get_ifd(0x8825) == {1: "N"}
    assert 0x010E not in kept.getexif()


def test_a_broken_picture_is_refused() -> None:
    with pytest.raises(NoPicture):
        read_picture(jpeg(600, 400)[:900])
