"""Clamps and power packs: what is on record of them, and one on one hammer at a time."""

from __future__ import annotations

import uuid
from datetime import date, timedelta
from functools import partial
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.machines.recording import (
    change_machine,
    connect_power_pack,
    enter_machine,
    fit_clamp,
)
from fleet.models import (
    Clamp,
    ClampFitting,
    PowerPack,
    PowerPackConnection,
    ReaderPreference,
    SetUpChange,
)
from fleet.models.clamp import HELD_BY_COLUMN, HeldPile, clamp_on
from ratings.mechanics.extraction.job import PileKind
from tests.builders import MONDAY
from tests.factories import (
    ClampFactory,
    HammerFactory,
    ManagerFactory,
    PowerPackFactory,
    YardFactory,
)
from tests.site.html_form import error_at, fields_of, opened, words

pytestmark = pytest.mark.django_db
LATER = MONDAY + timedelta(days=3)
NOBODY_SAID = dict.fromkeys(HELD_BY_COLUMN)


def why(by: User) -> dict[str, Any]:
    """What a change of a machine's record is made with."""
    return {"submission_id": uuid.uuid4(), "reason": "Weighed again.", "by": by}


def test_a_change_is_kept_with_what_was_there_who_changed_it_and_why(
    manager: User, manager_client: Client
) -> None:
    clamp = ClampFactory(weight_lb=2_000.0, figures_source="Plate")
    change_machine(clamp, {"weight_lb": 2_100.0}, **why(manager))
    kept = SetUpChange.objects.of(clamp).get()
    assert (kept.changes, kept.recorded_by) == ({"weight_lb": [2_000.0, 2_100.0]}, manager)
    page = words(manager_client.get(reverse("clamp", args=[clamp.pk])))
    assert "Weight: 2,000 lb → 2,100 lb" in page
    assert "Weighed again." in page


def test_a_clamp_is_changed_for_a_reason_only(manager_client: Client) -> None:
    clamp = ClampFactory()
    url = reverse("change-clamp", args=[clamp.pk])
    fields = opened(manager_client, url) | {"kinds": list(HeldPile.values), "make": "Tarn"}
    assert "say why" in error_at(manager_client.post(url, fields | {"reason": ""}), "reason")
    assert not SetUpChange.objects.exists()


def test_jaws_hold_the_kinds_of_pile_that_a_job_may_have() -> None:
    assert set(HeldPile.values) == {kind.value for kind in PileKind}
    assert set(HELD_BY_COLUMN.values()) == set(HeldPile)


def test_kinds_are_none_where_nobody_has_said() -> None:
    assert ClampFactory.build(**NOBODY_SAID).kinds is None
    only_h = dict.fromkeys(HELD_BY_COLUMN, False) | {"holds_h": True}
    assert ClampFactory(**only_h).kinds == ("H",)


# On a hammer, and off it.


def test_a_clamp_is_fitted_and_known_at_a_moment(manager: User) -> None:
    clamp, hammer = ClampFactory(), HammerFactory()
    fit_clamp(clamp=clamp, hammer=hammer, at=MONDAY, by=manager)
    assert clamp_on(hammer, MONDAY - timedelta(minutes=1)) is None
    assert clamp_on(hammer, MONDAY) == clamp
    fit_clamp(clamp=clamp, hammer=None, at=LATER, by=manager)
    assert clamp_on(hammer, LATER - timedelta(minutes=1)) == clamp
    assert clamp_on(hammer, LATER) is None


def test_another_clamp_takes_the_first_off(manager: User) -> None:
    first, second, hammer = ClampFactory(), ClampFactory(), HammerFactory()
    fit_clamp(clamp=first, hammer=hammer, at=MONDAY, by=manager)
    fit_clamp(clamp=second, hammer=hammer, at=LATER, by=manager)
    assert clamp_on(hammer, LATER) == second
    ended = ClampFitting.objects.get(clamp=first)
    assert (ended.removed_at, ended.removed_by) == (LATER, manager)


