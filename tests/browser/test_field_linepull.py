from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from playwright.sync_api import Page

from fleet.fields import read_inches
from fleet.quantities import Quantity, capacity_words, listed_words, plain_number, pull_words
from tests.browser.chromium import Visit
from tests.factories import AuditorFactory
from tests.ratings.mechanics.line_pull_cases import TABLE

NUMBERS = Path("tests/cases/numbers.json")

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def run(page: Page, module: str, script: str, given: Any) -> Any:
    """Run a script with a module of the phone's and what it is given."""
    load = f"const m = await import('/static/inspections/field/{module}.js');"
    return page.evaluate(f"async (given) => {{ {load} {script} }}", given)


def test_the_phone_calculates_every_case_as_the_ledger_does_to_the_last_digit(visit: Visit) -> None:
    table = json.loads(TABLE.read_text())
    page = visit("/field/", AuditorFactory())
    script = """return given.map((each) => m.linePull(each.pads, each.lots, each.travel_in, {
      isGuided: each.is_guided, proofRatio: each.proof_ratio ?? 1 }));"""
    for case, found in zip(table, run(page, "linepull", script, table), strict=True):
        expected = case["expected"]
        for name in ("pull_lbf", "usable_travel_in"):
            value = expected.pop(name)
            assert found.pop(name) == (None if value is None else float(value)), case["name"]
        assert found == expected, case["name"]


def test_the_phone_reads_numbers_by_the_ledger_s_one_rule(visit: Visit) -> None:
    cases = json.loads(NUMBERS.read_text(encoding="utf-8"))
    page = visit("/field/", AuditorFactory())
    script = """return given.map((each) => m.readNumber(
      each.text, '5.5', [each.least ?? -Infinity, each.most ?? Infinity],
      each.near ?? null));"""
    for case, found in zip(cases, run(page, "quantities", script, cases), strict=True):
        if "words" in case:
            assert found == {"words": f"{case['words']}."}, case
        else:
            assert found == {"value": case["number"]}, case


def test_sums_are_rounded_once_as_fsum_rounds_them(visit: Visit) -> None:
    page = visit("/field/", AuditorFactory())
    sums = [
        [0.1] * 10,
        [1e16, 1.0, -1e16],
        [1e16, 1.0, 1e-16],
        [1.0, 2.0**-53, 2.0**-105],
        [1.0, 2.0**-53, -(2.0**-105)],
        [],
    ]
    found = run(page, "linepull", "return given.map(m.exactSum);", sums)
    assert found == [math.fsum(each) for each in sums]


@pytest.mark.parametrize("system", ["us", "si"])
def test_figures_are_written_as_the_site_writes_them(visit: Visit, system: str) -> None:
    page = visit("/field/", AuditorFactory())
    pulls = [0, 99.5, 100, 1234.5, 24_799.4999, 24_800, 47_999.5, 123_456.789, 1_050_000]
    script = "return given[0].map((each) => m.pullWords(each, given[1]));"
    found = run(page, "quantities", script, [pulls, system])
    assert found == [pull_words(each, system) for each in pulls]


@pytest.mark.parametrize("system", ["us", "si"])
def test_beside_a_listing_figures_are_written_as_the_site_writes_them(
    visit: Visit, system: str
) -> None:
    page = visit("/field/", AuditorFactory())
    listings = [200_000, 120_050, 112_404.47, 99_999.9]
    pairs = [
        [listed + beside, listed]
        for listed in listings
        for beside in (-900.0, -99.5, -20.0, -1.5, -0.25, 0.0, 0.25, 3.0, 55.0, 130.0, 1_000.0)
    ]
    for name, written in (("pullWords", pull_words), ("capacityWords", capacity_words)):
        script = f"return given[0].map(([force, listed]) => m.{name}(force, given[1], listed));"
        found = run(page, "quantities", script, [pairs, system])
        assert found == [written(force, system, listed_lbf=listed) for force, listed in pairs]
    script = "return given[0].map((each) => m.listedWords(each, given[1]));"
    found = run(page, "quantities", script, [listings, system])
    assert found == [listed_words(each, system) for each in listings]


def test_lengths_are_written_and_stored_as_the_site_does_it(visit: Visit) -> None:
    page = visit("/field/", AuditorFactory())
    numbers = [0, 0.125, 6.125, 6.375, 1234.5678, 1_000_000, 5.999]
    found = run(page, "quantities", "return given.map((each) => m.plainNumber(each, 2));", numbers)
    assert found == [plain_number(each, 2) for each in numbers]
    stored = run(
        page, "quantities", "return given.map((each) => m.storedLength(each, 'si'));", [140, 152.4]
    )
    assert stored == [Quantity.LENGTH.stored(each, "si") for each in (140, 152.4)]


def test_a_tape_is_read_on_the_phone_as_the_site_reads_it(visit: Visit) -> None:
    page = visit("/field/", AuditorFactory())
    taped = [
        "5.5",
        "5 1/2",
        "5-3/8",
        '6 1/16"',
        "7/8 in",
        "6″",
        "5 1/0",
        "1/2/3",
        "five",
        "5'6",
        "",
    ]
    script = "return given.map((each) => m.readLength(each, 'us', '5.5').value ?? null);"
    assert run(page, "quantities", script, taped) == [_inches(each) for each in taped]


def _inches(text: str) -> float | None:
    try:
        return read_inches(text, "5.5")
    except ValidationError:
        return None
