"""One paper, two seals and the script alone: the one that was altered is found."""

from __future__ import annotations

import re
import zlib
from datetime import timedelta
from hashlib import sha256
from io import BytesIO
from typing import Any, cast

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader, PdfWriter

from ratings import check_record
from ratings.record.seals import make_seal
from tests.builders import MONDAY, count, rated_unit

pytestmark = pytest.mark.django_db
Files = dict[str, bytes]


@pytest.fixture
def given_out(auditor_client: Client) -> Files:
    """The history of a unit on paper, and two seals that somebody kept."""
    unit = rated_unit()
    older = make_seal().text.encode()
    tuesday = MONDAY + timedelta(days=1)
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=tuesday)
    newer = make_seal().text.encode()
    paper = auditor_client.get(reverse("history-report", args=[unit.housing.pk])).content
    return {"history.pdf": paper, "older.txt": older, "newer.txt": newer}


def check(files: Files) -> list[str]:
    return check_record.check(list(files.items()))


def test_a_paper_and_two_seals_as_given_out_hold(given_out: Files) -> None:
    told = " ".join(check(given_out))
    assert "it shows the line pull, 42,000 lbf" in told
    assert "holds all that seal 1" in told


def test_the_foot_of_each_page_names_the_seal(given_out: Files) -> None:
    newer = check_record.Seal("newer", given_out["newer.txt"].decode())
    for page in PdfReader(BytesIO(given_out["history.pdf"])).pages:
        text = page.extract_text()
        assert f"seal {newer.number} of" in text
        assert newer.hash[:4].upper() in text


def redrawn(paper: bytes, before: bytes, after: bytes) -> bytes:
    """A paper whose pages show other words: its streams unpacked, altered and packed again."""
    shown, instead = by_glyph(paper, before), by_glyph(paper, after)

    def repack(found: re.Match[bytes]) -> bytes:
        try:
            words = zlib.decompress(found[1])
        except zlib.error:
            return found[0]
        again = zlib.compress(words.replace(shown, instead))
        return b"stream\n" + again + b"\nendstream"

    return re.sub(rb"stream\r?\n(.*?)\r?\nendstream", repack, paper, flags=re.DOTALL)


def by_glyph(paper: bytes, words: bytes) -> bytes:
    """Words as the pages of a paper show them: by the glyphs of its font."""
    fonts = cast(Any, PdfReader(BytesIO(paper)).pages[0])["/Resources"]["/Font"]
    told = fonts["/R"]["/ToUnicode"].get_data()
    pairs = re.findall(rb"<([0-9A-F]{4})> <([0-9A-F]{4})>", told)
    glyphs = {chr(int(means, 16)): glyph for glyph, means in pairs}
    return b"".join(glyphs[each] for each in words.decode())


def test_a_paper_that_shows_another_pull_is_found(given_out: Files) -> None:
    forged = redrawn(given_out["history.pdf"], b"42,000", b"58,000")
    assert forged != given_out["history.pdf"]
    with pytest.raises(check_record.Wrong, match="the record has 42,000 lbf as the line pull"):
        check(given_out | {"history.pdf": forged})


def test_a_paper_that_says_another_pull_in_its_headline_is_found(given_out: Files) -> None:
    forged = redrawn(given_out["history.pdf"], b"line pull 21.0", b"line pull 29.0")
    with pytest.raises(check_record.Wrong, match=r"it says “line pull 29\.0 tons”"):
        check(given_out | {"history.pdf": forged})


@pytest.mark.parametrize("name", ["older.txt", "newer.txt"])
def test_a_seal_that_was_altered_is_found(given_out: Files, name: str) -> None:
    told = given_out[name].decode()
    root = re.search(r"root ([0-9a-f]{64})", told)
    assert root is not None
    body = told.rsplit("code ", 1)[0].replace(root[1], root[1][::-1])
    forged = f"{body}code {sha256(body.encode()).hexdigest()}\n".encode()
    with pytest.raises(check_record.Wrong):
        check(given_out | {name: forged})


def test_a_paper_with_no_proof_or_with_no_seal_is_not_called_true(given_out: Files) -> None:
    with pytest.raises(check_record.Wrong, match="carries no proof"):
        check(given_out | {"history.pdf": b"%PDF-1.4 nothing"})
    with pytest.raises(check_record.Wrong, match="no seal was given"):
        check({"history.pdf": given_out["history.pdf"]})


def test_a_paper_whose_page_was_replaced_by_an_update_of_it_is_found(given_out: Files) -> None:
    paper = given_out["history.pdf"]
    update = BytesIO(paper)
    writer = PdfWriter(update, incremental=True)
    writer.pages[0].rotate(180)
    written = BytesIO()
    writer.write(written)
    assert written.getvalue().startswith(paper)
    with pytest.raises(check_record.Wrong, match="added to after it was given out"):
        check(given_out | {"history.pdf": written.getvalue()})


def test_a_headline_of_other_capitals_or_a_pull_within_a_longer_figure_is_found(
    given_out: Files,
) -> None:
    for after in (b"Line pull: 499.9", b"LINE PULL 499.9"):
        forged = redrawn(given_out["history.pdf"], b"line pull 21.0", after)
        with pytest.raises(check_record.Wrong, match=r"499\.9 tons"):
            check(given_out | {"history.pdf": forged})
    forged = redrawn(given_out["history.pdf"], b"42,000", b"142,000")
    with pytest.raises(check_record.Wrong, match="the record has 42,000 lbf as the line pull"):
        check(given_out | {"history.pdf": forged})