def test_a_clamp_moved_leaves_its_hammer(manager: User) -> None:
    clamp, one, other = ClampFactory(), HammerFactory(), HammerFactory()
    fit_clamp(clamp=clamp, hammer=one, at=MONDAY, by=manager)
    fit_clamp(clamp=clamp, hammer=other, at=LATER, by=manager)
    assert (clamp_on(one, LATER), clamp_on(other, LATER)) == (None, clamp)


def test_a_power_pack_drives_one_hammer_at_a_time(manager: User) -> None:
    pack, one, other = PowerPackFactory(), HammerFactory(), HammerFactory()
    connect_power_pack(power_pack=pack, hammer=one, at=MONDAY, by=manager)
    connect_power_pack(power_pack=pack, hammer=other, at=LATER, by=manager)
    [now] = PowerPackConnection.objects.current()
    assert (now.hammer, now.fitted_at) == (other, LATER)


def test_a_second_copy_of_a_form_changes_nothing(manager: User) -> None:
    clamp, hammer = ClampFactory(), HammerFactory()
    for where in (hammer, None):
        send = partial(
            fit_clamp,
            submission_id=uuid.uuid4(),
            clamp=clamp,
            hammer=where,
            at=MONDAY,
            by=manager,
        )
        first = send()
        assert send() == first
    assert ClampFitting.objects.count() == 1


@pytest.mark.parametrize(
    ("hammer", "at", "field", "said"),
    [
        ("same", LATER, "hammer", "already: choose another"),
        ("other", MONDAY - timedelta(days=1), "at", "give a later time"),
        ("other", timezone.now() + timedelta(days=2), "at", "is in the future"),
    ],
)
def test_a_fitting_that_cannot_be_is_refused_by_its_field(
    manager: User, hammer: str, at: Any, field: str, said: str
) -> None:
    clamp, one = ClampFactory(), HammerFactory()
    fit_clamp(clamp=clamp, hammer=one, at=MONDAY, by=manager)
    to = one if hammer == "same" else HammerFactory()
    with pytest.raises(ValidationError) as refusal:
        fit_clamp(clamp=clamp, hammer=to, at=at, by=manager)
    assert said in refusal.value.message_dict[field][0]
    assert ClampFitting.objects.count() == 1


def test_a_clamp_is_not_fitted_at_a_time_it_was_elsewhere(manager: User) -> None:
    clamp, hammer = ClampFactory(), HammerFactory()
    fit_clamp(clamp=clamp, hammer=hammer, at=MONDAY, by=manager)
    fit_clamp(clamp=clamp, hammer=None, at=LATER, by=manager)
    with pytest.raises(ValidationError, match="came off"):
        fit_clamp(clamp=clamp, hammer=HammerFactory(), at=LATER - timedelta(hours=1), by=manager)


def test_one_out_of_use_goes_on_no_hammer_from_that_day(manager: User) -> None:
    clamp = ClampFactory(retired_on=date(2026, 1, 1))
    with pytest.raises(ValidationError, match="out of use since 1 Jan 2026"):
        fit_clamp(clamp=clamp, hammer=HammerFactory(), at=LATER, by=manager)


def test_one_on_a_hammer_is_not_put_out_of_use(manager: User) -> None:
    clamp, hammer = ClampFactory(), HammerFactory()
    fit_clamp(clamp=clamp, hammer=hammer, at=MONDAY, by=manager)
    with pytest.raises(ValidationError, match="take it off first"):
        change_machine(clamp, {"retired_on": date(2026, 1, 1)}, **why(manager))
    clamp.refresh_from_db()
    assert clamp.retired_on is None


# What the database itself refuses, on either engine.


@pytest.mark.parametrize("shared", ["hammer", "machine"])
@pytest.mark.parametrize("kind", [ClampFitting, PowerPackConnection])
def test_the_database_refuses_a_second_at_a_time(kind: Any, shared: str) -> None:
    owner, make = (
        ("clamp", ClampFactory) if kind is ClampFitting else ("power_pack", PowerPackFactory)
    )
    machine, hammer = make(), HammerFactory()
    kind.objects.create(**{owner: machine}, hammer=hammer, fitted_at=MONDAY)
    other = {owner: make() if shared == "hammer" else machine}
    with pytest.raises(IntegrityError), transaction.atomic():
        kind.objects.create(
            **other,
            hammer=hammer if shared == "hammer" else HammerFactory(),
            fitted_at=LATER,
        )


