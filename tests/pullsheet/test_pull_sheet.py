from __future__ import annotations

from io import BytesIO
from typing import Any

import pytest
import segno
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from fleet.models import ReaderPreference
from ratings.extraction.standingfalls import held_commitment
from ratings.models import Commitment
from ratings.pullsheet.code import QUIET, code_matrix, draw_code
from ratings.pullsheet.facts import on_the_tape_in, read_sheet
from ratings.pullsheet.paper import pull_sheet_pdf, tape_words
from ratings.recording.commitment import release_unit
from tests.builders import count
from tests.factories import AuditorFactory, DispatcherFactory
from tests.jobs import commit, extraction_job, figured_unit

URL = "https://ledger.example/commitments/7/"


def text_of(pdf: bytes) -> str:
    pages = PdfReader(BytesIO(pdf)).pages
    assert len(pages) == 1
    return " ".join(pages[0].extract_text().split())


def sheet_of(made: Commitment, system: str = "us") -> str:
    return text_of(pull_sheet_pdf(read_sheet(held_commitment(made.pk), URL, system)))


@pytest.mark.django_db
def test_it_holds_unit_job_limits_and_the_ledger_hash() -> None:
    made = commit(figured_unit())
    text = sheet_of(made)
    assert f"Pull sheet: {made.housing} on {made.hammer}" in text
    assert "Ferry slip" in text
    assert "8 sound of 8" in text
    assert "120,000 lbf" in text
    assert made.answer.entry.hash in text


@pytest.mark.django_db
def test_the_stretch_not_to_pass_is_the_travel_less_half_the_amplitude() -> None:
    unit = figured_unit()
    sheet = read_sheet(held_commitment(commit(unit).pk), URL, "us")
    # 2·4,400 / (8,000 + 2,000 + 73·50) lb = 0.6447 in from peak to peak; half of it off 6 in.
    assert sheet.reckoned_in == pytest.approx(6.0 - 0.6447 / 2, abs=1e-4)
    assert sheet.stop_in == 5.625


@pytest.mark.django_db
def test_a_still_pull_may_use_the_whole_travel_and_has_its_own_steps() -> None:
    unit = figured_unit(positions_per_side=12, listed_lbf=100_000)
    job = extraction_job(method="by the crane alone, hammer still", rigging_limit_lbf=150_000.0,
                         capacity_lbf=180_000.0)  # fmt: skip
    made = commit(unit, job)
    assert read_sheet(held_commitment(made.pk), URL, "us").stop_in == 6.0
    assert "The hammer stays off" in sheet_of(made)


@pytest.mark.django_db
def test_it_is_void_once_the_rating_changes() -> None:
    unit = figured_unit()
    made = commit(unit)
    assert "VOID" not in sheet_of(made)
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=timezone.now())
    assert "VOID: the unit’s rating has changed since" in sheet_of(made)


@pytest.mark.django_db
def test_it_is_void_once_the_unit_is_released() -> None:
    made = commit(figured_unit())
    release_unit(commitment=made, reason="Rained off", by=DispatcherFactory())
    assert "VOID: the unit was released: Rained off" in sheet_of(made)


@pytest.mark.django_db
def test_it_tells_the_answer_it_was_committed_on_whatever_the_job_says_now() -> None:
    unit = figured_unit()
    job = extraction_job()
    made = commit(unit, job)
    before = sheet_of(made)
    type(job).objects.filter(pk=job.pk).update(capacity_lbf=1.0, embedment_ft=3.0)
    assert sheet_of(made) == before


@pytest.mark.django_db
@pytest.mark.parametrize("site", ["S" * 120, "Naïve quay 🔨 مرفأ", "<b>Quay & Co</b>"])
def test_any_site_still_makes_one_page(site: str) -> None:
    made = commit(figured_unit(), extraction_job(site=site))
    assert "Pull sheet" in sheet_of(made)


@pytest.mark.django_db
def test_a_housing_of_24_positions_a_side_still_makes_one_page() -> None:
    unit = figured_unit(positions_per_side=24, listed_lbf=200_000)
    assert "48 sound of 48" in sheet_of(commit(unit))


@pytest.mark.django_db
def test_it_speaks_si_to_who_wants_it(client: Client) -> None:
    reader = AuditorFactory()
    ReaderPreference.objects.create(user=reader, units="si")
    made = commit(figured_unit())
    client.force_login(reader)
    text = text_of(client.get(reverse("pull-sheet", args=[made.pk])).content)
    assert "533.8 kN" in text
    assert "144 mm" in text
    assert "lbf" not in text


class Squares:
    """A canvas that keeps the squares drawn on it."""

    def __init__(self) -> None:
        self.drawn: list[tuple[float, float]] = []

    def setFillGray(self, _gray: float) -> None:  # noqa: N802 - reportlab's name
        """Every square is black."""

    def rect(self, x: float, y: float, *_size: float, **_how: Any) -> None:
        self.drawn.append((x, y))


def test_the_code_drawn_is_that_of_the_page() -> None:
    canvas: Any = Squares()
    side = len(code_matrix(URL))
    draw_code(canvas, URL, 0.0, 0.0, float(side))
    places = {(round(x) - QUIET, side - round(y) - 1 - QUIET) for x, y in canvas.drawn}
    made = segno.make(URL, error="m", micro=False).matrix
    assert places == {
        (across, down) for down, row in enumerate(made) for across, dark in enumerate(row) if dark
    }


@pytest.mark.parametrize(
    ("stretch_in", "words"), [(5.6875, "5 11/16 in"), (5.7, "5 11/16 in"), (6.0, "6 in")]
)
def test_a_stretch_is_cut_down_to_what_a_tape_shows(stretch_in: float, words: str) -> None:
    assert tape_words(on_the_tape_in(stretch_in, "us"), "us") == words


def test_millimetres_are_cut_down_too() -> None:
    assert tape_words(on_the_tape_in(143.9 / 25.4, "si"), "si") == "143 mm"
