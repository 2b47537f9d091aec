"""How the yard judges extractions: read by all, changed by a manager, each with its source."""

from __future__ import annotations

import uuid
from dataclasses import replace
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from fleet.models import ReaderPreference
from ratings.jobs.rules import change_rules, rules_in_force
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.soil import LayerKind
from ratings.models import ExtractionRules
from tests.all_tables import changed, everything
from tests.factories import ManagerFactory
from tests.site.html_form import Fields, error_at, fields_of, opened, words

pytestmark = pytest.mark.django_db
URL = "/extraction-rules/"


def refused(client: Client, fields: Fields) -> Any:
    before = everything()
    response = client.post(URL, fields)
    assert response.status_code == 200
    assert changed(before) == set()
    return response


def test_the_defaults_show_with_their_sources(auditor_client: Client) -> None:
    page = words(auditor_client.get(URL))
    assert "round fine sand" in page
    assert "common practice, no published source" in page
    assert "None: the defaults are in force" in page
    assert "Put in force" not in page


@pytest.mark.parametrize("who", ["dispatcher_client", "auditor_client"])
def test_only_a_manager_changes_them(
    request: pytest.FixtureRequest, manager_client: Client, who: str
) -> None:
    fields = opened(manager_client, URL) | {"care_margin": "1.5", "reason": "surer"}
    client = request.getfixturevalue(who)
    before = everything()
    assert client.post(URL, fields).status_code == 403
    assert changed(before) == set()


def test_a_change_is_in_force_and_on_record(manager_client: Client) -> None:
    fields = opened(manager_client, URL) | {"reason": "Our own trials."}
    fields |= {"care_margin": "1.4", "soil-0-factor": "0.15", "soil-0-factor_source": "trials"}
    for _ in range(2):
        assert manager_client.post(URL, fields).status_code == 302
    row = ExtractionRules.objects.get()
    rules = rules_in_force()
    assert (rules.care_margin, rules.soils[0].factor) == (1.4, 0.15)
    assert (rules.soils[0].factor_source, row.reason) == ("trials", "Our own trials.")
    assert rules.soils[1:] == ExtractionPolicy().soils[1:]
    assert "Our own trials." in words(manager_client.get(URL))


def test_soils_are_added_and_taken_out(manager_client: Client) -> None:
    before = ExtractionPolicy().soils
    typed = opened(manager_client, URL) | {"more_soils": "1", "care_margin": "1.4"}
    fields = fields_of(refused(manager_client, typed))
    last = len(before)
    assert fields["care_margin"] == "1.4"
    assert fields["soil-TOTAL_FORMS"] == str(last + 1)
    fields |= {f"soil-{last}-name": "peat", f"soil-{last}-factor": "0.5"}
    fields |= {f"soil-{last}-factor_source": "guess of ours"}
    fields |= {f"soil-{last}-needed_amplitude_in": "0.3", f"soil-{last}-amplitude_source": "ours"}
    fields |= {"soil-0-DELETE": "on", "reason": "Peat it is."}
    assert manager_client.post(URL, fields).status_code == 302
    assert [soil.name for soil in rules_in_force().soils] == [*(s.name for s in before[1:]), "peat"]


def test_share_of_the_chart_criterion_and_hold_are_changed(manager_client: Client) -> None:
    fields = opened(manager_client, URL) | {"reason": "The crane firm asks for it."}
    fields |= {"crane_share": "0.6", "criterion": "added together", "longest_hold_days": "90"}
    fields |= {"open_acceleration_g": "10", "soil-0-fits": "granular"}
    assert manager_client.post(URL, fields).status_code == 302
    rules = rules_in_force()
    assert (rules.crane_share, rules.criterion, rules.longest_hold_days) == (
        0.6,
        "added together",
        90,
    )
    assert rules.open_acceleration_g == 10.0
    assert rules.soils[0].kinds == (LayerKind.GRANULAR,)
    page = words(manager_client.get(URL))
    assert "vibration and line pull added together" in page
    assert "10 g for sheets, H-piles and open pipes" in page


def test_rules_from_before_say_that_they_allow_the_whole_chart(manager_client: Client) -> None:
    change_rules(
        submission_id=uuid.uuid4(),
        policy=replace(ExtractionPolicy(), crane_share=1.0),
        reason="As it was.",
        by=ManagerFactory(),
    )
    assert "use the whole of the crane’s chart" in words(manager_client.get(URL))


