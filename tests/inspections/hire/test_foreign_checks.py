from __future__ import annotations

import uuid
from io import BytesIO
from typing import Any
from unittest.mock import patch

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from fleet.models import Hammer, SuppressorHousing
from inspections.hire.foreign import add_check_photo, record_check
from inspections.models import ForeignCheck
from ratings.ledger.canonical import digest
from ratings.mechanics.record import read_inputs, results_record
from ratings.mechanics.unit_rating import rate_unit
from ratings.models import LedgerEntry
from tests.builders import days_ago, picture, rated_unit
from tests.factories import ManagerFactory, PadLotFactory
from tests.inspections.hire.test_hand_overs import back, out
from tests.site.html_form import opened, words

pytestmark = pytest.mark.django_db


def checked(**changes: Any) -> ForeignCheck:
    """A hammer of somebody else, four sound pads a side, guided, three of its pads measured."""
    plain: dict[str, Any] = {
        "submission_id": uuid.uuid4(),
        "owner": "Brandt Piling",
        "make_and_type": "no plate",
        "mark": "BP-7",
        "checked_at": days_ago(1),
        "positions_per_side": 4,
        "sound_a": 4,
        "sound_b": 4,
        "travel_in": 6.0,
        "is_guided": True,
        "guided_reason": "Two rods",
        "rate_from": "measured",
        "rate_lbf_in": 1000.0,
        "spread_lbf_in": 30.0,
        "pads_measured": 3,
        "tested_stretch_in": 8.0,
        "measured_where": "Stand of the owner, Odd Brandt, in May",
        "by": ManagerFactory(),
    }
    return record_check(**plain | changes)


def test_a_measured_rate_comes_to_less_than_the_pads_by_the_price_of_what_nobody_knows() -> None:
    results = checked().results
    # By hand: 8 pads × 1,000 lbf/in × 6 in, less 3 % for the seals and 10 % for first stretches.
    assert results["pull_lbf"] == pytest.approx(48_000 * 0.97 * 0.90)
    assert results["working_capacity_lbf"] < results["pull_lbf"]


def test_pads_of_one_of_our_lots_pull_what_they_pull_in_ours() -> None:
    unit = rated_unit()
    ours = LedgerEntry.objects.filter(housing=unit.housing).latest("sequence")
    found = checked(rate_from="lot", lot=unit.lot).results
    assert found["pull_lbf"] == pytest.approx(ours.pull_lbf)
    assert found["working_capacity_lbf"] == pytest.approx(ours.working_capacity_lbf)


def test_with_no_rate_nothing_is_known_and_the_listing_is_not_met() -> None:
    found = checked(rate_from="unknown", rate_lbf_in=None, stated_listed_lbf=40_000.0)
    assert found.results["pull_lbf"] is None
    assert found.results["standing"] == "unrated"


def test_an_unguided_one_counts_twice_its_weaker_side() -> None:
    found = checked(is_guided=False, sound_b=1, missing_b=3)
    assert found.results["weaker_side"] == "B"
    assert found.results["pull_lbf"] == pytest.approx(2 * 6_000 * 0.97 * 0.90)


def test_its_answer_can_be_worked_out_again_from_its_document_alone() -> None:
    check = ForeignCheck.objects.get(pk=checked().pk)
    assert digest(check.document) == check.hash
    again = results_record(rate_unit(read_inputs(check.contents["inputs"])))
    assert again["working_capacity_lbf"] == check.results["working_capacity_lbf"]


