"""A job's form: what it keeps, what it fills in, and who may save it."""

from __future__ import annotations

import math
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from fleet.models import ReaderPreference
from fleet.quantities import Quantity
from ratings.jobs.forms import JobEntry
from ratings.jobs.sections import GENERIC_SECTIONS
from ratings.mechanics.extraction.job import Job
from ratings.models import ExtractionJob, PileSection, SoilTemplate
from tests.all_tables import changed, everything
from tests.factories import YardFactory
from tests.job_builders import commit, extraction_job, figured_unit, job_of
from tests.ratings.jobs.job_form import (
    CLAY,
    PILE,
    SAND,
    at_pile,
    filled,
    groups,
    holds,
    rows,
    saved,
)
from tests.site.html_form import Fields, error_at, fields_of, opened, words

pytestmark = pytest.mark.django_db
NEW = "/jobs/new/"


def sent(client: Client, fields: Fields) -> Any:
    """Send a form that asks for something and must save nothing; return its page."""
    before = everything()
    response = client.post(NEW, fields)
    assert response.status_code == 200
    assert changed(before) == set()
    return response


def test_a_job_is_kept_with_its_layers_and_shown_again(dispatcher_client: Client) -> None:
    job = saved(dispatcher_client, note="Two piles, same bearing.")
    pile = job.pile_groups.get()
    assert (job.site, pile.section, pile.kind) == ("Pier 4", "HP12×53", "H")
    assert [(each.top_ft, each.bottom_ft) for each in job.layers.all()] == [(0, 20), (20, 45)]
    again = opened(dispatcher_client, reverse("job", args=[job.pk]))
    assert again["layer-1-undrained_strength_psf"] == "1200"
    assert again["note"] == "Two piles, same bearing."
    assert again["layer-0-kind"] == "granular"


def test_a_saved_job_sent_back_as_it_stands_is_the_same_job(dispatcher_client: Client) -> None:
    job = saved(dispatcher_client)
    before = job_of(job)
    url = reverse("job", args=[job.pk])
    assert dispatcher_client.post(url, opened(dispatcher_client, url)).status_code == 302
    assert job_of(ExtractionJob.objects.get()) == before


def test_a_job_read_and_saved_in_the_other_units_keeps_every_figure(
    dispatcher_client: Client,
) -> None:
    layer = SAND | {"thickness_ft": "41.37", "unit_weight_lb_ft3": "117.3"}
    job = saved(dispatcher_client, layer, length_ft="51.23", embedment_ft="41.3")
    before = job_of(job)
    speak_si(dispatcher_client)
    url = reverse("job", args=[job.pk])
    assert dispatcher_client.post(url, opened(dispatcher_client, url)).status_code == 302
    assert job_of(ExtractionJob.objects.get()) == before


def test_a_second_copy_of_a_new_job_changes_nothing(dispatcher_client: Client) -> None:
    fields = filled(dispatcher_client)
    for _ in range(2):
        assert dispatcher_client.post(NEW, fields).status_code == 302
    assert ExtractionJob.objects.count() == 1


def test_what_the_form_makes_is_what_is_on_record(dispatcher_client: Client) -> None:
    fields = filled(dispatcher_client, is_plugged="on")
    entry = JobEntry(fields, system="us")
    assert entry.is_valid()
    dispatcher_client.post(NEW, fields)
    assert job_of(ExtractionJob.objects.get()) == entry.job
    assert entry.job.pile.plug_area_in2 > 0


def speak_si(client: Client) -> None:
    user = client.session["_auth_user_id"]
    ReaderPreference.objects.update_or_create(user_id=user, defaults={"units": "si"})


def close(one: Any, other: Any) -> None:
    """Two jobs alike to the rounding of a pocket calculator."""
    if isinstance(one, float):
        assert other == pytest.approx(one, rel=1e-6)
    elif isinstance(one, tuple):
        assert len(one) == len(other)
        for each in zip(one, other, strict=True):
            close(*each)
    elif hasattr(one, "__dataclass_fields__"):
        for name in one.__dataclass_fields__:
            close(getattr(one, name), getattr(other, name))
    else:
        assert one == other


