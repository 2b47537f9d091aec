"""A doubt of the ground stands beside its field, while it is typed and once it is saved."""

from __future__ import annotations

import html
import re

import pytest
from django.test import Client
from django.urls import reverse

from tests.ratings.jobs.job_form import CLAY, SAND, filled
from tests.site.html_form import Fields

pytestmark = pytest.mark.django_db

STIFF = CLAY | {"soil": "entered", "vibration_factor": "0.1", "needed_amplitude_in": "0.2"}


def doubts_at(client: Client, fields: Fields) -> dict[str, str]:
    """What an answer puts beside each field of the ground, by the field's id."""
    page = client.post(reverse("job-answer"), fields).content.decode()
    told = re.findall(
        r'<div id="(id_layer-[^"]*)_doubts" hx-swap-oob="true">(.*?)</div>', page, re.S
    )
    return {
        name: " ".join(html.unescape(re.sub(r"<[^>]*>", " ", words)).split())
        for name, words in told
    }


def test_a_doubt_stands_beside_its_field_while_it_is_typed(dispatcher_client: Client) -> None:
    found = doubts_at(dispatcher_client, filled(dispatcher_client, SAND, STIFF))
    assert "4 times as much" in found.pop("id_layer-1-vibration_factor")
    assert set(found.values()) == {""}


def test_every_field_of_the_ground_is_told_of_so_that_a_doubt_goes(
    dispatcher_client: Client,
) -> None:
    found = doubts_at(dispatcher_client, filled(dispatcher_client))
    assert {"id_layer-0-soil", "id_layer-1-unit_weight_lb_ft3"} <= set(found)
    assert set(found.values()) == {""}
    no_crane = filled(dispatcher_client, SAND, STIFF, hook_block_lb="lots")
    assert set(doubts_at(dispatcher_client, no_crane).values()) == {""}


def test_a_doubt_of_a_job_on_record_stands_beside_its_field(dispatcher_client: Client) -> None:
    response = dispatcher_client.post("/jobs/new/", filled(dispatcher_client, SAND, STIFF))
    page = dispatcher_client.get(response["Location"]).content.decode()
    beside = page.split('id="id_layer-1-vibration_factor_doubts"')[1].split("</div>")[0]
    assert "4 times as much" in beside
