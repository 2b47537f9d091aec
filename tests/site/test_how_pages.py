from __future__ import annotations

import ast
import re
import uuid
from pathlib import Path
from typing import Any

import pytest
from django.core.management import get_commands
from django.test import Client
from django.urls import get_resolver, reverse

from fleet.models import ReaderPreference
from inspections.exchange.tables import TABLES
from inspections.models import Severity
from ratings.jobs.rules import change_rules
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.unit_rating import Policy
from ratings.policy import change_policy
from tests.builders import count, drafted_test, ordered_repair, proof_pull, rated_unit
from tests.factories import AuditorFactory, ManagerFactory
from tests.inspections.field.sent import signed_in
from tests.inspections.forecast.foreseen import kept_forecast
from tests.inspections.hire.test_hand_overs import let
from tests.job_builders import commit, figured_unit, pull_done
from tests.site.html_form import words

pytestmark = pytest.mark.django_db

HOW = sorted(
    name
    for name in get_resolver().reverse_dict
    if isinstance(name, str) and name.startswith("how-")
)
# Where each is spoken of: pages of one unit, its lot, its job, and those without a record.
SPOKEN_OF = {
    "how-standing": ("board", "unit", "listings", "new-listing", "policy"),
    "how-ledger": ("unit", "commitment"),
    "how-archive": ("unit-archive", "receive-unit"),
    "how-as-of": (
        "board-as-of",
        "as-of-differences",
        "unit-as-of",
        "machine-as-of",
        "lot-as-of",
        "job-as-of",
    ),
    "how-bench": (
        "lots",
        "lot",
        "new-bench-test",
        "bench-test",
        "lot-rating",
        "stock-take",
        "surveillance",
        "lot-surveillance",
    ),
    "how-proof": ("new-proof-pull", "proof-pull"),
    "how-plan": ("plan", "units-calendar", "transfers", "transport-rules"),
    "how-pulls": ("pulls", "pull-record", "pull-lessons"),
    "how-job": (
        "jobs",
        "new-job",
        "job",
        "job-unit",
        "compare-answers",
        "commitment",
        "extraction-rules",
    ),
    "how-inspecting": (
        "field",
        "count-pads",
        "replace-pads",
        "take-out-of-service",
        "inspection",
        "labels",
    ),
    "how-due": ("due", "schedule", "checklists", "kinds", "meter"),
    "how-machines": ("machine-page", "machine-list", "read-meters", "enter-hours"),
    "how-repairs": ("repairs", "repair-order", "new-repair", "work-list"),
    "how-hire": ("hires", "hire", "new-hire", "foreign-checks", "new-foreign-check"),
    "how-lives": ("unit-pads", "lot-life"),
    "how-restoring": ("what-to-buy", "pad-orders", "restoring-plans", "plans-record"),
    "how-forecast": ("unit-forecast", "fleet-forecast", "forecasts-held", "forecast"),
    "how-register": ("exchange",),
    "how-sheets": ("sheets",),
    "how-api": ("new-token",),
    "how-running": ("set-up",),
}


@pytest.fixture
def keys() -> dict[str, Any]:
    """The keys of one record of each kind."""
    unit = rated_unit(in_stock=2)
    drafted = drafted_test(unit.lot, unit.manager)
    assert drafted.draft is not None
    made = commit(figured_unit())
    return {
        "housing_id": unit.housing.pk,
        "lot_id": unit.lot.pk,
        "hammer_id": unit.hammer.pk,
        "test_id": drafted.test.pk,
        "rating_id": drafted.draft.pk,
        "pull_id": proof_pull(unit.housing, unit.manager).pull.pk,
        "forecast_id": kept_forecast().pk,
        "pull_record_id": pull_done(made).pk,
        "job_id": made.job_id,
        "commitment_id": made.pk,
        "sort": "hammer",
        "machine_id": unit.hammer.pk,
        "order_id": ordered_repair(unit.hammer).pk,
        "hire_id": let(unit).pk,
        "inspection_id": count(unit.housing, unit.manager, unit.lot).inspection.pk,
    }