def in_si(fields: Fields, entry: JobEntry) -> Fields:
    """The same numbers as an SI reader types them."""
    typed = dict(fields)
    rows_of_all = [*entry.piles, *entry.layers]
    forms = [(entry.form, "")] + [(row, f"{row.prefix}-") for row in rows_of_all]
    for form, prefix in forms:
        for name, field in form.fields.items():
            quantity, given = getattr(field, "quantity", None), typed.get(f"{prefix}{name}")
            if isinstance(quantity, Quantity) and given:
                typed[f"{prefix}{name}"] = f"{quantity.shown(float(given), 'si'):.9g}"
    return typed


def test_a_job_typed_in_si_is_the_job_typed_in_us(dispatcher_client: Client) -> None:
    yard = YardFactory()
    entered = CLAY | {"soil": "entered", "vibration_factor": "0.3", "needed_amplitude_in": "0.2"}
    us = filled(
        dispatcher_client,
        SAND | {"friction_psf": "350"},
        entered | {"top_ft": "20"},
        section="",
        kind="pipe",
        area_in2="27.5",
        weight_lb_ft="93.5",
        perimeter_in="75.4",
        plug_area_in2="424",
        end="open, not known",
        inside_perimeter_in="73",
        tension_limit_lbf="200000",
        haul_limit_mi="100",
        **{f"distance_{yard.pk}": "35"},
        set_up_low="1.1",
        set_up_expected="1.3",
        set_up_high="1.8",
    )
    entry = JobEntry(us, system="us")
    assert entry.is_valid()
    other = JobEntry(in_si(us, entry), system="si")
    assert other.is_valid()
    assert isinstance(other.job, Job)
    close(entry.job, other.job)
    assert other.form.distances == {yard.pk: pytest.approx(35)}


@pytest.mark.parametrize("system", ["us", "si"])
def test_a_section_alone_fills_kind_area_weight_and_perimeter(
    dispatcher_client: Client, system: str
) -> None:
    fields = filled(dispatcher_client)
    entry = JobEntry(
        fields | ({} if system == "us" else at_pile({"length_ft": "15", "embedment_ft": "6"}))
    )
    assert entry.is_valid()
    pile = entry.job.pile
    assert (pile.kind, pile.area_in2, pile.weight_lb_ft) == ("H", 15.5, 53.0)
    assert pile.perimeter_in == pytest.approx(2 * (11.78 + 12.045))
    assert pile.plug_area_in2 == 0


def test_the_page_gives_each_section_s_figures_in_the_reader_s_units(
    dispatcher_client: Client,
) -> None:
    assert "&quot;weight_lb_ft&quot;: &quot;53&quot;" in dispatcher_client.get(NEW).content.decode()
    speak_si(dispatcher_client)
    page = dispatcher_client.get(NEW).content.decode()
    per_metre = f"{Quantity.LINE_WEIGHT.shown(53.0, 'si'):.4f}"
    assert f"&quot;weight_lb_ft&quot;: &quot;{per_metre}&quot;" in page


def test_the_yard_s_own_section_can_be_chosen(dispatcher_client: Client) -> None:
    url = reverse("new-pile-section")
    added = {"name": "Tub 7", "kind": "concrete", "area_in2": "144", "weight_lb_ft": "150"}
    fields = opened(dispatcher_client, url) | added
    fields |= {"perimeter_in": "48", "source": "measured"}
    assert dispatcher_client.post(url, fields).status_code == 302
    assert PileSection.objects.get().plug_area_in2 == 0
    job = saved(dispatcher_client, section="Tub 7")
    pile = job.pile_groups.get()
    assert (pile.kind, pile.weight_lb_ft) == ("concrete", 150)
    assert "“HP12×53” is in the table" in error_at(
        dispatcher_client.post(url, fields | {"name": "HP12×53"}), "name"
    )
    assert "Tub 7" in words(dispatcher_client.get(reverse("pile-sections")))


def test_a_perimeter_other_than_the_section_s_is_taken(dispatcher_client: Client) -> None:
    pile = saved(dispatcher_client, perimeter_in="70.87").pile_groups.get()
    assert pile.perimeter_in == pytest.approx(70.87)