@pytest.mark.parametrize(
    "given",
    [
        {"weight_lb": -1.0},
        {"clamp_force_lbf": 0.0},
        {"holds_h": None},
        dict.fromkeys(HELD_BY_COLUMN, False),
    ],
)
def test_the_database_refuses_a_clamp_that_cannot_be(given: dict[str, Any]) -> None:
    yard = YardFactory()
    with pytest.raises(IntegrityError), transaction.atomic():
        ClampFactory(yard=yard, **given)


@pytest.mark.parametrize("name", ["power_hp", "flow_gpm", "pressure_psi"])
def test_the_database_refuses_a_power_pack_that_cannot_be(name: str) -> None:
    yard = YardFactory()
    with pytest.raises(IntegrityError), transaction.atomic():
        PowerPackFactory(yard=yard, **{name: 0.0})


def test_the_database_refuses_an_end_before_the_beginning() -> None:
    clamp, hammer = ClampFactory(), HammerFactory()
    with pytest.raises(IntegrityError), transaction.atomic():
        ClampFitting.objects.create(clamp=clamp, hammer=hammer, fitted_at=LATER, removed_at=MONDAY)


def test_marks_differ_in_more_than_capitals() -> None:
    clamp = ClampFactory(mark="C-1")
    with pytest.raises(ValidationError, match="in other small or capital letters"):
        enter_machine(ClampFactory.build(yard=clamp.yard, mark="c-1"))


# The pages.


def test_a_clamp_is_entered_with_the_piles_its_jaws_hold(manager_client: Client) -> None:
    url = reverse("new-clamp")
    fields = opened(manager_client, url) | {
        "yard": str(YardFactory().pk),
        "mark": "C-7",
        "kinds": ["sheet pair", "H"],
        "weight_lb": "1900",
        "clamp_force_lbf": "280000",
        "figures_source": "Data plate",
    }
    assert manager_client.post(url, fields).status_code == 302
    clamp = Clamp.objects.get(mark="C-7")
    assert clamp.kinds == ("sheet pair", "H")
    assert (clamp.weight_lb, clamp.clamp_force_lbf) == (1900.0, 280_000.0)


def test_no_kind_ticked_stays_unknown_and_is_said_so(manager_client: Client) -> None:
    url = reverse("new-clamp")
    fields = opened(manager_client, url) | {"yard": str(YardFactory().pk), "mark": "C-8"}
    page = manager_client.post(url, fields, follow=True)
    assert Clamp.objects.get().kinds is None
    assert "Nobody has said which piles its jaws hold." in words(page)


@pytest.mark.parametrize(
    ("name", "given", "said"),
    [
        ("weight_lb", "-1", "0 lb or more"),
        ("weight_lb", "2,500", "reads two ways"),
        ("clamp_force_lbf", "0", "more than 0 lbf"),
        ("clamp_force_lbf", "nan", "not a number"),
        ("kinds", "glass", "glass"),
        ("figures_source", "", "say where they were read"),
        ("mark", "", "This field is required"),
        ("jaws_note", "x" * 201, "201 characters: 200 at the most"),
    ],
)
def test_a_bad_field_of_a_clamp_is_answered_beside_it(
    manager_client: Client, name: str, given: str, said: str
) -> None:
    url = reverse("new-clamp")
    good = {
        "yard": str(YardFactory().pk),
        "mark": "C-1",
        "weight_lb": "1900",
        "figures_source": "Data plate",
    }
    page = manager_client.post(url, opened(manager_client, url) | good | {name: given})
    assert page.status_code == 200
    assert said in " ".join(page.context["form"].errors[name])
    assert not Clamp.objects.exists()


