"""The sheet of a commitment on record."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.models import LongWork, ReaderPreference
from ratings.jobs.commitments import release_unit
from ratings.jobs.validity import commitment_now
from ratings.models import Commitment, LotRating
from ratings.pullsheet.facts import read_sheet
from ratings.pullsheet.paper import pull_sheet_pdf
from tests.builders import count
from tests.factories import AuditorFactory, DispatcherFactory
from tests.job_builders import commit, extraction_job, figured_unit
from tests.ratings.pullsheet.printed import URL, words_of
from tests.ratings.rerating.made import made_rerating
from tests.site.html_form import words as answer_words

pytestmark = pytest.mark.django_db


def sheet_of(made: Commitment, system: str = "us") -> str:
    return words_of(pull_sheet_pdf(read_sheet(commitment_now(made.pk), URL, system)))


def test_it_holds_unit_job_limits_and_hashes() -> None:
    made = commit(figured_unit())
    text = sheet_of(made)
    assert f"Pull sheet {made.pk}: {made.housing} on {made.hammer}" in text
    assert "Ferry slip" in text
    assert "8 sound of 8" in text
    assert "120,000 lbf" in text
    assert made.answer.entry.hash in text
    assert made.answer.hash in text


def test_the_stretch_not_to_pass_is_the_travel_less_half_the_amplitude() -> None:
    unit = figured_unit({"clamp_force_lbf": 1_000_000.0})
    strong = extraction_job(capacity_lbf=400_000.0, rigging_limit_lbf=400_000.0)
    sheet = read_sheet(commitment_now(commit(unit, strong).pk), URL, "us")
    # 2·4,400 / (8,000 + 2,000 + 73·50) lb = 0.6447 in from peak to peak; half of it off 6 in is
    # 5.6777 in, of which a tape shows sixteenths.
    assert sheet.pads_stop_in == sheet.stop_in == 5.625


def test_a_still_pull_may_use_the_whole_travel_and_has_its_own_steps() -> None:
    figures: dict[str, float | None] = {"clamp_force_lbf": 1_000_000.0}
    unit = figured_unit(figures, positions_per_side=12, listed_lbf=100_000)
    job = extraction_job(method="by the crane alone, hammer still", rigging_limit_lbf=400_000.0,
                         capacity_lbf=400_000.0)  # fmt: skip
    made = commit(unit, job)
    assert read_sheet(commitment_now(made.pk), URL, "us").stop_in == 6.0
    assert "The hammer stays off" in sheet_of(made)


def test_none_is_printed_while_its_unit_is_rated_again_and_one_in_an_archive_says_so() -> None:
    unit = figured_unit()
    made = commit(unit)
    before = pull_sheet_pdf(read_sheet(commitment_now(made.pk), URL, "us"))
    going = made_rerating(LotRating.objects.in_force().get(lot=unit.lot), unit.manager)
    client = Client()
    client.force_login(unit.manager)
    refused = client.get(reverse("pull-sheet", args=[made.pk]))
    assert refused.status_code == 409
    page = answer_words(refused)
    assert "ASK AGAIN IN A MINUTE" in page
    assert "The unit is being rated again at this moment, and the sheet may not hold" in page
    assert going.arguments["title"] in page
    assert "ASK AGAIN IN A MINUTE: The unit is being rated again" in sheet_of(made)
    LongWork.objects.filter(pk=going.pk).update(ended_at=timezone.now())
    assert client.get(reverse("pull-sheet", args=[made.pk])).status_code == 200
    assert pull_sheet_pdf(read_sheet(commitment_now(made.pk), URL, "us")) == before


def test_it_is_void_once_the_rating_changes() -> None:
    unit = figured_unit()
    made = commit(unit)
    assert "VOID" not in sheet_of(made)
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=timezone.now())
    assert "VOID: The standing of" in sheet_of(made)


def test_it_is_void_once_the_unit_is_released() -> None:
    made = commit(figured_unit())
    release_unit(commitment=made, reason="Rained off", by=DispatcherFactory())
    text = sheet_of(made)
    assert "VOID: Released" in text
    assert "Rained off." in text


def test_it_tells_the_answer_it_was_committed_on_whatever_the_job_says_now() -> None:
    job = extraction_job()
    made = commit(figured_unit(), job)
    before = sheet_of(made)
    type(job).objects.filter(pk=job.pk).update(capacity_lbf=1.0, site="Elsewhere")
    job.pile_groups.update(embedment_ft=3.0)
    after = sheet_of(made)
    assert after.startswith(before)
    assert "VOID: The numbers of the job changed" in after.removeprefix(before)


def test_address_section_crane_and_clamp_are_kept_with_the_answer() -> None:
    unit = figured_unit()
    job = extraction_job(
        address="Through the north gate",
        radius_ft=45.0,
        frost_days=3,
        piles=[{"section": "HP14×73"}],
    )
    made = commit(unit, job)
    kept = made.answer.contents["particulars"]
    assert kept["address"] == "Through the north gate"
    assert kept["sections"] == ["HP14×73"]
    back = words_of(pull_sheet_pdf(read_sheet(commitment_now(made.pk), URL, "us")), page=1)
    for words in ("Through the north gate", "HP14×73", "at 45 ft radius", "3 days of it by then"):
        assert words in back
    type(job).objects.filter(pk=job.pk).update(address="Elsewhere")
    assert made.answer.contents["particulars"] == kept
    clamp = kept["clamp"]
    assert f"clamp {clamp} grips" in sheet_of(made)


@pytest.mark.parametrize("site", ["S" * 120, "Naïve quay 🔨 مرفأ", "<b>Quay & Co</b>"])
def test_any_site_still_makes_one_page(site: str) -> None:
    made = commit(figured_unit(), extraction_job(site=site))
    assert "Pull sheet" in sheet_of(made)


@pytest.mark.parametrize(("a_side", "all_of_them"), [(12, 24), (24, 48)])
def test_a_housing_of_many_positions_still_makes_one_page(a_side: int, all_of_them: int) -> None:
    unit = figured_unit(positions_per_side=a_side, listed_lbf=90_000)
    assert f"{all_of_them} sound of {all_of_them}" in sheet_of(commit(unit))


def test_it_speaks_si_to_who_wants_it(client: Client) -> None:
    reader = AuditorFactory()
    ReaderPreference.objects.create(user=reader, units="si")
    made = commit(figured_unit())
    client.force_login(reader)
    answer = client.get(reverse("pull-sheet", args=[made.pk]))
    text = words_of(answer.content)
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Cache-Control"] == "no-store"
    assert "533.8 kN" in text
    assert "144 mm" in text
    assert "lbf" not in text


def test_it_says_who_printed_it(client: Client) -> None:
    made = commit(figured_unit())
    client.force_login(AuditorFactory(first_name="Sam", last_name="Printer"))
    text = words_of(client.get(reverse("pull-sheet", args=[made.pk])).content)
    assert "Valid when printed" in text
    assert "by Sam Printer." in text


def test_a_sheet_of_no_commitment_is_not_found(auditor_client: Client) -> None:
    assert auditor_client.get(reverse("pull-sheet", args=[9999])).status_code == 404
