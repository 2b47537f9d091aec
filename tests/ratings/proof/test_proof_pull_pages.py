"""The form of a proof pull, its page, and every page that shows what it found."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from fleet.models import ReaderPreference
from ratings.models import ProofDecision, ProofPull
from tests.builders import MONDAY, Unit, count, proof_pull, pull_readings, rated_unit
from tests.factories import HousingFactory, LoadIndicatorFactory, ManagerFactory, TapeFactory
from tests.inspections.field.sent import signed_in
from tests.job_builders import fitted_clamp
from tests.site.html_form import Fields, error_at, fields_of, opened, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def unit() -> Unit:
    return rated_unit()


@pytest.fixture
def client(unit: Unit) -> Client:
    return signed_in(unit.manager)


def url_of(unit: Unit) -> str:
    return reverse("new-proof-pull", args=[unit.housing.pk])


def filled(client: Client, unit: Unit, ratio: float = 1.0, **more: Any) -> Fields:
    """The form as somebody fills it in who pulled the unit by a load cell."""
    fields = opened(client, url_of(unit)) | {
        "indicator": str(LoadIndicatorFactory().pk),
        "tape": str(TapeFactory().pk),
        "tare_lbf": "0",
        "anchor": "Dead man 2, rated 200 tons",
        "is_vibrating": "still",
        "are_pads_as_recorded": "as recorded",
    }
    for row, reading in enumerate(pull_readings(unit.housing, ratio)[:5]):
        fields |= {
            f"r-{row}-load_lbf": f"{reading.load_lbf:.0f}",
            f"r-{row}-stretch_in": f"{reading.stretch_in:g}",
        }
    return fields | more


def test_a_pull_typed_in_is_on_record_and_shown(client: Client, unit: Unit) -> None:
    page = client.post(url_of(unit), filled(client, unit), follow=True)
    pull = ProofPull.objects.get()
    assert page.redirect_chain[-1][0] == reverse("proof-pull", args=[pull.pk])
    assert f"Proof pull {pull.pk} is recorded: the unit is as its pads say." in words(page)
    assert pull.readings.count() == 5
    assert "100 % ±" in words(page)


def test_a_soft_unit_is_told_at_once(client: Client, unit: Unit) -> None:
    page = words(client.post(url_of(unit), filled(client, unit, 0.7), follow=True))
    assert "the unit is softer than its pads say" in page
    assert "The unit is rated by it." in page
    assert "Replacing pads does not lift it" in page


def test_the_same_form_sent_twice_is_one_pull(client: Client, unit: Unit) -> None:
    fields = filled(client, unit, 0.7)
    for _ in range(2):
        assert client.post(url_of(unit), fields).status_code == 302
    assert ProofPull.objects.count() == 1


def test_what_it_comes_to_is_shown_before_anything_is_recorded(client: Client, unit: Unit) -> None:
    page = client.post(url_of(unit), filled(client, unit, 0.7, show="1"))
    assert "Nothing is recorded yet." in words(page)
    assert "softer than its pads say" in words(page)
    assert "<svg" in page.content.decode()
    assert fields_of(page)["r-4-stretch_in"] == "5"
    assert not ProofPull.objects.exists()


def test_more_rows_keep_what_was_typed(client: Client, unit: Unit) -> None:
    page = client.post(url_of(unit), filled(client, unit, more_rows="1"))
    again = fields_of(page)
    assert again["anchor"] == "Dead man 2, rated 200 tons"
    assert again["r-4-stretch_in"] == "5"
    assert "r-11-load_lbf" in again
    assert again["is_vibrating"] == "still"


def test_the_weight_of_exciter_and_clamp_is_offered_where_both_are_known(
    client: Client, unit: Unit
) -> None:
    assert opened(client, url_of(unit))["weight_below_lb"] == ""
    unit.hammer.exciter_weight_lb = 3_400.0
    unit.hammer.save()
    assert opened(client, url_of(unit))["weight_below_lb"] == ""
    fitted_clamp(unit, weight_lb=900.0)
    assert opened(client, url_of(unit))["weight_below_lb"] == "4300"


def test_a_reader_of_si_types_and_reads_si(client: Client, unit: Unit) -> None:
    ReaderPreference.objects.create(user=unit.manager, units="si")
    fields = filled(client, unit)
    for row, reading in enumerate(pull_readings(unit.housing)[:5]):
        fields |= {
            f"r-{row}-load_lbf": f"{reading.load_lbf * 4.4482216152605 / 1000:.2f}",
            f"r-{row}-stretch_in": f"{reading.stretch_in * 25.4:.1f}",
        }
    page = words(client.post(url_of(unit), fields, follow=True))
    assert ProofPull.objects.get().ratio == pytest.approx(1.0, rel=1e-3)
    assert "at 127 mm" in page
    assert " lbf" not in page


def test_a_stretch_too_far_is_answered_in_the_reader_s_units(client: Client, unit: Unit) -> None:
    ReaderPreference.objects.create(user=unit.manager, units="si")
    fields = filled(client, unit)
    for row, reading in enumerate(pull_readings(unit.housing)[:5]):
        fields |= {
            f"r-{row}-load_lbf": f"{reading.load_lbf * 4.4482216152605 / 1000:.2f}",
            f"r-{row}-stretch_in": f"{reading.stretch_in * 25.4:.1f}",
        }
    page = client.post(url_of(unit), fields | {"r-4-stretch_in": "170"})
    said = error_at(page, "r-4-stretch_in")
    assert "170 mm is beyond the usable travel of 152 mm" in said
    assert "usable travel" in words(page).split("Please correct:")[1][:200]


def test_a_unit_without_a_rating_is_told_what_it_needs(client: Client, unit: Unit) -> None:
    page = words(client.get(reverse("new-proof-pull", args=[HousingFactory().pk])))
    assert "There is nothing yet to hold a pull to" in page
    assert "a pad count and a taped travel first" in page


def test_a_correction_begins_from_what_it_corrects(client: Client, unit: Unit) -> None:
    pull = proof_pull(unit.housing, unit.manager, 0.7, tare_lbf=0.0, witness="Odo Vance").pull
    url = f"{url_of(unit)}?corrects={pull.pk}"
    fields = opened(client, url)
    assert fields["witness"] == "Odo Vance"
    assert fields["r-8-branch"] == "unloading"
    # What was true of the first is asked again of the second.
    assert "is_vibrating" not in fields
    fields |= {"is_vibrating": "still", "are_pads_as_recorded": "as recorded"}
    for row, reading in enumerate(pull_readings(unit.housing, 0.99)):
        fields[f"r-{row}-load_lbf"] = f"{reading.load_lbf:.0f}"
    client.post(url, fields)
    right = ProofPull.objects.get(corrects=pull)
    page = words(client.get(reverse("proof-pull", args=[pull.pk])))
    assert f"Corrected by proof pull {right.pk}" in page
    assert "it counts no more" in page
    assert client.get(url).status_code == 404


def test_pads_counted_otherwise_meanwhile_are_told_above_the_form(
    client: Client, unit: Unit
) -> None:
    fields = filled(client, unit)
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=MONDAY)
    page = client.post(url_of(unit), fields)
    assert "look at the pad map again" in words(page)
    assert not ProofPull.objects.exists()


def test_the_page_shows_every_reading_and_every_doubt(client: Client, unit: Unit) -> None:
    pull = proof_pull(unit.housing, unit.manager, 0.7).pull
    page = words(client.get(reverse("proof-pull", args=[pull.pk])))
    for reading in pull.readings.all():
        assert f"{reading.load_lbf:,.0f} lbf" in page
    for name, _ in pull.doubts:
        assert name.capitalize() in page
    assert "−" in page.split("E n ")[1][:6]
    assert "Stand clear." in page
    assert "Dead man 2 of the yard, rated 200 tons" in page


def test_a_pull_that_decides_nothing_says_so(client: Client, unit: Unit) -> None:
    old = LoadIndicatorFactory(due_on=None)
    said = words(
        client.post(url_of(unit), filled(client, unit, 0.7, indicator=str(old.pk)), follow=True)
    )
    assert "is recorded and decides nothing" in said
    assert "was not in calibration that day" in said
    assert "rated by it" not in said
    assert "never calibrated" in words(client.get(url_of(unit)))


def test_weight_left_in_the_readings_is_asked_about(client: Client, unit: Unit) -> None:
    fields = filled(client, unit, show="1")
    for row, reading in enumerate(pull_readings(unit.housing)[:5]):
        fields[f"r-{row}-load_lbf"] = f"{reading.load_lbf + 9_000:.0f}"
    assert "Weight in the readings?" in words(client.post(url_of(unit), fields))


def test_half_the_load_is_asked_about(client: Client, unit: Unit) -> None:
    page = words(client.post(url_of(unit), filled(client, unit, 0.5, show="1")))
    assert "one part of a two-part line" in page


def test_a_second_person_sets_it_aside_on_its_page(client: Client, unit: Unit) -> None:
    pull = proof_pull(unit.housing, unit.manager, 0.7).pull
    url = reverse("proof-pull", args=[pull.pk])
    assert "only a second person can set it aside" in words(client.get(url))
    second = signed_in(ManagerFactory())
    fields = opened(second, url)
    set_aside = reverse("set-aside-proof-pull", args=[pull.pk])
    assert error_at(second.post(set_aside, fields | {"reason": "  "}), "reason")
    assert not ProofDecision.objects.exists()
    page = words(second.post(set_aside, fields | {"reason": "A sling chafed."}, follow=True))
    assert ProofDecision.objects.get().pull == pull
    assert "Set aside" in page
    assert "A sling chafed." in page


def test_whoever_recorded_it_is_refused_by_the_rule_too(client: Client, unit: Unit) -> None:
    pull = proof_pull(unit.housing, unit.manager, 0.7).pull
    fields = {"submission_id": str(uuid.uuid4()), "reason": "mine"}
    page = client.post(reverse("set-aside-proof-pull", args=[pull.pk]), fields)
    assert "a second person must say" in words(page)
    assert not ProofDecision.objects.exists()


def test_the_unit_s_page_says_that_it_is_soft(client: Client, unit: Unit) -> None:
    url = reverse("unit", args=[unit.housing.pk])
    assert "its figures come from its pads alone" in words(client.get(url))
    pull = proof_pull(unit.housing, unit.manager, 0.7).pull
    page = words(client.get(url))
    assert "Softer than its pads say." in page
    assert "measured 70 % of what its pads should give" in page
    assert f"Proof pull {pull.pk}" in page
    proof_pull(unit.housing, unit.manager, 1.0, pulled_at=MONDAY + timedelta(days=4))
    page = words(client.get(url))
    assert "Softer than its pads say." not in page
    assert "as its pads say" in page


def test_the_unit_s_page_says_that_it_is_stiff(client: Client, unit: Unit) -> None:
    proof_pull(unit.housing, unit.manager, 1.5)
    page = words(client.get(reverse("unit", args=[unit.housing.pk])))
    assert "Stiffer than its pads say." in page
    assert "Nothing is rated higher for it" in page


@pytest.mark.parametrize(
    ("ratio", "said"),
    [(0.7, "softer than its pads"), (1.5, "stiffer than its pads"), (1.0, "")],
)
def test_the_board_flags_a_unit_that_disagrees(
    client: Client, unit: Unit, ratio: float, said: str
) -> None:
    proof_pull(unit.housing, unit.manager, ratio)
    page = words(client.get(reverse("board")))
    assert ("than its pads" in page) == bool(said)
    assert said in page


def test_the_ledger_links_to_the_pull_behind_an_entry(client: Client, unit: Unit) -> None:
    pull = proof_pull(unit.housing, unit.manager, 0.7).pull
    page = client.get(
        reverse("unit-records", args=[unit.housing.pk, "ledger"]) + "?cause=proof+pull"
    )
    assert f'href="{reverse("proof-pull", args=[pull.pk])}"' in page.content.decode()


def test_the_ledger_says_what_a_pull_changed_and_its_day_in_words(
    client: Client, unit: Unit
) -> None:
    proof_pull(unit.housing, unit.manager, 0.5, pulled_at=MONDAY + timedelta(days=1))
    page = words(client.get(reverse("unit", args=[unit.housing.pk])))
    assert "proof pull: none in use → 50.0 % of what its pads say on 3 Mar 2026" in page


def test_the_register_says_that_pulls_stay_here(client: Client, unit: Unit) -> None:
    page = words(client.get(reverse("exchange")))
    assert "Proof pulls are not in the register" in page
    assert "rated higher than here" not in page
    proof_pull(unit.housing, unit.manager, 0.7)
    assert "1 unit of this one would be rated higher than here" in words(
        client.get(reverse("exchange"))
    )
    assert "Proof pulls are not in it." in words(client.get(reverse("how-register")))