def test_a_generic_section_weighs_what_its_steel_does() -> None:
    for section in GENERIC_SECTIONS:
        assert section.weight_lb_ft == pytest.approx(section.area_in2 * 490 / 144, rel=0.02)
        assert section.source


def test_a_profile_fills_the_layers_and_saves_nothing(dispatcher_client: Client) -> None:
    fields = filled(dispatcher_client, profile="generic:loam", fill_layers="1")
    again = fields_of(sent(dispatcher_client, fields))
    assert again["site"] == "Pier 4"
    assert again["layer-TOTAL_FORMS"] == "2"
    assert again["water_depth_ft"] == "5"
    assert (again["layer-0-undrained_strength_psf"], again["layer-1-thickness_ft"]) == ("500", "85")
    assert dispatcher_client.post(NEW, again).status_code == 302


@pytest.mark.parametrize("key", ["sand", "dense", "clay", "loam"])
def test_every_generic_profile_does_for_a_job(dispatcher_client: Client, key: str) -> None:
    fields = filled(dispatcher_client, profile=f"generic:{key}", fill_layers="1")
    fields = fields_of(sent(dispatcher_client, fields))
    assert JobEntry(fields).is_valid()


@pytest.mark.parametrize("key", ["", "generic:none", "yard:99", "yard:x", "1", "yard:" + "9" * 99])
def test_a_profile_that_is_not_there_leaves_the_layers(dispatcher_client: Client, key: str) -> None:
    again = fields_of(
        sent(dispatcher_client, filled(dispatcher_client, profile=key, fill_layers="1"))
    )
    assert again["layer-0-thickness_ft"] == "20"


def test_the_ground_of_a_job_is_kept_for_others(dispatcher_client: Client) -> None:
    job = saved(dispatcher_client)
    url = reverse("new-soil-template", args=[job.pk])
    fields = opened(dispatcher_client, url) | {"name": "River bank", "note": "Boring 3."}
    assert dispatcher_client.post(url, fields).status_code == 302
    assert "is taken" in error_at(dispatcher_client.post(url, fields), "name")
    assert "River bank" in words(dispatcher_client.get(reverse("soil-templates")))
    filling = {"profile": f"yard:{SoilTemplate.objects.get().pk}", "fill_layers": "1"}
    again = fields_of(sent(dispatcher_client, opened(dispatcher_client, NEW) | filling))
    assert again["layer-1-undrained_strength_psf"] == "1200"
    assert again["water_depth_ft"] == "5"


def test_more_layers_keeps_what_was_typed(dispatcher_client: Client) -> None:
    again = fields_of(sent(dispatcher_client, filled(dispatcher_client, more_layers="1")))
    assert again["layer-TOTAL_FORMS"] == "3"
    assert (again["layer-1-thickness_ft"], again["layer-2-thickness_ft"]) == ("25", "")
    assert dispatcher_client.post(NEW, again).status_code == 302


def test_a_layer_can_be_put_above_another(dispatcher_client: Client) -> None:
    again = fields_of(sent(dispatcher_client, filled(dispatcher_client, insert_layer="1")))
    thick = [again[f"layer-{place}-thickness_ft"] for place in range(3)]
    assert thick == ["20", "", "25"]
    filling = {name.replace("layer-0", "layer-1"): value for name, value in rows(SAND).items()}
    job_fields = again | filling | {"layer-TOTAL_FORMS": "3"}
    assert dispatcher_client.post(NEW, job_fields).status_code == 302
    tops = [layer.top_ft for layer in ExtractionJob.objects.get().layers.all()]
    assert tops == [0, 20, 40]


@pytest.mark.parametrize("way", ["blanked", "taken out"])
def test_a_layer_can_be_taken_out(dispatcher_client: Client, way: str) -> None:
    job = saved(dispatcher_client, SAND, SAND, CLAY)
    url = reverse("job", args=[job.pk])
    fields = opened(dispatcher_client, url)
    if way == "blanked":
        fields |= {name: "" for name in fields if name.startswith("layer-1-")}
    else:
        fields |= {"layer-1-DELETE": "on", "layer-1-thickness_ft": "five"}
    assert dispatcher_client.post(url, fields).status_code == 302
    assert [layer.kind for layer in job.layers.all()] == ["granular", "cohesive"]


