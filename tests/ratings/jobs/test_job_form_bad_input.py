"""What a job can't be: each ends in words at its own field, in the reader's units."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from fleet.models import ReaderPreference
from ratings.jobs.forms import JobEntry, JobForm
from ratings.jobs.holds import HoldForm
from ratings.jobs.layers import LayerForm
from ratings.jobs.piles import PileForm
from tests.all_tables import changed, everything
from tests.factories import YardFactory
from tests.ratings.jobs.job_form import CLAY, PILE, SAND, at_pile, filled, groups, holds, saved
from tests.site.html_form import Fields, error_at, fields_of, words

pytestmark = pytest.mark.django_db
NEW = "/jobs/new/"
PIPE = {"section": "pipe, 24 in outside, 0.5 in wall", "kind": "pipe"}


def refused(client: Client, fields: Fields) -> Any:
    """Send a job that must not be taken, and return the page it is shown on again."""
    before = everything()
    response = client.post(NEW, fields)
    assert response.status_code == 200
    assert changed(before) == set()
    return response


@pytest.mark.parametrize(
    ("changes", "at", "said"),
    [
        ({"last_day": "2026-10-04"}, "last_day", "before the first day, 5 Oct 2026"),
        ({"first_day": "1066-10-14"}, "first_day", "too long ago"),
        ({"last_day": "9999-01-01"}, "last_day", "more than ten years ahead"),
        ({"first_day": "soon"}, "first_day", "This is not a day"),
        ({"site": ""}, "site", "This is blank: name the site"),
        ({"site": "x" * 100_000}, "site", "120 at the most"),
        ({"length_ft": "1" * 100_000}, "length_ft", "…”"),
        ({"note": "x" * 100_000}, "note", "2000 at the most"),
        ({"embedment_ft": "50.1"}, "embedment_ft", "deeper than the pile is long, 50 ft"),
        ({"embedment_ft": "0"}, "embedment_ft", "“0” won’t do: give 0.5 ft or more"),
        (
            {"rigging_limit_lbf": "399"},
            "rigging_limit_lbf",
            "below the rigging’s own weight of 400 lb",
        ),
        ({"legs": "5"}, "legs", "won’t do: give 1 or more, up to 4"),
        ({"legs": "1.5"}, "legs", "not a whole number"),
        ({"leg_angle_deg": "29"}, "leg_angle_deg", "give 30 or more, up to 90"),
        ({"leg_angle_deg": "91"}, "leg_angle_deg", "give 30 or more, up to 90"),
        ({"set_up_expected": "0.5"}, "set_up_expected", "below the one before it, 1"),
        ({"set_up_high": "0.9"}, "set_up_high", "below the one before it, 1"),
        ({"set_up_low": "0"}, "set_up_low", "won’t do"),
        ({"method": "by hand"}, "method", "not one of the available choices"),
        ({"section": "HP99×999"}, "section", "“HP99×999” is not in the table of sections"),
        ({"section": "x" * 100_000}, "section", "200 at the most"),
        ({"label": "x" * 100_000}, "label", "60 at the most"),
        ({"count": "0"}, "count", "won’t do: give 1 or more"),
        ({"count": "2.5"}, "count", "not a whole number"),
        ({"kind": "rope"}, "kind", "not one of the available choices"),
        ({"end": "bent"}, "end", "not one of the available choices"),
        (PIPE, "end", "say how the lower end of the pipe is"),
        (
            PIPE | {"section": "", "end": "open, plugged"},
            "plug_area_in2",
            "give the area of the soil",
        ),
        (
            PIPE | {"section": "", "end": "open, cored"},
            "inside_perimeter_in",
            "give what the soil within rubs on",
        ),
        (
            PIPE | {"end": "open, not known", "inside_perimeter_in": "76"},
            "inside_perimeter_in",
            "Inside the pipe would measure 76 in around and outside 75.4 in",
        ),
        (
            PIPE | {"end": "open, cored", "plug_area_in2": "460"},
            "plug_area_in2",
            "Inside the pipe would measure",
        ),
        (
            {"section": "", "kind": "H"},
            "weight_lb_ft",
            "choose a section or give a number such as 53",
        ),
        ({"section": ""}, "kind", "choose a section or what the pile is"),
        ({"section": "", "kind": "H"}, "perimeter_in", "choose a section or give a number"),
        ({"kind": "pipe"}, "kind", "“HP12×53” is of the kind H-pile"),
        ({"weight_lb_ft": "73"}, "weight_lb_ft", "“HP12×53” has 53 lb/ft"),
        ({"area_in2": "21.4"}, "area_in2", "“HP12×53” has 15.5 in²"),
        (
            {"section": "", "kind": "H", "is_plugged": "on"},
            "plug_area_in2",
            "give the area of the soil",
        ),
        ({"address": "x" * 100_000}, "address", "300 at the most"),
        ({"barge_note": "2° list"}, "barge_note", "tick that the crane stands on one"),
        ({"radius_ft": "110", "boom_ft": "40"}, "radius_ft", "are the two changed over?"),
        ({"parts_of_line": "0"}, "parts_of_line", "won’t do: give 1 or more, up to 40"),
        ({"frost_days": "366"}, "frost_days", "won’t do"),
        ({"vibration_limit_in_s": "0"}, "vibration_limit_in_s", "won’t do"),
        ({"submission_id": "x"}, "", "It is not as the page gave it"),
    ],
)
def test_a_job_that_cannot_be_is_answered_at_its_field(
    dispatcher_client: Client, changes: Fields, at: str, said: str
) -> None:
    page = refused(dispatcher_client, filled(dispatcher_client) | at_pile(changes))
    found = next(iter(at_pile({at: ""})))
    assert said in (error_at(page, found) if at else words(page))


@pytest.mark.parametrize(
    ("layers", "at", "said"),
    [
        ((SAND,), "layer-0-thickness_ft", "The layers end at 20 ft and the toe is at 40 ft"),
        (
            (SAND, CLAY | {"top_ft": "15"}),
            "layer-1-top_ft",
            "begins at 15 ft, within the one above, which ends at 20 ft",
        ),
        ((SAND, CLAY | {"top_ft": "22"}), "layer-1-top_ft", "Nothing is given from 20 ft to 22 ft"),
        ((SAND | {"top_ft": "1"}, CLAY), "layer-0-top_ft", "Nothing is given from 0 ft to 1 ft"),
        (
            (SAND | {"thickness_ft": "0"}, CLAY),
            "layer-0-thickness_ft",
            "“0” won’t do: give 0.1 ft or more",
        ),
        (
            (SAND | {"thickness_ft": ""}, CLAY),
            "layer-0-thickness_ft",
            "This is blank: give a number",
        ),
        (
            (SAND, CLAY | {"unit_weight_lb_ft3": "60"}),
            "layer-1-unit_weight_lb_ft3",
            "60 lb/ft³ is lighter than the water",
        ),
        ((SAND, CLAY | {"unit_weight_lb_ft3": "3"}), "layer-1-unit_weight_lb_ft3", "“3” won’t do"),
        (
            (SAND, CLAY | {"undrained_strength_psf": ""}),
            "layer-1-undrained_strength_psf",
            "The alpha method needs the undrained strength",
        ),
        (
            (SAND | {"density": ""}, CLAY),
            "layer-0-density",
            "The beta method needs the density class",
        ),
        (
            (SAND | {"density": "looser than any class below"}, CLAY),
            "layer-0-friction_psf",
            "No published method covers this layer",
        ),
        (
            (SAND | {"kind": "other"}, CLAY),
            "layer-0-friction_psf",
            "No published method covers this layer",
        ),
        ((SAND | {"kind": ""}, CLAY), "layer-0-kind", "This is blank: choose what the layer is"),
        ((SAND | {"kind": "lava"}, CLAY), "layer-0-kind", "not one of the available choices"),
        ((SAND | {"soil": ""}, CLAY), "layer-0-soil", "choose a soil of the table"),
        (
            (SAND | {"soil": "moon dust"}, CLAY),
            "layer-0-soil",
            "“moon dust” is not in the yard’s table",
        ),
        (
            (SAND | {"soil": "entered"}, CLAY),
            "layer-0-vibration_factor",
            "give a factor such as 0.2",
        ),
        (
            (SAND | {"soil": "entered", "vibration_factor": "0.2"}, CLAY),
            "layer-0-needed_amplitude_in",
            "give the amplitude",
        ),
        (
            (SAND, CLAY | {"soil": "round coarse sand"}),
            "layer-1-soil",
            "“round coarse sand” is no soil of a layer that is cohesive (clay, silt): choose one",
        ),
        (
            (SAND, CLAY | {"undrained_strength_psf": "", "spt_blows_ft": "0"}),
            "layer-1-spt_blows_ft",
            "the rods sank by their weight",
        ),
        (
            (SAND | {"density": "", "spt_blows_ft": "6"}, CLAY),
            "layer-0-friction_psf",
            "No published method covers this layer",
        ),
        (
            (SAND, CLAY | {"undrained_strength_psf": "", "cone_psf": "900"}),
            "layer-1-cone_psf",
            "This won’t do",
        ),
        ((SAND | {"vibration_factor": "0"}, CLAY), "layer-0-vibration_factor", "won’t do"),
        ((SAND | {"friction_psf": "-1"}, CLAY), "layer-0-friction_psf", "won’t do"),
    ],
)
def test_ground_that_cannot_be_is_answered_at_its_layer(
    dispatcher_client: Client, layers: tuple[Fields, ...], at: str, said: str
) -> None:
    assert said in error_at(refused(dispatcher_client, filled(dispatcher_client, *layers)), at)


def test_the_words_are_in_the_reader_s_units(dispatcher_client: Client) -> None:
    user = dispatcher_client.session["_auth_user_id"]
    ReaderPreference.objects.create(user_id=user, units="si")
    layer = SAND | {"thickness_ft": "6", "unit_weight_lb_ft3": "9"}
    si = {"length_ft": "15", "embedment_ft": "12", "weight_lb_ft": "", "hook_block_lb": "700"}
    fields = filled(
        dispatcher_client, layer, **si, rigging_weight_lb="2000", rigging_limit_lbf="19"
    )
    page = refused(dispatcher_client, fields)
    assert "below the rigging’s own weight of 2,000 kg" in error_at(page, "rigging_limit_lbf")
    fields |= {"rigging_limit_lbf": "50", "capacity_lbf": "400"}
    page = refused(dispatcher_client, fields)
    assert "9 kN/m³ is lighter" in error_at(page, "layer-0-unit_weight_lb_ft3")
    page = refused(dispatcher_client, fields | {"layer-0-unit_weight_lb_ft3": "19"})
    assert "end at 6 m and the toe is at 12 m" in error_at(page, "layer-0-thickness_ft")
    page = refused(dispatcher_client, fields | {"pile-0-embedment_ft": "16"})
    assert "than the pile is long, 15 m" in error_at(page, "pile-0-embedment_ft")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"layer-TOTAL_FORMS": "0"}, "There is no layer"),
        ({"layer-TOTAL_FORMS": "many"}, "The rows were lost on the way"),
        ({"layer-TOTAL_FORMS": "9" * 5000}, "The rows were lost on the way"),
        ({"layer-TOTAL_FORMS": "100000"}, "Give 30 at the most"),
        ({"layer-TOTAL_FORMS": "-1"}, "There is no layer"),
        ({"pile-TOTAL_FORMS": "0"}, "There is no pile"),
        ({"pile-TOTAL_FORMS": "many"}, "The rows were lost on the way"),
        ({"pile-TOTAL_FORMS": "100000"}, "Give 12 at the most"),
    ],
)
def test_rows_that_cannot_be_are_answered_above_them(
    dispatcher_client: Client, changes: Fields, said: str
) -> None:
    assert said in words(refused(dispatcher_client, filled(dispatcher_client) | changes))


def test_a_job_with_no_layer_is_asked_for_one(dispatcher_client: Client) -> None:
    blank = dict.fromkeys(SAND, "")
    page = refused(dispatcher_client, filled(dispatcher_client, blank))
    assert "There is no layer: start from a profile" in error_at(page, "layer-0-kind")


NUMBERS = [name for name, field in JobForm.base_fields.items() if hasattr(field, "least")]
ROW_NUMBERS = [
    f"{row}-0-{name}"
    for row, form in (("layer", LayerForm), ("pile", PileForm), ("hold", HoldForm))
    for name, field in form.base_fields.items()
    if hasattr(field, "least")
]


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("five", "is not a number"),
        ("NaN", "is not a number"),
        ("inf", "is not a number"),
        ("1e308", "won’t do: give"),
        ("1e999", "is too large"),
        ("5,5,5", "has a comma"),
        ("1" * 5_000, "…”"),
        ("٥", "is not a number"),
        ("-99999", "won’t do: give"),
    ],
)
def test_numbers_that_cannot_be_are_each_answered_at_their_field(
    dispatcher_client: Client, given: str, said: str
) -> None:
    yard = YardFactory()
    names = [*NUMBERS, *ROW_NUMBERS, f"distance_{yard.pk}"]
    page = refused(dispatcher_client, filled(dispatcher_client) | dict.fromkeys(names, given))
    for name in names:
        assert said in error_at(page, name), name
    if len(given) < 99:
        assert fields_of(page)["layer-0-thickness_ft"] == given


@pytest.mark.parametrize("given", ["5e-324", "1e-9", "0.1", "1", "100", "1e6"])
def test_no_number_breaks_a_job(dispatcher_client: Client, given: str) -> None:
    fields = filled(dispatcher_client)
    for name in (*NUMBERS, *ROW_NUMBERS):
        entry = JobEntry(fields | {name: given})
        assert entry.is_valid() or entry.errors


@pytest.mark.parametrize(
    "name",
    ["more_layers", "fill_layers", "insert_layer", "more_piles", "more_holds", "add_toe_suction"],
)
@pytest.mark.parametrize("total", ["many", "", "-1", "²", "100000", "9" * 5000])
def test_a_tampered_form_drawn_anew_is_no_server_error(
    dispatcher_client: Client, name: str, total: str
) -> None:
    fields = filled(dispatcher_client) | {"layer-TOTAL_FORMS": total, "pile-TOTAL_FORMS": total}
    fields |= {"hold-TOTAL_FORMS": total}
    fields |= {name: total}
    refused(dispatcher_client, fields)
    for fragment in ("job-layers", "job-piles", "job-holds", "job-set-up"):
        assert dispatcher_client.post(reverse(fragment), fields).status_code == 200


def test_a_form_sent_with_nothing_in_it_is_no_server_error(dispatcher_client: Client) -> None:
    refused(dispatcher_client, {})
    assert dispatcher_client.post(reverse("job-layers"), {}).status_code == 200
    assert JobEntry({}).errors


def test_a_bad_change_leaves_the_job_on_record(dispatcher_client: Client) -> None:
    job = saved(dispatcher_client)
    url = reverse("job", args=[job.pk])
    before = everything()
    fields = fields_of(dispatcher_client.get(url)) | {"pile-0-embedment_ft": "400"}
    assert error_at(dispatcher_client.post(url, fields), "pile-0-embedment_ft")
    assert changed(before) == set()


def test_the_groups_with_errors_are_open(dispatcher_client: Client) -> None:
    yard = YardFactory()
    page = refused(dispatcher_client, filled(dispatcher_client) | {f"distance_{yard.pk}": "far"})
    assert 'id="group-yards" open data-troubled' in " ".join(page.content.decode().split())


def test_what_is_wrong_with_a_group_names_it(dispatcher_client: Client) -> None:
    two = groups(PILE, PILE | {"embedment_ft": "60"})
    page = refused(dispatcher_client, filled(dispatcher_client) | two)
    assert "deeper than the pile is long" in error_at(page, "pile-1-embedment_ft")
    assert "Embedment of pile group 2" in words(page)


def test_a_count_alone_is_no_pile_let_go_unseen(dispatcher_client: Client) -> None:
    two = groups(PILE, dict.fromkeys(PILE, "") | {"count": "12"})
    page = refused(dispatcher_client, filled(dispatcher_client) | two)
    assert "This is blank" in error_at(page, "pile-1-length_ft")


def test_the_ground_must_reach_the_deepest_toe_of_all(dispatcher_client: Client) -> None:
    two = groups(PILE, PILE | {"embedment_ft": "48"})
    page = refused(dispatcher_client, filled(dispatcher_client) | two)
    assert "The layers end at 45 ft and the toe is at 48 ft" in error_at(
        page, "layer-1-thickness_ft"
    )


@pytest.mark.parametrize(
    ("hold", "at", "said"),
    [
        ({"kind": "", "force_lbf": "5"}, "kind", "choose what holds the pile"),
        ({"kind": "glue"}, "kind", "not one of the available choices"),
        ({"note": ""}, "note", "say what it is and where its figure is from"),
        ({"note": "x" * 100_000}, "note", "200 at the most"),
        ({"force_lbf": "5", "per_ft_lbf": "5"}, "per_ft_lbf", "leave one of the two blank"),
        ({"force_lbf": "5", "length_ft": "5"}, "length_ft", "goes with a force per length"),
        ({"force_lbf": "-1"}, "force_lbf", "won’t do"),
    ],
)
def test_a_hold_that_cannot_be_is_answered_at_its_field(
    dispatcher_client: Client, hold: Fields, at: str, said: str
) -> None:
    plain = {"kind": "interlock friction", "note": "rusted clutches"}
    page = refused(dispatcher_client, filled(dispatcher_client) | holds(plain | hold))
    assert said in error_at(page, f"hold-0-{at}")