@pytest.mark.parametrize(
    ("name", "given", "said"),
    [
        ("power_hp", "0", "more than 0 hp"),
        ("flow_gpm", "-3", "more than 0 gpm"),
        ("pressure_psi", "1e9", "up to 15,000 psi"),
    ],
)
def test_a_bad_field_of_a_power_pack_is_answered_beside_it(
    manager_client: Client, name: str, given: str, said: str
) -> None:
    url = reverse("new-power-pack")
    good = {"yard": str(YardFactory().pk), "mark": "P-1", "figures_source": "Plate"}
    page = manager_client.post(url, opened(manager_client, url) | good | {name: given})
    assert said in error_at(page, name)
    assert not PowerPack.objects.exists()


def test_a_reader_of_si_enters_and_reads_si(manager_client: Client, manager: User) -> None:
    ReaderPreference.objects.create(user=manager, units="si")
    url = reverse("new-power-pack")
    fields = opened(manager_client, url) | {
        "yard": str(YardFactory().pk),
        "mark": "P-1",
        "power_hp": "240",
        "flow_gpm": "416",
        "figures_source": "Plate",
    }
    page = manager_client.post(url, fields, follow=True)
    pack = PowerPack.objects.get()
    # 1 hp is 550 ft·lbf/s, 745.69987 W; 1 US gallon is 231 in³, 3.785411784 L: by definition.
    assert pack.power_hp == pytest.approx(240_000 / 745.6998715822702)
    assert pack.flow_gpm == pytest.approx(416 / 3.785411784)
    assert "240 kW" in words(page)
    assert "416 L/min" in words(page)


def test_what_nobody_touched_stays_to_the_last_digit(manager_client: Client, manager: User) -> None:
    clamp = ClampFactory(
        **NOBODY_SAID, clamp_force_lbf=280_000.0, figures_source="Plate", weight_lb=1_999.7
    )
    ReaderPreference.objects.create(user=manager, units="si")
    url = reverse("change-clamp", args=[clamp.pk])
    fields = opened(manager_client, url)
    assert (
        manager_client.post(url, fields | {"kinds": ["pipe"], "reason": "Looked at."}).status_code
        == 302
    )
    clamp.refresh_from_db()
    assert (clamp.clamp_force_lbf, clamp.weight_lb) == (280_000.0, 1_999.7)
    assert clamp.kinds == ("pipe",)


def test_a_change_by_somebody_else_meanwhile_is_not_overwritten(manager_client: Client) -> None:
    clamp = ClampFactory(weight_lb=2_000.0, figures_source="Plate")
    url = reverse("change-clamp", args=[clamp.pk])
    fields = opened(manager_client, url) | {"kinds": list(HeldPile.values)}
    change_machine(clamp, {"weight_lb": 2_100.0}, **why(ManagerFactory()))
    page = manager_client.post(url, fields | {"jaws_note": "Worn.", "reason": "Seen."})
    assert "Somebody has changed the record" in words(page)
    clamp.refresh_from_db()
    assert (clamp.weight_lb, clamp.jaws_note) == (2_100.0, "")


def test_a_clamp_is_fitted_on_its_page(manager_client: Client) -> None:
    clamp, hammer = ClampFactory(), HammerFactory()
    url = reverse("fit-clamp", args=[clamp.pk])
    fields = opened(manager_client, url) | {"hammer": str(hammer.pk)}
    page = manager_client.post(url, fields, follow=True)
    assert f"{clamp} is on hammer {hammer}." in words(page)
    assert f"on hammer {hammer} since" in words(page)


def test_a_refusal_keeps_what_was_typed(manager_client: Client) -> None:
    clamp = ClampFactory(retired_on=date(2026, 1, 1))
    url = reverse("fit-clamp", args=[clamp.pk])
    hammer = HammerFactory()
    page = manager_client.post(url, opened(manager_client, url) | {"hammer": str(hammer.pk)})
    assert "out of use since" in words(page)
    assert fields_of(page)["hammer"] == str(hammer.pk)
