"""The demo as a newcomer runs it: a process of its own, a folder of its own, SQLite."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.core.management import CommandError, call_command

from inspections.demo.load import Found, load_demo, look, read_scenario
from ratings.models import Commitment, ExtractionJob, PullRecord
from ratings.surveillance.draws import draws_due
from ratings.surveillance.words import softenings
from tests.all_tables import changed, everything
from tests.commands import HEADS, manage, rows
from tests.factories import YardFactory

STANDINGS = ("below listing", "unrated", "not proven", "meets listing")
YEARS_LATER = datetime(2031, 1, 15, 12, 0, tzinfo=UTC)


def test_it_says_how_every_unit_stands_where_the_site_is_and_how_to_sign_in(
    demo_loaded: tuple[Path, str],
) -> None:
    _var, said = demo_loaded
    scenario = read_scenario()
    for housing in scenario["housings"]:
        lines = [line for line in said.splitlines() if line.startswith(f"{housing['mark']} ")]
        assert len(lines) == 1
        assert any(standing in lines[0] for standing in STANDINGS)
    assert "http://127.0.0.1:8000/" in said
    for person in scenario["people"]:
        assert f"sign in as {person['username']}" in said


def test_one_unit_is_out_of_service_and_heads_the_list(demo_loaded: tuple[Path, str]) -> None:
    _var, said = demo_loaded
    lines = [line for line in said.splitlines() if line.startswith("S-")]
    assert [line for line in lines if "out of service since" in line] == lines[:1]


def test_there_are_a_dozen_units_and_every_standing(demo_loaded: tuple[Path, str]) -> None:
    var, _said = demo_loaded
    standings = rows(
        var,
        "SELECT e.standing FROM ratings_currentrating c "
        "JOIN ratings_ledgerentry e ON e.id = c.head_id",
    )
    assert len(standings) >= 12
    assert {row[0] for row in standings} == set(STANDINGS)


def jobs_told() -> list[str]:
    """The sites of the jobs that the scenario tells of."""
    return [each["job"]["site"] for each in read_scenario()["events"] if each["do"] == "job"]


def heads_with(var: Path, condition: str) -> int:
    query = (
        "SELECT count(*) FROM ratings_currentrating c JOIN ratings_ledgerentry e "
        f"ON e.id = c.head_id WHERE {condition}"
    )
    return int(rows(var, query)[0][0])


@pytest.mark.parametrize(
    "condition",
    [
        "e.id IN (SELECT e2.id FROM ratings_ledgerentry e2 JOIN fleet_padposition p "
        "ON p.housing_id = e2.housing_id WHERE p.condition = 'missing')",
        "json_extract(e.document, '$.results.limited_by') = 'tested stretch'",
        "json_extract(e.document, '$.results.is_out_of_balance') = 1",
        "json_array_length(e.document, '$.results.unrated_pads') > 0",
        "e.housing_id IN (SELECT id FROM fleet_suppressorhousing WHERE bumper <> '' "
        "AND travel_in < design_travel_in)",
        "e.housing_id IN (SELECT housing_id FROM fleet_mounting GROUP BY housing_id "
        "HAVING count(*) > 1)",
        "json_extract(e.document, '$.inputs.lots[0].linearity_error_pct') "
        "> json_extract(e.document, '$.inputs.policy.linearity_limit_pct')",
    ],
    ids=[
        "pads missing",
        "limited by tested stretch",
        "out of balance",
        "pads unrated",
        "shortened by a bumper",
        "moved",
        "a lot not linear",
    ],
)
def test_a_unit_of_each_kind_is_there(demo_loaded: tuple[Path, str], condition: str) -> None:
    assert heads_with(demo_loaded[0], condition) >= 1


def test_one_unit_is_guided_and_one_is_not_any_more(demo_loaded: tuple[Path, str]) -> None:
    is_guided = "json_extract(e.document, '$.inputs.is_guided')"
    was_said = "json_extract(e.document, '$.provenance.guide.reason') IS NOT NULL"
    assert heads_with(demo_loaded[0], f"{is_guided} = 1") >= 1
    assert heads_with(demo_loaded[0], f"{is_guided} = 0 AND {was_said}") == 1


def test_a_lot_was_never_tested(demo_loaded: tuple[Path, str]) -> None:
    untested = "SELECT count(*) FROM fleet_padlot WHERE id NOT IN (SELECT lot_id FROM {})"
    assert rows(demo_loaded[0], untested.format("ratings_benchtest"))[0][0] >= 1


def test_two_years_of_inspections_and_repairs_are_on_record(demo_loaded: tuple[Path, str]) -> None:
    var, _said = demo_loaded
    span = "SELECT julianday(max(seen_at)) - julianday(min(seen_at)) FROM inspections_inspection"
    assert rows(var, span)[0][0] >= 540
    assert rows(var, "SELECT count(*) FROM inspections_padreplacement")[0][0] >= 1
    corrected = "SELECT count(*) FROM ratings_ledgerentry WHERE corrects_id IS NOT NULL"
    assert rows(var, corrected)[0][0] >= 1


@pytest.mark.django_db
def test_one_lot_softens_and_the_plan_asks_for_pads_of_others() -> None:
    load_demo()
    [softening] = softenings()
    assert softening.lot.mark == "TR-24B"
    assert "softens by 3." in softening.words
    assert "10 % below its rate" in softening.words
    assert any(each.is_overdue for each in draws_due() if each.lot.mark != "TR-24B")


@pytest.mark.parametrize(
    ("lot", "loading_only", "not_conditioned", "temperature_unknown"),
    [("TR-23A", 0.0, 0.0, 0.0), ("NB-26", 1.0, 1.0, 1.0)],
    ids=["read on both branches", "quick"],
)
def test_one_lot_was_tested_with_care_and_one_pays_for_its_haste(
    demo_loaded: tuple[Path, str],
    lot: str,
    loading_only: float,
    not_conditioned: float,
    temperature_unknown: float,
) -> None:
    newest = (
        "SELECT json_extract(r.figures, '$.loading_only_share'), "
        "json_extract(r.figures, '$.not_conditioned_share'), "
        "json_extract(r.figures, '$.temperature_unknown_share') "
        "FROM ratings_lotrating r JOIN fleet_padlot l ON l.id = r.lot_id "
        f"WHERE l.mark = '{lot}' ORDER BY r.id DESC LIMIT 1"
    )
    [shares] = rows(demo_loaded[0], newest)
    assert shares == (loading_only, not_conditioned, temperature_unknown)


def test_its_ledger_holds(demo_loaded: tuple[Path, str]) -> None:
    done = manage(demo_loaded[0], "ledger", "verify")
    assert done.returncode == 0, done.stderr
    assert "every hash and every result" in done.stdout


def test_run_twice_it_says_that_the_demo_is_there_and_changes_nothing(
    demo_loaded: tuple[Path, str],
) -> None:
    var, _said = demo_loaded
    before = rows(var, HEADS)
    done = manage(var, "demo", "--no-serve", "--port", "8123")
    assert done.returncode == 0, done.stderr
    assert "The demo is there already" in done.stdout
    assert "http://127.0.0.1:8123/" in done.stdout
    assert rows(var, HEADS) == before


@pytest.mark.django_db
def test_it_loads_years_later(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: YEARS_LATER)
    load_demo()
    assert ExtractionJob.objects.count() == len(jobs_told())
    assert Commitment.objects.count() == 7
    assert PullRecord.objects.count() == 11


@pytest.mark.django_db
def test_a_database_with_other_work_is_refused_and_left_alone() -> None:
    YardFactory(name="Real yard")
    before = everything()
    with pytest.raises(CommandError, match="nothing was touched"):
        call_command("demo", "--no-serve")
    assert changed(before) == set()
    assert not User.objects.exists()


@pytest.mark.parametrize("port", ["0", "70000", "x"])
def test_a_port_that_is_none_is_refused_before_the_database_is_asked(port: str) -> None:
    # Asked without the mark for it, the database would end this test.
    with pytest.raises(CommandError, match="--port"):
        call_command("demo", "--no-serve", "--port", port)


@pytest.mark.django_db
def test_an_empty_database_is_told_from_one_at_work() -> None:
    assert look() is Found.NOTHING
    YardFactory()
    assert look() is Found.REAL_WORK


def test_one_unit_was_pulled_and_is_softer_than_its_pads(demo_loaded: tuple[Path, str]) -> None:
    var, _said = demo_loaded
    softer = "json_extract(e.document, '$.provenance.proof_pull.is_softer') = 1"
    assert heads_with(var, softer) == 1
    found = rows(var, "SELECT e_n FROM ratings_proofpull ORDER BY e_n")
    assert found[0][0] < -1.0
    assert all(abs(e_n) <= 1.0 for (e_n,) in found[1:])
    assert len(found) == 2