def test_it_is_kept_apart_from_the_fleet(manager_client: Client) -> None:
    checked()
    assert not Hammer.objects.exists()
    assert not SuppressorHousing.objects.exists()
    assert not LedgerEntry.objects.exists()
    for page in (reverse("board"), reverse("search") + "?q=BP-7"):
        assert "Brandt Piling" not in words(manager_client.get(page))


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"owner": " "}, "owner"),
        ({"make_and_type": ""}, "make_and_type"),
        ({"mark": ""}, "mark"),
        ({"positions_per_side": 5, "sound_b": 5}, "sound_a"),
        ({"sound_b": 3}, "sound_b"),
        ({"cracked_a": -1, "sound_a": 5}, "cracked_a"),
        ({"travel_in": 0.0}, "travel_in"),
        ({"guided_reason": ""}, "guided_reason"),
        ({"rate_from": "guess"}, "rate_from"),
        ({"rate_from": "lot"}, "lot"),
        ({"rate_lbf_in": None}, "rate_lbf_in"),
        ({"rate_lbf_in": 0.0}, "rate_lbf_in"),
        ({"tested_stretch_in": None}, "tested_stretch_in"),
        ({"pads_measured": None}, "pads_measured"),
        ({"spread_lbf_in": None}, "spread_lbf_in"),
        ({"pads_measured": 1}, "spread_lbf_in"),
        ({"rate_error_lbf_in": -2.0}, "rate_error_lbf_in"),
        ({"measured_where": ""}, "measured_where"),
        ({"stated_listed_lbf": 0.0}, "stated_listed_lbf"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(changes: dict[str, Any], field: str) -> None:
    with pytest.raises(ValidationError) as refusal:
        checked(**changes)
    assert list(refusal.value.message_dict) == [field]
    assert not ForeignCheck.objects.exists()


def test_a_lot_without_a_rating_in_force_rates_nothing() -> None:
    with pytest.raises(ValidationError, match="no rating in force"):
        checked(rate_from="lot", lot=PadLotFactory())


def test_a_later_row_corrects_an_earlier_one_once_for_a_reason() -> None:
    first, sent = checked(), uuid.uuid4()
    with pytest.raises(ValidationError, match="say what was wrong"):
        checked(corrects=first)
    second = checked(corrects=first, correction_reason="Taped again", submission_id=sent)
    assert checked(corrects=first, correction_reason="x", submission_id=sent) == second
    assert list(ForeignCheck.objects.standing()) == [second]
    with pytest.raises(ValidationError, match="was corrected already"):
        checked(corrects=first, correction_reason="Again")


def test_the_database_keeps_a_check_as_it_was() -> None:
    check = checked()
    with pytest.raises(IntegrityError), transaction.atomic():
        ForeignCheck.objects.filter(pk=check.pk).update(owner="Ours")


def test_its_pages_and_its_paper_say_that_it_is_not_of_the_fleet(manager_client: Client) -> None:
    check = checked(rate_from="unknown")
    for name, keys in (
        ("foreign-checks", []),
        ("new-foreign-check", []),
        ("foreign-check", [check.pk]),
    ):
        assert "Not of the fleet" in words(manager_client.get(reverse(name, args=keys)))
    paper = manager_client.get(reverse("foreign-check-paper", args=[check.pk])).content
    text = " ".join(page.extract_text() for page in PdfReader(BytesIO(paper)).pages)
    assert "Not of the fleet" in text
    assert "not known: no rate was measured" in text


def test_a_check_is_recorded_by_its_form_and_bad_input_named(manager_client: Client) -> None:
    url = reverse("new-foreign-check")
    given = opened(manager_client, url) | {
        "owner": "Brandt Piling",
        "make_and_type": "no plate",
        "mark": "BP-7",
        "positions_per_side": "4",
        "sound_a": "4",
        "sound_b": "4",
        "travel_in": "six",
        "rate_from": "unknown",
    }
    assert "“six” is not a number" in words(manager_client.post(url, given))
    answer = manager_client.post(url, given | {"travel_in": "6"}, follow=True)
    assert "Not known: no rate was measured" in words(answer)


def test_a_hire_is_read_and_its_paper_signed(manager_client: Client) -> None:
    unit = rated_unit()
    hire = out(unit)
    url = reverse("hire", args=[hire.pk])
    assert "Take it back" in words(manager_client.get(url))
    assert "on hire to Brandt Piling" in words(manager_client.get(reverse("board")))
    unit_page = words(manager_client.get(reverse("unit", args=[unit.housing.pk])))
    assert "On hire to Brandt Piling" in unit_page
    back(unit, hire, unsound={"A1": "cracked"})
    assert "What differs" in words(manager_client.get(url))
    paper = manager_client.get(reverse("hand-over-paper", args=[hire.pk])).content
    text = " ".join(page.extract_text() for page in PdfReader(BytesIO(paper)).pages)
    for said in ("Handed out", "Taken back", "Ida Moen", "Odd Brandt", "A1: sound", "30", "chart"):
        assert said in text


def photo_sent(client: Client, check: ForeignCheck, **more: Any) -> Any:
    url = reverse("foreign-check", args=[check.pk])
    return client.post(url, opened(client, url) | {"photo": picture()} | more, follow=True)


def test_a_check_takes_photos_made_anew_without_their_tags(manager_client: Client) -> None:
    check = checked()
    shown = photo_sent(manager_client, check, caption="Plate of the owner")
    kept = check.photos.get()
    assert "The photo is kept" in words(shown)
    assert "Plate of the owner" in words(shown)
    assert (kept.width, kept.height, len(kept.sha256)) == (1, 1, 64)
    file = manager_client.get(reverse("foreign-check-photo", args=[kept.pk]))
    assert file["Content-Type"] == "image/jpeg"


def test_a_photo_that_is_none_and_one_by_a_reader_are_refused(
    manager_client: Client, auditor_client: Client
) -> None:
    check = checked()
    text = SimpleUploadedFile("plate.jpg", b"not a picture")
    assert "Nothing was saved" in words(photo_sent(manager_client, check, photo=text))
    url = reverse("foreign-check", args=[check.pk])
    assert auditor_client.post(url, {"photo": picture()}).status_code == 403
    assert not check.photos.exists()


def test_one_photo_sent_twice_is_kept_once_and_too_many_are_refused() -> None:
    check, by, photo_id = checked(), ManagerFactory(), uuid.uuid4()
    sent = {"check": check, "sent": picture().read(), "by": by}
    first = add_check_photo(photo_id=photo_id, **sent)
    assert add_check_photo(photo_id=photo_id, **sent) == first
    with (
        patch("inspections.hire.foreign.MOST_PHOTOS", 1),
        pytest.raises(ValidationError, match="no check takes more"),
    ):
        add_check_photo(photo_id=uuid.uuid4(), **sent)
