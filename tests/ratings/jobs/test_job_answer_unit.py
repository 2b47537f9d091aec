"""All there is to say of one unit beside a job's form."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.models import Hammer, ReaderPreference, SuppressorHousing
from ratings.mechanics.extraction.supply import centrifugal_force_lbf
from ratings.models import ExtractionJob
from tests.all_tables import changed, everything
from tests.builders import Unit
from tests.factories import HousingFactory
from tests.job_builders import FIGURES, extraction_job, figured_unit
from tests.ratings.jobs.asked_job import details, form_of
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def told(client: Client, unit: Unit, job: ExtractionJob | None = None, **changes: Any) -> str:
    response = details(client, form_of(client, job or extraction_job()), unit.housing, **changes)
    assert response.status_code == 200
    return words(response)


def test_every_check_is_in_its_table(dispatcher_client: Client) -> None:
    text = told(dispatcher_client, figured_unit())
    for name in (
        "Line pull at the pads",
        "Hook load on the crane",
        "Rigging",
        "Centrifugal force",
        "Amplitude",
        "Clamp grip",
        "Tension in the pile",
        "Standing",
        "Inspection",
        "Service",
        "Rating",
        "Dates",
    ):
        assert name in text


def test_the_load_path_is_drawn_wide_and_narrow(dispatcher_client: Client) -> None:
    unit = figured_unit()
    response = details(
        dispatcher_client, form_of(dispatcher_client, extraction_job()), unit.housing
    )
    page = response.content.decode()
    assert page.count("Load path of") == 2
    assert 'class="drawn-phone"' in page


def test_the_ground_is_told_piece_by_piece_and_comes_to_its_whole(
    dispatcher_client: Client,
) -> None:
    unit = figured_unit()
    response = details(
        dispatcher_client, form_of(dispatcher_client, extraction_job()), unit.housing
    )
    table = re.search(
        r'aria-label="The ground, piece by piece".*?</table>', response.content.decode(), re.S
    )
    assert table is not None
    lines = [
        [re.sub(r"<[^>]+>", "", cell) for cell in re.findall(r"<td.*?</td>", row, re.S)]
        for row in re.findall(r"<tr>.*?</tr>", table[0], re.S)[1:]
    ]
    vibrated = [float(re.sub(r"[^0-9.]", "", line[-1])) for line in lines]
    assert sum(vibrated[:-1]) == pytest.approx(vibrated[-1], abs=len(lines))


def test_a_figure_can_be_followed_by_hand(dispatcher_client: Client) -> None:
    text = told(dispatcher_client, figured_unit())
    force_lbf = centrifugal_force_lbf(FIGURES["eccentric_moment_lb_in"], FIGURES["frequency_vpm"])
    assert (
        f"Centrifugal force M·ω²/g, ω = 2π·n/60 4,400 lb·in × (2π × 1,600 vpm / 60)² / 386.09 "
        f"in/s² {force_lbf:,.0f} lbf"
    ) in text
    assert "Amplitude, peak to peak 2·M/W, W = exciter, clamp and pile 2 × 4,400 lb·in" in text
    assert "/ 13,650 lb 0.645 in" in text
    assert "On a leg of the rigging" in text
    assert "0.6 × 50 ksi × 21.4 in² 642,000 lbf" in text


def test_in_si_the_moment_needs_no_gravity(dispatcher_client: Client) -> None:
    user = dispatcher_client.session["_auth_user_id"]
    ReaderPreference.objects.create(user_id=user, units="si")
    text = told(dispatcher_client, figured_unit())
    assert "M·ω², ω = 2π·n" in text
    assert "386.09" not in text
    assert " lbf" not in text


def test_what_would_help_is_told(dispatcher_client: Client) -> None:
    text = told(dispatcher_client, figured_unit(), capacity_lbf="20000")
    assert "What would make it suitable" in text
    assert "A crane, or a radius, whose chart allows" in text


def test_a_missing_figure_leads_who_keeps_records_to_where_it_is_entered(
    manager_client: Client, dispatcher_client: Client
) -> None:
    unit, job = figured_unit({"frequency_vpm": None}), extraction_job()
    link = reverse("change-hammer", args=[unit.hammer.pk])
    for client, is_led in ((manager_client, True), (dispatcher_client, False)):
        page = details(client, form_of(client, job), unit.housing).content.decode()
        assert (link in page) is is_led


def test_a_clamp_nobody_read_leads_to_the_clamps(dispatcher_client: Client) -> None:
    unit = figured_unit({"clamp_force_lbf": None})
    fields = form_of(dispatcher_client, extraction_job())
    page = details(dispatcher_client, fields, unit.housing)
    assert f"Clamp force of the clamp on {unit.hammer.mark} is not on record" in words(page)
    assert f'href="{reverse("machines")}"' in page.text


def test_a_blank_capacity_leads_to_its_field(dispatcher_client: Client) -> None:
    unit = figured_unit()
    fields = form_of(dispatcher_client, extraction_job(capacity_lbf=None))
    page = details(dispatcher_client, fields, unit.housing).content.decode()
    assert 'href="#id_capacity_lbf"' in page


def test_it_tells_a_unit_of_which_nothing_is_known(dispatcher_client: Client) -> None:
    unit = figured_unit(dict.fromkeys(FIGURES))
    SuppressorHousing.objects.update(weight_lb=None)
    text = told(dispatcher_client, unit)
    assert "not known" in text
    assert "Weight of housing" in text


def test_a_still_pull_is_told_without_vibration(dispatcher_client: Client) -> None:
    job = extraction_job(method="by the crane alone, hammer still")
    text = told(dispatcher_client, figured_unit(), job)
    assert "Amplitude" not in text
    assert "Share kept" not in text


def test_a_plugged_pile_is_told_with_its_plug(dispatcher_client: Client) -> None:
    job = extraction_job(kind="pipe", end="open, plugged", plug_area_in2=200.0)
    text = told(dispatcher_client, figured_unit(), job)
    assert "ground + pile + plug + clamp + exciter" in text
    assert "Amplitude without the plug" in text


def test_a_form_that_cannot_be_calculated_is_no_error(dispatcher_client: Client) -> None:
    unit = figured_unit()
    response = details(dispatcher_client, {}, unit.housing)
    assert response.status_code == 200
    assert "No answer yet." in words(response)


def test_a_housing_off_the_hammer_is_not_found(dispatcher_client: Client) -> None:
    fields = form_of(dispatcher_client, extraction_job())
    assert details(dispatcher_client, fields, HousingFactory()).status_code == 404


def test_it_saves_nothing(dispatcher_client: Client) -> None:
    unit = figured_unit()
    fields = form_of(dispatcher_client, extraction_job())
    before = everything()
    details(dispatcher_client, fields, unit.housing)
    assert changed(before) == set()


def test_marks_are_written_as_text(dispatcher_client: Client) -> None:
    unit = figured_unit({"clamp_force_lbf": None})
    SuppressorHousing.objects.filter(pk=unit.housing.pk).update(mark="<script>alert(1)</script>")
    Hammer.objects.filter(pk=unit.hammer.pk).update(mark="<script>alert(2)</script>")
    fields = form_of(dispatcher_client, extraction_job())
    page = details(dispatcher_client, fields, unit.housing).content.decode()
    assert "<script>" not in page
    assert "&lt;script&gt;" in page


def test_it_takes_as_many_queries_however_many_units_there_are(dispatcher_client: Client) -> None:
    unit, job = figured_unit(in_stock=4), extraction_job()
    taken = []
    for _ in range(2):
        fields = form_of(dispatcher_client, job)
        details(dispatcher_client, fields, unit.housing)
        with CaptureQueriesContext(connection) as captured:
            details(dispatcher_client, fields, unit.housing)
        taken.append(len(captured))
        for _more in range(3):
            figured_unit()
    assert taken[0] == taken[1]