def test_the_soils_people_name_are_added_to_a_table_of_before(manager_client: Client) -> None:
    change_rules(
        submission_id=uuid.uuid4(),
        policy=replace(ExtractionPolicy(), soils=ExtractionPolicy().soils[:2]),
        reason="Two soils.",
        by=ManagerFactory(),
    )
    fields = opened(manager_client, URL) | {"known_soils": "1"}
    fields = fields_of(refused(manager_client, fields)) | {"reason": "All of them."}
    assert manager_client.post(URL, fields).status_code == 302
    assert rules_in_force().soils == ExtractionPolicy().soils


def test_the_rules_read_and_sent_in_si_are_the_same_rules(manager_client: Client) -> None:
    user = manager_client.session["_auth_user_id"]
    ReaderPreference.objects.create(user_id=user, units="si")
    fields = opened(manager_client, URL) | {"reason": "no change"}
    assert fields["soil-0-needed_amplitude_in"] == "3.048"
    assert "Nothing differs from the rules now in force" in words(refused(manager_client, fields))


@pytest.mark.parametrize(
    ("changes", "at", "said"),
    [
        ({"care_margin": "0.9"}, "care_margin", "give 1 or more"),
        ({"low_factor": "1.1"}, "low_factor", "up to 1"),
        ({"high_factor": "0.9"}, "high_factor", "give 1 or more"),
        ({"steel_share": "1.1"}, "steel_share", "up to 1"),
        ({"jaw_friction": "NaN"}, "jaw_friction", "is not a number"),
        ({"crane_share": "1.05"}, "crane_share", "up to 1"),
        ({"crane_share": ""}, "crane_share", "blank"),
        ({"criterion": "neither"}, "criterion", "not one of the available choices"),
        ({"open_acceleration_g": "0"}, "open_acceleration_g", "give 0.1 or more"),
        ({"closed_acceleration_g": "nine"}, "closed_acceleration_g", "is not a number"),
        ({"massive_acceleration_g": "101"}, "massive_acceleration_g", "up to 100"),
        ({"longest_hold_days": "0"}, "longest_hold_days", "give 1 or more"),
        ({"longest_hold_days": "4000"}, "longest_hold_days", "up to 3,650"),
        ({"soil-1-fits": "air"}, "soil-1-fits", "not one of the available choices"),
        ({"inspection_days": "0"}, "inspection_days", "give 1 or more"),
        ({"below_listing": "shrug"}, "below_listing", "not one of the available choices"),
        ({"reason": ""}, "reason", "required"),
        ({"soil-1-factor": ""}, "soil-1-factor", "This is blank"),
        ({"soil-1-factor": "1,5,5"}, "soil-1-factor", "has a comma"),
        ({"soil-1-factor_source": ""}, "soil-1-factor_source", "required"),
        ({"soil-1-name": "round coarse sand"}, "soil-1-name", "is in the table already"),
        ({"soil-1-needed_amplitude_in": "1e308"}, "soil-1-needed_amplitude_in", "won’t do"),
        ({"soil-1-name": "x" * 100_000}, "soil-1-name", "80 at the most"),
    ],
)
def test_rules_that_cannot_be_are_answered_at_their_field(
    manager_client: Client, changes: Fields, at: str, said: str
) -> None:
    fields = opened(manager_client, URL) | {"reason": "trials"} | changes
    assert said in error_at(refused(manager_client, fields), at)


@pytest.mark.parametrize("total", ["many", "-1", "0", "100000", "9" * 5000])
def test_a_tampered_table_is_no_server_error(manager_client: Client, total: str) -> None:
    fields = opened(manager_client, URL) | {"reason": "trials", "soil-TOTAL_FORMS": total}
    page = words(refused(manager_client, fields))
    assert "No soil is left" in page or "lost on the way" in page or "Give 60" in page
    refused(manager_client, fields | {"more_soils": "1"})


def test_the_page_is_reached_from_the_jobs(auditor_client: Client) -> None:
    assert reverse("extraction-rules") in auditor_client.get(reverse("jobs")).content.decode()
