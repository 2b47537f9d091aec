from __future__ import annotations

import json

from tests.ratings.mechanics.line_pull_cases import TABLE, expected


def test_the_table_of_cases_holds_what_the_ledger_calculates_to_the_last_digit() -> None:
    for case in json.loads(TABLE.read_text()):
        assert case["expected"] == expected(case), case["name"]


def test_the_table_has_a_case_of_each_kind() -> None:
    table = json.loads(TABLE.read_text())
    assert {case["expected"]["limited_by"] for case in table} == {None, "travel", "tested stretch"}
    assert any(lot["curve"] for case in table for lot in case["lots"])
    assert any(case["expected"]["unrated_pads"] for case in table)
    assert any(case["expected"]["pull_lbf"] == "0" for case in table)
