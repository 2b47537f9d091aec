from __future__ import annotations

import struct
import uuid
import zlib
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from django.test import Client
from django.urls import reverse
from PIL import Image
from pytest_django import Settings

from fleet.picture import NoPicture, read_picture
from inspections.models import PhotoFile
from tests.builders import rated_unit
from tests.inspections.field.sent import payload, send, signed_in

if TYPE_CHECKING:
    from tests.inspections.field.sent import Answer

Phone = tuple[Client, uuid.UUID]


def jpeg(width: int = 60, height: int = 40, **options: object) -> bytes:
    held = BytesIO()
    Image.new("RGB", (width, height), "grey").save(held, "JPEG", **options)
    return held.getvalue()


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
    whole = jpeg()
    first = put(client, photo_id, whole[:300], 0, len(whole))
    assert first.json() == {"received": 300, "done": False}
    last = put(client, photo_id, whole[300:], 300, len(whole))
    assert last.status_code == 201
    assert PhotoFile.objects.get(photo=photo_id).width == 60


def test_a_piece_out_of_step_is_told_where_to_go_on(phone: Phone) -> None:
    client, photo_id = phone
    whole = jpeg()
    put(client, photo_id, whole[:300], 0, len(whole))
    answer = put(client, photo_id, whole[:300], 0, len(whole))
    assert (answer.status_code, answer.json()["received"]) == (409, 300)
    assert client.get(reverse("field-photo", args=[photo_id])).json()["received"] == 300


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