def test_the_fragment_of_layers_is_what_the_button_asked_for(dispatcher_client: Client) -> None:
    fields = filled(dispatcher_client, profile="generic:loam", fill_layers="1")
    before = everything()
    response = dispatcher_client.post(reverse("job-layers"), fields)
    assert changed(before) == set()
    assert response.headers["HX-Trigger-After-Settle"] == "layersredrawn"
    assert "Layer 2" in words(response)
    assert "<html" not in response.content.decode()


def test_distances_are_kept_where_entered(dispatcher_client: Client) -> None:
    near, far = YardFactory(), YardFactory()
    job = saved(dispatcher_client, **{f"distance_{near.pk}": "12", f"distance_{far.pk}": ""})
    assert job.distances_mi == {near.pk: 12}
    page = words(dispatcher_client.get(reverse("job", args=[job.pk])))
    assert "1 distance entered" in page
    again = opened(dispatcher_client, reverse("job", args=[job.pk]))
    assert again[f"distance_{near.pk}"] == "12"


def test_a_blank_job_has_today_and_plain_defaults(dispatcher_client: Client) -> None:
    fields = opened(dispatcher_client, NEW)
    assert fields["first_day"] == fields["last_day"] != ""
    assert (fields["legs"], fields["leg_angle_deg"], fields["set_up_expected"]) == ("1", "90", "1")
    assert fields["water_depth_ft"] == fields["capacity_lbf"] == ""


def test_a_job_without_crane_capacity_or_tension_limit_is_taken(dispatcher_client: Client) -> None:
    timber = {"kind": "timber", "weight_lb_ft": "40", "perimeter_in": "38", "section": ""}
    job = saved(dispatcher_client, capacity_lbf="", yield_strength_ksi="", **timber)
    assert job.capacity_lbf is None
    assert job.pile_groups.get().tension_limit_lbf is None


def test_a_still_pull_asks_for_no_soil_under_vibration(dispatcher_client: Client) -> None:
    still = "by the crane alone, hammer still"
    job = saved(dispatcher_client, SAND | {"soil": "", "thickness_ft": "50"}, method=still)
    assert job.layers.get().soil == ""


def test_a_layer_below_the_toe_is_asked_for_no_soil(dispatcher_client: Client) -> None:
    layers = (SAND | {"thickness_ft": "45"}, CLAY | {"soil": ""})
    assert saved(dispatcher_client, *layers).layers.count() == 2


def test_who_may_not_plan_sees_a_job_and_cannot_save_it(
    dispatcher_client: Client, auditor_client: Client
) -> None:
    job = saved(dispatcher_client)
    url = reverse("job", args=[job.pk])
    page = auditor_client.get(url)
    assert page.status_code == 200
    assert "Save the job" not in words(page)
    before = everything()
    assert auditor_client.post(url, filled(dispatcher_client)).status_code == 403
    for refused in (NEW, reverse("new-pile-section"), f"{url}soil-template/"):
        assert auditor_client.get(refused).status_code == 403
        assert auditor_client.post(refused, {}).status_code == 403
    assert changed(before) == set()
    assert auditor_client.get(reverse("jobs")).status_code == 200


def test_the_days_of_a_job_that_holds_a_unit_stay(dispatcher_client: Client) -> None:
    unit, job = figured_unit(), extraction_job()
    commit(unit, job)
    url = reverse("job", args=[job.pk])
    fields = opened(dispatcher_client, url)
    page = dispatcher_client.post(url, fields | {"last_day": "2035-10-09"})
    assert "release it first" in error_at(page, "first_day")
    assert 'href="#id_first_day"' in page.content.decode()
    assert dispatcher_client.post(url, fields | {"site": "Pier 5"}).status_code == 302
    assert unit.housing.mark in words(dispatcher_client.get(reverse("jobs")))


