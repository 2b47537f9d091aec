"""An answer recorded is calculated again to the last digit, years later."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from typing import Any

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.extraction.check import check_piles
from ratings.mechanics.extraction.job import Job, PullMethod
from ratings.mechanics.extraction.record import answer_record, read_answer, verdict_record
from ratings.mechanics.extraction.rules import BelowListing, ExtractionPolicy
from ratings.mechanics.extraction.soils import DEFAULT_SOILS, SoilResponse
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.linepull import PadGroup
from ratings.mechanics.load_curve import CurveDoubt, monotone_curve
from tests.ratings.mechanics.pulls import JOB, POLICY, UNIT, jobs, one, units

OWN_POLICY = ExtractionPolicy(
    care_margin=1.4,
    low_factor=0.55,
    high_factor=2.1,
    jaw_friction=0.27,
    steel_share=0.55,
    inspection_days=14,
    below_listing=BelowListing.CARE,
    soils=(*DEFAULT_SOILS, SoilResponse("quarry waste", 0.31, "yard trial", 0.25, "yard trial")),
)
policies = st.sampled_from([POLICY, OWN_POLICY])
BENT = PadGroup(
    8,
    1_000.0,
    6.0,
    7.0,
    31.0,
    9.0,
    replace(
        monotone_curve([2.0, 4.0, 6.0], [1_900.0, 4_100.0, 7_000.0]),
        doubt=CurveDoubt(force_lbf=3.0, stretch_in=0.01, share=0.003, scatter_lbf=5.0),
    ),
    "P2",
    math.inf,
)


def through_canonical_json(record: dict[str, Any]) -> dict[str, Any]:
    read: dict[str, Any] = json.loads(rfc8785.dumps(record))
    return read


@given(units(), jobs(), policies)
def test_an_answer_is_calculated_again_from_its_record(
    unit: Unit, job: Job, policy: ExtractionPolicy
) -> None:
    verdict = check_piles(unit, one(job), policy)
    record = answer_record(unit, one(job), policy, verdict)
    assert check_piles(*read_answer(record)) == verdict


@given(units(), jobs(), policies)
def test_and_so_it_is_through_canonical_json(
    unit: Unit, job: Job, policy: ExtractionPolicy
) -> None:
    verdict = check_piles(unit, one(job), policy)
    record = through_canonical_json(answer_record(unit, one(job), policy, verdict))
    again = check_piles(*read_answer(record))
    assert again == verdict
    assert through_canonical_json(verdict_record(again)) == record["verdict"]


@given(units(), jobs(), policies)
def test_what_was_asked_comes_back_as_it_was(
    unit: Unit, job: Job, policy: ExtractionPolicy
) -> None:
    record = through_canonical_json(
        answer_record(unit, one(job), policy, check_piles(unit, one(job), policy))
    )
    assert read_answer(record) == (unit, one(job), policy)


@given(units(), jobs(), policies)
def test_a_record_of_a_record_is_the_same_to_the_byte(
    unit: Unit, job: Job, policy: ExtractionPolicy
) -> None:
    first = rfc8785.dumps(
        answer_record(unit, one(job), policy, check_piles(unit, one(job), policy))
    )
    read = read_answer(json.loads(first))
    assert rfc8785.dumps(answer_record(*read, check_piles(*read))) == first


def test_a_curve_and_its_doubt_come_back() -> None:
    unit = replace(UNIT, groups=(BENT,))
    read, _job, _policy = read_answer(
        through_canonical_json(answer_record(unit, one(JOB), POLICY, check_piles(unit, one(JOB))))
    )
    assert read.groups == (BENT,)


def test_words_are_plain_words() -> None:
    job = replace(JOB, method=PullMethod.STILL)
    record = answer_record(UNIT, one(job), POLICY, check_piles(UNIT, one(job)))
    assert record["piles"][0]["job"]["method"] == "by the crane alone, hammer still"
    assert type(record["piles"][0]["job"]["pile"]["kind"]) is str
    assert record["verdict"]["verdict"] == "not suitable"
    assert record["verdict"]["checks"][0]["key"] == "line pull at the pads"


def test_the_verdict_is_in_the_record() -> None:
    verdict = check_piles(UNIT, one(JOB))
    assert answer_record(UNIT, one(JOB), POLICY, verdict)["verdict"] == verdict_record(verdict)


@pytest.mark.parametrize("part", ["unit", "policy"])
def test_a_record_that_lacks_a_part_is_refused(part: str) -> None:
    record = answer_record(UNIT, one(JOB), POLICY, check_piles(UNIT, one(JOB)))
    del record[part]
    with pytest.raises(KeyError, match=part):
        read_answer(record)


def test_a_record_with_a_number_that_cant_be_is_refused() -> None:
    record = answer_record(UNIT, one(JOB), POLICY, check_piles(UNIT, one(JOB)))
    record["piles"][0]["job"]["pile"]["perimeter_in"] = -60.0
    with pytest.raises(ValueError, match="perimeter_in is -60: give more than 0"):
        read_answer(record)
