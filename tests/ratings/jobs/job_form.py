"""A job's form filled in whole, as a test starts from it."""

from __future__ import annotations

from typing import Any

from django.test import Client
from django.urls import reverse

from ratings.jobs.piles import PileForm
from ratings.models import ExtractionJob
from tests.site.html_form import Fields, opened

# The fields of a group of piles, which a test may name as if there were one.
OF_PILES = set(PileForm.base_fields)
SITE = {"site": "Pier 4", "first_day": "2026-10-05", "last_day": "2026-10-07"}
PILE = {"section": "HP12×53", "length_ft": "50", "embedment_ft": "40", "yield_strength_ksi": "36"}
CRANE = {
    "capacity_lbf": "120000",
    "hook_block_lb": "1500",
    "rigging_weight_lb": "400",
    "rigging_limit_lbf": "40000",
    "legs": "2",
    "leg_angle_deg": "60",
}
SAND = {
    "kind": "granular",
    "thickness_ft": "20",
    "unit_weight_lb_ft3": "120",
    "density": "medium dense sand",
    "soil": "round medium sand, round gravel",
}
CLAY = {
    "kind": "cohesive",
    "thickness_ft": "25",
    "unit_weight_lb_ft3": "115",
    "undrained_strength_psf": "1200",
    "soil": "marl, stiff or very stiff clay",
}
GROUND = {"water_depth_ft": "5"}


def rows(*layers: Fields) -> Fields:
    """The rows of these layers, as the form names them."""
    named = {
        f"layer-{place}-{name}": value
        for place, layer in enumerate(layers)
        for name, value in layer.items()
    }
    return named | {"layer-TOTAL_FORMS": str(len(layers))}


def at_pile(fields: Fields, place: int = 0) -> Fields:
    """These fields as the form names them: those of a pile in the row of its group."""
    return {
        f"pile-{place}-{name}" if name in OF_PILES else name: value
        for name, value in fields.items()
    }


def groups(*piles: Fields) -> Fields:
    """The rows of these groups of piles, as the form names them."""
    named: Fields = {"pile-TOTAL_FORMS": str(len(piles))}
    for place, pile in enumerate(piles):
        named |= at_pile(pile, place)
    return named


def holds(*each_hold: Fields) -> Fields:
    """The rows of these other holds, as the form names them."""
    named = {
        f"hold-{place}-{name}": value
        for place, hold in enumerate(each_hold)
        for name, value in hold.items()
    }
    return named | {"hold-TOTAL_FORMS": str(len(each_hold))}


def filled(client: Client, *layers: Fields, **more: Any) -> Fields:
    """A new job's form filled in whole, sand above clay unless told otherwise."""
    fields = opened(client, reverse("new-job")) | SITE | at_pile(PILE) | CRANE | GROUND
    return fields | rows(*(layers or (SAND, CLAY))) | at_pile(more)


def saved(client: Client, *layers: Fields, **more: Any) -> ExtractionJob:
    """A job recorded through its form."""
    response = client.post(reverse("new-job"), filled(client, *layers, **more))
    assert response.status_code == 302
    return ExtractionJob.objects.latest("pk")
