"""How likely it is that a flagged unit meets its listing all the same, wherever it is told."""

from __future__ import annotations

import re
from io import BytesIO

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from fleet.quantities import chance_words
from ratings.mechanics.standing import Standing
from ratings.models import CurrentRating, LedgerEntry
from tests.builders import Unit, rated_unit
from tests.factories import HousingFactory
from tests.job_builders import extraction_job, figured_unit
from tests.ratings.jobs.asked_job import details, form_of
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def head(unit: Unit) -> LedgerEntry:
    return CurrentRating.objects.get(housing=unit.housing).head


def listed_at(share_of_the_way: float) -> Unit:
    """A unit listed so far from its line pull (0) down to its working capacity (1)."""
    plain = head(rated_unit())
    assert plain.pull_lbf is not None
    assert plain.working_capacity_lbf is not None
    margin = plain.pull_lbf - plain.working_capacity_lbf
    return rated_unit(listed_lbf=plain.pull_lbf - share_of_the_way * margin)


def test_a_unit_not_proven_says_so_with_the_chance_the_yard_asks_for() -> None:
    entry = head(listed_at(0.5))
    assert entry.judged is Standing.NOT_PROVEN
    chance = entry.chance_to_meet
    assert chance is not None
    assert 0.5 < chance < 0.95
    assert entry.risk_words == (
        f"The chance that it meets its listing all the same is {chance_words(chance)}; "
        "the yard asks for 95 in 100."
    )


def test_a_unit_below_its_listing_says_it_too() -> None:
    entry = head(listed_at(-0.5))
    assert entry.judged is Standing.BELOW_LISTING
    chance = entry.chance_to_meet
    assert chance is not None
    assert 0.05 < chance < 0.5
    assert entry.risk_words.endswith(f"all the same is {chance_words(chance)}.")


def test_at_the_edge_of_meeting_it_the_chance_is_what_the_yard_asks_for() -> None:
    assert head(listed_at(0.9999)).chance_to_meet == pytest.approx(0.95, abs=0.001)


def test_a_unit_that_meets_its_listing_has_a_chance_and_no_words() -> None:
    entry = head(rated_unit(listed_lbf=10_000.0))
    chance = entry.chance_to_meet
    assert chance is not None
    assert chance > 0.95
    assert entry.risk_words == ""


def test_a_unit_unrated_has_neither(auditor_client: Client) -> None:
    unit = rated_unit()
    LedgerEntry.objects.filter(housing=unit.housing)
    bare = LedgerEntry.objects.filter(housing=unit.housing).earliest("sequence")
    assert bare.judged is Standing.UNRATED
    assert (bare.chance_to_meet, bare.risk_words) == (None, "")
    housing = HousingFactory()
    page = words(auditor_client.get(reverse("unit", args=[housing.pk])))
    assert "The chance that it meets" not in page


def test_the_unit_s_page_the_board_and_the_history_say_it(auditor_client: Client) -> None:
    unit = listed_at(-0.5)
    entry = head(unit)
    page = words(auditor_client.get(reverse("unit", args=[unit.housing.pk])))
    assert entry.risk_words in page
    board = words(auditor_client.get(reverse("board")))
    assert f"below listing chance to meet it {chance_words(entry.chance_to_meet or 0.0)}" in board
    report = auditor_client.get(reverse("history-report", args=[unit.housing.pk]))
    pages = PdfReader(BytesIO(report.content)).pages
    text = re.sub(r"\s+", " ", " ".join(each.extract_text() for each in pages))
    assert entry.risk_words in text


def test_the_answer_to_a_job_says_it_where_it_names_the_standing(
    dispatcher_client: Client,
) -> None:
    unit = figured_unit(listed_lbf=1_000_000.0)
    entry = head(unit)
    assert entry.risk_words
    response = details(
        dispatcher_client, form_of(dispatcher_client, extraction_job()), unit.housing
    )
    assert f"The unit is below its listing. {entry.risk_words}" in words(response).replace(
        " By the yard’s rules it does not go out so.", ""
    )
