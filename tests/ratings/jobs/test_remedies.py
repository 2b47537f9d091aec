"""What would make a unit suit a job, each tried again through the whole check."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest

from fleet.models import PadLot
from ratings.jobs.answer import UnitAnswer, answer_for_unit, question_of
from ratings.jobs.answer_page import RemedyLine, remedy_lines
from ratings.jobs.words import Place
from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.outcomes import CheckKey, Verdict
from ratings.mechanics.extraction.unit import Unit as ExtractionUnit
from ratings.mechanics.soil import Hole
from ratings.models import ExtractionJob
from tests.builders import Unit, bench_test, receive
from tests.factories import PadLotFactory
from tests.job_builders import extraction_job, figured_unit

pytestmark = pytest.mark.django_db

MISSING_PADS = {"A1": "missing", "A2": "missing", "B1": "missing", "B2": "missing"}


def strong_unit(figures: dict[str, float | None] | None = None, **more: Any) -> Unit:
    """One that suits the plain job with the margin wanted."""
    return figured_unit(figures, **{"rate_lbf_in": 1500.0} | more)


def asked(unit: Unit, job: ExtractionJob | None = None, **fields: Any) -> UnitAnswer:
    answer = answer_for_unit(question_of(job or extraction_job(**fields)), unit.housing.pk)
    assert answer is not None
    return answer


def unit_of(answer: UnitAnswer) -> ExtractionUnit:
    return answer.candidate.unit


def told(unit: Unit, **fields: Any) -> list[RemedyLine]:
    return remedy_lines(asked(unit, **fields), "us")


def words_of(unit: Unit, **fields: Any) -> str:
    return " ".join(each.words for each in told(unit, **fields))


def test_a_suitable_unit_needs_nothing() -> None:
    unit = strong_unit()
    assert asked(unit).verdict.verdict is Verdict.SUITABLE
    assert told(unit) == []


def test_the_fewest_pads_from_stock_that_carry_it_with_the_margin_are_named() -> None:
    unit = strong_unit(unsound=MISSING_PADS, in_stock=6, listed_lbf=20_000.0)
    answer = asked(unit)
    found = answer.remedies.refits[0]
    assert found.margin >= answer.policy.care_margin
    words = words_of(unit)
    assert f"Fit {found.way.count} pads of lot {unit.lot.mark} from stock at A1, B1" in words
    assert "The unit is then suitable." in words
    PadLot.objects.filter(pk=unit.lot.pk).update(in_stock=found.way.count - 1)
    assert all(each.margin < answer.policy.care_margin for each in asked(unit).remedies.refits)


def test_pads_fitted_give_the_margin_that_was_told() -> None:
    unit = strong_unit(unsound=MISSING_PADS, in_stock=6, listed_lbf=20_000.0)
    found = asked(unit).remedies.refits[0]
    places = {f"{each.side}{each.number}" for each in found.way.positions}
    mended = strong_unit(
        unsound={name: fault for name, fault in MISSING_PADS.items() if name not in places},
        listed_lbf=20_000.0,
    )
    pull = asked(mended).verdict.check(CheckKey.LINE_PULL)
    assert pull is not None
    assert pull.margin == pytest.approx(found.margin, rel=1e-9)


def test_pads_that_limit_the_stretch_are_swapped_for_others() -> None:
    unit = strong_unit(to_in=2.0, listed_lbf=10_000.0)
    longer = PadLotFactory()
    bench_test(longer, unit.manager, rate_lbf_in=1500.0, to_in=8.0)
    receive(longer, unit.manager, 8)
    found = asked(unit).remedies.refits
    assert [each.way.lot for each in found] == [longer.mark]
    assert found[0].rating.usable_travel_in == 6.0


def test_a_lot_that_would_not_raise_it_is_not_told() -> None:
    unit = strong_unit(unsound=MISSING_PADS, listed_lbf=20_000.0)
    shorter = PadLotFactory()
    bench_test(shorter, unit.manager, to_in=1.0)
    receive(shorter, unit.manager, 8)
    assert asked(unit).remedies.refits == ()


def test_pads_enough_for_the_pull_do_not_hide_what_else_is_wrong() -> None:
    unit = strong_unit(unsound=MISSING_PADS, in_stock=6, listed_lbf=20_000.0)
    words = words_of(unit, capacity_lbf=10_000.0)
    assert "The pads then carry it; hook load on the crane still stands in the way." in words


def test_a_crane_that_allows_enough_is_named_and_is_enough() -> None:
    unit = strong_unit()
    answer = asked(unit, capacity_lbf=20_000.0)
    words = " ".join(each.words for each in remedy_lines(answer, "us"))
    wanted = re.search(r"whose chart allows ([0-9,]+) lbf", words)
    assert wanted is not None
    crane = replace(answer.job.crane, capacity_lbf=float(wanted[1].replace(",", "")))
    again = check(answer.candidate.unit, replace(answer.job, crane=crane), answer.policy)
    assert again.verdict is Verdict.SUITABLE


def test_a_clamp_that_presses_enough_is_named_and_is_enough() -> None:
    unit = strong_unit({"clamp_force_lbf": 60_000.0})
    answer = asked(unit)
    wanted = re.search(r"jaws press with ([0-9,]+) lbf", words_of(unit))
    assert wanted is not None
    stronger = replace(answer.candidate.unit, clamp_force_lbf=float(wanted[1].replace(",", "")))
    assert check(stronger, answer.job, answer.policy).verdict is Verdict.SUITABLE


def test_a_moment_that_shakes_enough_is_named_and_is_enough() -> None:
    answer = asked(strong_unit({"eccentric_moment_lb_in": 900.0}))
    words = " ".join(each.words for each in remedy_lines(answer, "us"))
    wanted = re.search(r"eccentric moment of ([0-9,]+) lb·in", words)
    assert wanted is not None
    shaken = replace(
        answer.candidate.unit, eccentric_moment_lb_in=float(wanted[1].replace(",", "")) + 1.0
    )
    amplitude = check(shaken, answer.job, answer.policy).check(CheckKey.AMPLITUDE)
    assert amplitude is not None
    assert amplitude.margin is not None
    assert amplitude.margin >= answer.policy.care_margin


def test_a_lighter_bite_is_one_from_which_it_suits() -> None:
    unit = strong_unit()
    answer = asked(unit, capacity_lbf=42_000.0)
    words = " ".join(each.words for each in remedy_lines(answer, "us"))
    bite = re.search(
        r"Suits from ([0-9.]+) ft of embedment: only once another unit has raised the pile by "
        r"([0-9.]+) ft",
        words,
    )
    assert bite is not None
    assert float(bite[1]) + float(bite[2]) == pytest.approx(40.0)
    pile = replace(answer.job.pile, embedment_ft=float(bite[1]))
    again = check(answer.candidate.unit, replace(answer.job, pile=pile), answer.policy)
    assert again.verdict is Verdict.SUITABLE


def test_digging_is_never_said_to_come_to_the_same_as_raising() -> None:
    words = words_of(strong_unit(), capacity_lbf=42_000.0)
    bite = next(each for each in re.split(r"(?=A lighter bite|Dig\.)", words) if "bite" in each)
    assert "dug" not in bite
    assert "digging out" not in words
    assert "Digging does not come to the same" in bite


def test_where_no_depth_of_digging_is_enough_it_is_said() -> None:
    # What is within the pipe is not dug away.
    pipe = {"kind": "pipe", "end": "open, cored", "perimeter_in": 76.0, "inside_perimeter_in": 75.0}
    words = words_of(strong_unit(), capacity_lbf=48_000.0, **pipe)
    assert "No depth of digging alone is enough." in words
    assert "Dig." not in words


def test_a_depth_to_dig_is_one_from_which_it_suits() -> None:
    unit = strong_unit()
    answer = asked(unit, capacity_lbf=42_000.0)
    words = " ".join(each.words for each in remedy_lines(answer, "us"))
    dug = re.search(
        r"Dig\. Suits once the ground about the pile is dug away to ([0-9.]+) ft", words
    )
    assert dug is not None
    held = ground(answer.job, answer.policy, hole=Hole(float(dug[1])))
    again = check(answer.candidate.unit, answer.job, answer.policy, held)
    assert again.verdict is Verdict.SUITABLE
    shallow = ground(answer.job, answer.policy, hole=Hole(float(dug[1]) - 0.2))
    assert check(unit_of(answer), answer.job, answer.policy, shallow).verdict is Verdict.CARE


def test_no_bite_is_told_where_the_weights_alone_are_too_much() -> None:
    assert "lighter bite" not in words_of(strong_unit(), capacity_lbf=5_000.0)


def test_missing_figures_are_told_once_with_where_to_enter_them() -> None:
    unit = strong_unit({"eccentric_moment_lb_in": None, "exciter_weight_lb": None})
    found = told(unit)
    assert [each.where for each in found] == [Place.HAMMER]
    assert found[0].words == (
        f"Exciter weight and eccentric moment of {unit.hammer.mark} are not on record: enter "
        "them under Set-up."
    )


def test_a_blank_capacity_leads_to_its_field() -> None:
    found = told(strong_unit(), capacity_lbf=None)
    assert [(each.where, each.field) for each in found] == [(Place.JOB, "capacity_lbf")]