def address(name: str, keys: dict[str, Any]) -> str:
    ways: Any = get_resolver().reverse_dict[name]
    needed = ways[0][0][1]
    return reverse(name, kwargs={each: keys[each] for each in needed})


@pytest.mark.parametrize("how", HOW)
def test_each_page_concerned_links_to_how_it_works(how: str, keys: dict[str, Any]) -> None:
    client = signed_in(ManagerFactory())
    for name in SPOKEN_OF[how]:
        page = client.get(address(name, keys)).content.decode()
        assert re.search(rf'<a href="{reverse(how)}">How this works</a>', page), name


@pytest.mark.parametrize("how", HOW)
def test_the_foot_of_every_page_leads_to_every_topic(how: str, auditor_client: Client) -> None:
    assert f'href="{reverse("how")}"' in auditor_client.get("/").content.decode()
    assert f'<a href="{reverse(how)}"' in auditor_client.get(reverse("how")).content.decode()
    marked = f'<a href="{reverse(how)}" aria-current="page">'
    assert marked in auditor_client.get(reverse(how)).content.decode()


def test_every_column_of_every_table_of_the_register_is_told(auditor_client: Client) -> None:
    page = auditor_client.get(reverse("how-register")).content.decode()
    for table in TABLES:
        section = page.split(f'<h3 id="table-{table.name}">')[1].split("</section>")[0]
        told = re.findall(r"<code>(\w+)</code>(\s*<strong>needed</strong>)?: ", section)
        assert [(name, bool(needed)) for name, needed in told] == [
            (column.name, column.needed) for column in table.columns
        ]


def test_every_setting_read_from_the_environment_is_told(auditor_client: Client) -> None:
    told = words(auditor_client.get(reverse("how-running")))
    read = {
        str(node.args[0].value)
        for file in Path("fleet/config").glob("*.py")
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call)
        and node.args
        and isinstance(node.args[0], ast.Constant)
        and ast.unparse(node.func) in ("os.environ.get", "_is_on", "_listed")
    }
    assert len(read) > 10
    assert [name for name in sorted({"DATABASE_URL", *read}) if name not in told] == []


@pytest.mark.parametrize("how", HOW)
def test_every_command_named_is_one(how: str, auditor_client: Client) -> None:
    page = auditor_client.get(reverse(how)).content.decode()
    named = set(re.findall(r"manage\.py (\w+)", page))
    assert named <= set(get_commands())
    assert named or how not in ("how-running", "how-ledger", "how-due")


@pytest.mark.parametrize("how", ["how-due", "how-inspecting"])
def test_findings_bear_the_names_they_have_elsewhere(how: str, auditor_client: Client) -> None:
    told = words(auditor_client.get(reverse(how))).lower()
    assert [label for label in Severity.labels if label.lower() not in told] == []


def test_figures_are_in_the_units_of_who_reads() -> None:
    reader = AuditorFactory()
    client = signed_in(reader)
    assert "colder than 40 °F" in words(client.get(reverse("how-standing")))
    assert "1,400 psf" in words(client.get(reverse("how-job")))
    ReaderPreference.objects.create(user=reader, units="si")
    assert "colder than 4 °C" in words(client.get(reverse("how-standing")))
    assert "67 kPa" in words(client.get(reverse("how-job")))


def test_figures_of_policy_and_rules_are_those_in_force(auditor_client: Client) -> None:
    by = ManagerFactory()
    change_policy(
        submission_id=uuid.uuid4(), policy=Policy(confidence=0.9), reason="As agreed.", by=by
    )
    change_rules(
        submission_id=uuid.uuid4(),
        policy=ExtractionPolicy(care_margin=1.5),
        reason="As agreed.",
        by=by,
    )
    assert "lower 90 % bound" in words(auditor_client.get(reverse("how-standing")))
    assert "below 1.5 a force" in words(auditor_client.get(reverse("how-job")))
