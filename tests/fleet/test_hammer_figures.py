from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from fleet.models import Hammer, ReaderPreference, SuppressorHousing
from tests.factories import HammerFactory, HousingFactory, YardFactory
from tests.factories import TestStandFactory as StandFactory
from tests.site.html_form import words

pytestmark = pytest.mark.django_db

FIGURES = {
    "eccentric_moment_lb_in": "4400",
    "frequency_vpm": "1600",
    "exciter_weight_lb": "8000",
    "figures_source": "Data plate, read by P. Holm",
}


def enter(client: Client, **more: Any) -> Any:
    fields = {"submission_id": str(uuid.uuid4()), "yard": YardFactory().pk, "mark": "V-1"}
    return client.post(reverse("new-hammer"), fields | FIGURES | more)


def test_the_figures_of_a_data_plate_are_entered(manager_client: Client) -> None:
    assert enter(manager_client).status_code == 302
    hammer = Hammer.objects.get()
    assert (hammer.eccentric_moment_lb_in, hammer.frequency_vpm) == (4400.0, 1600.0)
    assert hammer.exciter_weight_lb == 8000.0


def test_what_nobody_read_off_stays_unknown(manager_client: Client) -> None:
    blank = dict.fromkeys(FIGURES, "")
    assert enter(manager_client, **blank).status_code == 302
    assert Hammer.objects.get().eccentric_moment_lb_in is None


@pytest.mark.parametrize(
    ("name", "given", "said"),
    [
        ("eccentric_moment_lb_in", "0", "more than 0 lb·in"),
        ("eccentric_moment_lb_in", "-4400", "more than 0 lb·in"),
        ("frequency_vpm", "26", "100 vpm or more"),
        ("exciter_weight_lb", "0", "more than 0 lb"),
        ("exciter_weight_lb", "nan", "not a number"),
        ("exciter_weight_lb", "8,500", "reads two ways: write 8500 or 8.5"),
    ],
)
def test_a_figure_that_cannot_be_is_answered_beside_its_field(
    manager_client: Client, name: str, given: str, said: str
) -> None:
    response = enter(manager_client, **{name: given})
    assert response.status_code == 200
    assert said in response.context["form"].errors[name][0]
    assert not Hammer.objects.exists()


def test_figures_without_a_source_are_refused(manager_client: Client) -> None:
    response = enter(manager_client, figures_source="")
    assert "say where they were read" in (response.context["form"].errors["figures_source"][0])


def test_a_reader_of_si_enters_and_reads_si(manager_client: Client, manager: User) -> None:
    ReaderPreference.objects.create(user=manager, units="si")
    enter(manager_client, eccentric_moment_lb_in="50", frequency_vpm="25")
    hammer = Hammer.objects.get()
    # 1 kg·m is 86.796 lb·in: 1/(0.45359237 × 0.0254), both exact by definition.
    assert hammer.eccentric_moment_lb_in == pytest.approx(50 / (0.45359237 * 0.0254))
    assert hammer.frequency_vpm == pytest.approx(1500.0)
    page = manager_client.get(reverse("change-hammer", args=[hammer.pk]))
    assert "Eccentric moment, kg·m" in words(page)


def test_a_figure_nobody_touched_keeps_every_digit(manager_client: Client, manager: User) -> None:
    given = {"eccentric_moment_lb_in": 4400.0, "figures_source": "Data plate"}
    hammer = HammerFactory(**given)
    ReaderPreference.objects.create(user=manager, units="si")
    url = reverse("change-hammer", args=[hammer.pk])
    shown = manager_client.get(url).context["form"]["eccentric_moment_lb_in"].value()
    fields = {
        "submission_id": str(uuid.uuid4()),
        "reason": "Painted.",
        "yard": hammer.yard_id,
        "note": "Painted.",
        "eccentric_moment_lb_in": shown,
        "figures_source": "Data plate",
    }
    assert manager_client.post(url, fields).status_code == 302
    hammer.refresh_from_db()
    assert (hammer.note, hammer.eccentric_moment_lb_in) == ("Painted.", 4400.0)


def test_a_housing_is_weighed(manager_client: Client) -> None:
    housing = HousingFactory()
    url = reverse("change-housing", args=[housing.pk])
    fields = {"yard": housing.yard_id, "design_travel_in": "8", "weight_lb": "4000"}
    fields |= {"submission_id": str(uuid.uuid4()), "reason": "Weighed."}
    assert manager_client.post(url, fields).status_code == 302
    assert SuppressorHousing.objects.get().weight_lb == 4000.0
    response = manager_client.post(url, fields | {"weight_lb": "0"})
    assert "more than 0 lb" in response.context["form"].errors["weight_lb"][0]


def test_a_stand_is_entered_and_listed_in_the_reader_s_units(
    manager_client: Client, manager: User
) -> None:
    StandFactory(name="Bench", bore_in=4.0, rod_in=0.0)
    form = reverse("new-test-stand")
    in_us = words(manager_client.get(form))
    ReaderPreference.objects.create(user=manager, units="si")
    in_si = words(manager_client.get(form))
    listed = words(manager_client.get(reverse("set-up-test-stands")))

    assert ("Bore, in" in in_us, "Bore, mm" in in_si) == (True, True)
    assert "101.6 mm" in listed
