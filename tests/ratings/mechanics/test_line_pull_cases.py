from __future__ import annotations

import json

from ratings.mechanics.unit_rating import rate_unit
from tests.ratings.mechanics.line_pull_cases import TABLE, expected, inputs_of


def test_the_table_of_cases_holds_what_the_formula_calculates_to_the_last_digit() -> None:
    for case in json.loads(TABLE.read_text()):
        assert case["expected"] == expected(case), case["name"]


def test_no_unit_pulls_more_by_the_ledger_than_the_phone_said_and_most_pull_just_that() -> None:
    alike = 0
    cases = [case for case in json.loads(TABLE.read_text()) if case["expected"]["pull_lbf"]]
    for case in cases:
        rated, most = rate_unit(inputs_of(case)).pull_lbf, float(case["expected"]["pull_lbf"])
        assert rated is not None
        # Both sum the same forces, but not in the same order everywhere.
        assert rated <= most * (1.0 + 1e-12), case["name"]
        alike += rated >= most * (1.0 - 1e-12)
    assert alike > len(cases) / 2


def test_the_table_has_a_case_of_each_kind() -> None:
    table = json.loads(TABLE.read_text())
    found = [case["expected"] for case in table]
    assert {each["limited_by"] for each in found} == {None, "travel", "tested stretch"}
    assert {each["weaker_side"] for each in found} == {"", "A", "B"}
    assert any(lot["curve"] for case in table for lot in case["lots"])
    assert any(each["unrated_pads"] for each in found)
    assert any(each["short_pads"] for each in found)
    assert any(each["pull_lbf"] == "0" for each in found)
    assert any(case["proof_ratio"] and case["expected"]["pull_lbf"] for case in table)
    assert any(lot.get("kept_share", 1.0) < 1.0 for case in table for lot in case["lots"])
    by_strain = [each for case in table for each in case["lots"] if each["strain_limit_in"]]
    ends = {float(each["usable_travel_in"]) for each in found if each["usable_travel_in"]}
    assert any(lot["strain_limit_in"] in ends for lot in by_strain)