def test_the_list_of_jobs_takes_as_many_queries_for_many(
    dispatcher_client: Client, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    saved(dispatcher_client)
    with CaptureQueriesContext(connection) as for_one:
        dispatcher_client.get(reverse("jobs"))
    many = len(for_one.captured_queries)
    for number in range(3):
        saved(dispatcher_client, site=f"Pier {number}")
    with django_assert_num_queries(many):
        page = dispatcher_client.get(reverse("jobs"))
    assert "Pier 2" in words(page)


def test_what_is_missing_is_listed_with_the_id_of_its_field(dispatcher_client: Client) -> None:
    blank = opened(dispatcher_client, NEW)
    found = {trouble.at: trouble.label for trouble in JobEntry(blank).errors}
    assert found["id_site"] == "Site"
    assert found["id_pile-0-length_ft"] == "Length of the pile"
    assert "id_pile-0-embedment_ft" in found
    page = sent(dispatcher_client, blank)
    for at in found:
        assert f'href="#{at}"' in page.content.decode()
    assert PILE["section"] not in words(page).split("Please correct")[0]


SECOND = PILE | {"section": "HP14×73", "label": "south row", "count": "6", "embedment_ft": "30"}


def test_a_job_is_kept_with_its_groups_of_piles_and_shown_again(dispatcher_client: Client) -> None:
    job = saved(dispatcher_client, **groups(PILE | {"count": "12"}, SECOND))
    kept = [(each.name, each.count, each.embedment_ft) for each in job.pile_groups.all()]
    assert kept == [("HP12×53", 12, 40), ("south row", 6, 30)]
    url = reverse("job", args=[job.pk])
    again = opened(dispatcher_client, url)
    assert (again["pile-1-section"], again["pile-1-count"]) == ("HP14×73", "6")
    page = words(dispatcher_client.get(url))
    assert "6 × south row, 50 ft long, 30 ft in the ground" in page
    assert "12 × HP12×53, 6 × south row" in words(dispatcher_client.get(reverse("jobs")))


def test_another_group_keeps_what_was_typed(dispatcher_client: Client) -> None:
    again = fields_of(sent(dispatcher_client, filled(dispatcher_client, more_piles="1")))
    assert again["pile-TOTAL_FORMS"] == "2"
    assert (again["pile-0-section"], again["pile-1-section"]) == ("HP12×53", "")
    # The new one left blank is none.
    assert dispatcher_client.post(NEW, again).status_code == 302
    assert ExtractionJob.objects.get().pile_groups.count() == 1


def test_the_fragment_of_piles_is_what_the_button_asked_for(dispatcher_client: Client) -> None:
    before = everything()
    fields = filled(dispatcher_client, more_piles="1")
    response = dispatcher_client.post(reverse("job-piles"), fields)
    assert changed(before) == set()
    assert "Pile group 2" in words(response)
    assert "<html" not in response.content.decode()
    assert "<datalist" not in response.content.decode()


def test_a_group_can_be_taken_out(dispatcher_client: Client) -> None:
    job = saved(dispatcher_client, **groups(PILE, SECOND))
    url = reverse("job", args=[job.pk])
    fields = opened(dispatcher_client, url) | {"pile-0-DELETE": "on", "pile-0-length_ft": "five"}
    assert dispatcher_client.post(url, fields).status_code == 302
    assert [each.name for each in job.pile_groups.all()] == ["south row"]


@pytest.mark.parametrize("typed", ["hp12x53", "HP 12 x 53", "hp12×53"])
def test_a_section_is_known_as_people_type_it(dispatcher_client: Client, typed: str) -> None:
    assert saved(dispatcher_client, section=typed).pile_groups.get().section == "HP12×53"


def test_a_section_no_longer_in_the_table_is_kept_with_its_job(dispatcher_client: Client) -> None:
    job = extraction_job(section="Tub 7")
    url = reverse("job", args=[job.pk])
    assert dispatcher_client.post(url, opened(dispatcher_client, url)).status_code == 302
    assert job.pile_groups.get().section == "Tub 7"


def test_the_sections_are_on_the_page_once_for_all_groups(dispatcher_client: Client) -> None:
    job = saved(dispatcher_client, **groups(*[PILE] * 5))
    page = dispatcher_client.get(reverse("job", args=[job.pk])).content.decode()
    assert page.count("HP8×36") == 1


def test_the_end_of_another_kind_of_pile_is_left_out(dispatcher_client: Client) -> None:
    job = saved(dispatcher_client, end="closed", inside_perimeter_in="40")
    pile = job.pile_groups.get()
    assert (pile.end, pile.inside_perimeter_in) == ("", None)


def test_a_plug_ticked_before_a_pipe_was_chosen_gives_way_to_its_end(
    dispatcher_client: Client,
) -> None:
    pipe = {"section": "pipe, 24 in outside, 0.5 in wall", "is_plugged": "on", "end": "closed"}
    pile = saved(dispatcher_client, **pipe).pile_groups.get()
    assert (pile.end, pile.is_plugged) == ("closed", False)


def test_what_else_holds_is_kept_and_reaches_the_mechanics(dispatcher_client: Client) -> None:
    job = saved(
        dispatcher_client,
        **holds(
            {"kind": "interlock friction", "per_ft_lbf": "150", "note": "bent clutch"},
            {"kind": "concrete or grout", "force_lbf": "9000", "note": "cap stub"},
            {"kind": "frozen ground", "note": "no figure"},
        ),
    )
    told = [(each.kind, each.force_lbf, each.per_ft_lbf) for each in job_of(job).holds]
    assert told == [
        ("interlock friction", None, 150),
        ("concrete or grout", 9000, None),
        ("frozen ground", None, None),
    ]
    again = opened(dispatcher_client, reverse("job", args=[job.pk]))
    assert (again["hold-1-force_lbf"], again["hold-2-note"]) == ("9000", "no figure")


CLOSED = {"section": "pipe, 24 in outside, 0.5 in wall", "end": "closed"}


def test_toe_suction_is_offered_where_a_closed_toe_stands_in_clay(
    dispatcher_client: Client,
) -> None:
    fields = filled(dispatcher_client, **CLOSED)
    asked = dispatcher_client.post(reverse("job-answer"), fields)
    # 9 · 1,200 psf · π·(24/2)²/144 ft², by the rounded perimeter of the section.
    assert "up to 33,931 lbf" in words(asked)
    with_it = fields_of(sent(dispatcher_client, fields | {"add_toe_suction": "1"}))
    assert with_it["hold-0-kind"] == "suction under the toe"
    assert float(with_it["hold-0-force_lbf"]) == pytest.approx(10_800.0 * math.pi, abs=2.0)
    assert "1,200 psf" in with_it["hold-0-note"]
    assert "hold-1-kind" not in with_it
    again = dispatcher_client.post(reverse("job-answer"), with_it)
    assert "Add toe suction" not in words(again)


@pytest.mark.parametrize(
    ("layers", "pile"),
    [((SAND, CLAY), {}), ((SAND,), {**CLOSED, "embedment_ft": "15"}), ((SAND, CLAY), {"end": ""})],
)
def test_no_toe_suction_is_offered_of_steel_alone_or_in_sand(
    dispatcher_client: Client, layers: tuple[Fields, ...], pile: Fields
) -> None:
    fields = filled(dispatcher_client, *layers, **pile)
    page = dispatcher_client.post(reverse("job-answer"), fields)
    assert "Add toe suction" not in words(page)
    # Asked for all the same, it adds nothing.
    drawn = fields_of(sent(dispatcher_client, fields | {"add_toe_suction": "1"}))
    assert drawn.get("hold-0-kind", "") == ""


def test_what_prints_beside_the_figures_is_kept(dispatcher_client: Client) -> None:
    noted = {
        "address": "Gate 3, Lockhouse road",
        "headroom_ft": "80",
        "vibration_limit_in_s": "0.5",
        "vibration_note": "Brick arches at 40 ft.",
        "radius_ft": "40",
        "boom_ft": "110",
        "is_on_barge": "on",
        "barge_note": "2° list, page 9 of the chart",
        "parts_of_line": "4",
        "line_limit_lbf": "18000",
        "frost_days": "12",
        "days_since_driving": "700",
    }
    job = saved(dispatcher_client, **noted)
    again = opened(dispatcher_client, reverse("job", args=[job.pk]))
    assert {name: again[name] for name in noted} == noted
    assert job_of(job).days_since_driving == 700


def test_blows_stand_in_for_density_and_strength(dispatcher_client: Client) -> None:
    sand = SAND | {"density": "", "spt_blows_ft": "35"}
    clay = CLAY | {"undrained_strength_psf": "", "spt_blows_ft": "11"}
    job = saved(dispatcher_client, sand, clay)
    first, second = job.layers.all()
    assert first.density == "dense sand"
    # Halfway from 8 blows and 1,000 psf to 15 and 2,000, near enough.
    assert second.undrained_strength_psf == pytest.approx(1000 + 3 / 7 * 1000)
    assert "35 blows per foot" in first.correlation
    assert "Terzaghi and Peck 1948" in second.correlation
    url = reverse("job", args=[job.pk])
    page = dispatcher_client.get(url)
    assert "From the test: 1,429 psf: stiff by 11 blows per foot" in words(page)
    # What the test gave is read from it again, and a value given goes before it.
    again = fields_of(page)
    assert again["layer-1-undrained_strength_psf"] == ""
    given = again | {"layer-1-undrained_strength_psf": "900"}
    assert dispatcher_client.post(url, given).status_code == 302
    layer = job.layers.last()
    assert layer is not None
    assert (layer.undrained_strength_psf, layer.correlation) == (900, "")


def test_a_cone_stands_in_for_strength_at_the_middle_of_its_layer(
    dispatcher_client: Client,
) -> None:
    clay = CLAY | {"undrained_strength_psf": "", "cone_psf": "20000"}
    job = saved(dispatcher_client, SAND, clay)
    layer = job.layers.last()
    assert layer is not None
    # (q - σ)/15, σ of 20 ft at 120 and 12.5 ft at 115 lb/ft³.
    total_psf = 20 * 120 + 12.5 * 115
    assert layer.undrained_strength_psf == pytest.approx((20000 - total_psf) / 15)


def test_a_soil_is_offered_with_the_kinds_of_layer_it_fits(dispatcher_client: Client) -> None:
    page = dispatcher_client.get(NEW).content.decode()
    assert 'value="hard clay" data-kinds="cohesive other"' in page


def test_what_is_doubtful_of_the_ground_stands_by_its_field(dispatcher_client: Client) -> None:
    light = CLAY | {"unit_weight_lb_ft3": "66"}
    job = saved(dispatcher_client, SAND, light)
    page = dispatcher_client.get(reverse("job", args=[job.pk])).content.decode()
    field = page.split('id="id_layer-1-unit_weight_lb_ft3"')[1].split("</div>")[0]
    assert "Doubtful:" in field


def test_set_up_by_days_is_suggested_and_taken_only_by_a_press(dispatcher_client: Client) -> None:
    fields = filled(dispatcher_client, days_since_driving="730")
    page = sent(dispatcher_client, fields | {"suggest_set_up": "1"})
    assert "Skov and Denver 1988" in words(page)
    suggested = fields_of(page)
    assert (suggested["set_up_low"], suggested["set_up_expected"]) == ("1", "1")
    taken = fields_of(sent(dispatcher_client, fields | {"take_set_up": "1"}))
    assert 1.0 < float(taken["set_up_expected"]) < float(taken["set_up_high"])
    assert dispatcher_client.post(NEW, taken).status_code == 302


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({}, "Give the days since it was driven"),
        ({"days_since_driving": "30", "layer-0-kind": "lava"}, "It rests on the layers"),
        ({"days_since_driving": "30", "pile-0-embedment_ft": ""}, "It rests on the layers"),
        ({"days_since_driving": "30", "layer-TOTAL_FORMS": "x"}, "It rests on the layers"),
    ],
)
def test_no_set_up_is_suggested_of_what_is_not_right_yet(
    dispatcher_client: Client, changes: Fields, said: str
) -> None:
    fields = filled(dispatcher_client) | changes | {"suggest_set_up": "1"}
    assert said in words(sent(dispatcher_client, fields))
    assert said in words(dispatcher_client.post(reverse("job-set-up"), fields))
