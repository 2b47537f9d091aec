"""What improving a test is said to give a housing is what it gives, all else left as it is."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from ratings.bench.improving import CapacityGain, capacity_gain
from ratings.bench.reduction import reduce_test
from ratings.mechanics.bench import CycleReading
from ratings.mechanics.budget import FINER_TAPE
from ratings.mechanics.unit_rating import Policy
from ratings.models import BenchTest
from tests.builders import drafted_test
from tests.factories import GaugeFactory, ManagerFactory, PadLotFactory, TapeFactory
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def recorded(resolution_in: float = 0.5, grade: str = "4A", **more: Any) -> BenchTest:
    stand: dict[str, Any] = {
        "tape": TapeFactory(resolution_in=resolution_in),
        "gauge": GaugeFactory(grade=grade),
    }
    return drafted_test(PadLotFactory(), ManagerFactory(), **stand, **more).test


def gain_of(test: BenchTest, policy: Policy | None = None) -> CapacityGain:
    reduction = reduce_test(test, test.measured, 5.0)
    found = capacity_gain(test, reduction, policy or Policy())
    assert found is not None
    return found


def test_the_promised_gain_is_what_the_finer_tape_gives() -> None:
    coarse, fine = recorded(0.5), recorded(0.25)
    best = reduce_test(coarse, coarse.measured, 5.0).improvement
    assert best is not None
    assert best.halved_by == FINER_TAPE
    promised = gain_of(coarse)
    assert promised.gain_lbf == pytest.approx(gain_of(fine).now_lbf - promised.now_lbf, rel=1e-9)
    assert promised.is_worth_it


def test_what_the_stand_cannot_tell_of_untested_pads_is_in_the_promise() -> None:
    # By the stand alone: 20 pads × 8 in × half of 1.645 × u of the rate.
    test = recorded(0.5)
    stand_alone = (
        20 * 8.0 * 0.5 * 1.645 * reduce_test(test, test.measured, 5.0).budget.standard_lbf_in
    )
    assert 0.0 < gain_of(test).gain_lbf < 0.5 * stand_alone
    assert gain_of(test, Policy(pad_spread_pct=0.0)).gain_lbf > gain_of(test).gain_lbf


def test_where_pads_differ_most_a_good_stand_is_not_worth_bettering() -> None:
    test = recorded(0.0005)
    found = gain_of(test, Policy(pad_spread_pct=20.0))
    # With less from the stand the few pads tested weigh more: the factor may even rise a little.
    assert abs(found.gain_lbf) < 0.001 * found.now_lbf
    assert not found.is_worth_it
    assert found.outweighed_by == "which pads were tested, and how their readings scatter"


def test_the_page_says_what_to_do_what_it_gives_and_what_weighs_most(
    auditor_client: Client,
) -> None:
    test = recorded(0.5)
    text = words(auditor_client.get(reverse("bench-test", args=[test.pk])))
    assert "Improve first: tape datum , by a tape with divisions half as wide" in text
    assert "and give a housing of twenty such pads, rated by this test alone," in text
    assert "What weighs most there is which pads were tested" in text


def test_a_bent_lot_of_few_readings_is_not_told_to_read_more(auditor_client: Client) -> None:
    bent = [CycleReading(10.0 + x, 40.0 * x + 10.0 * x * x) for x in (1.0, 2.0, 4.0, 6.0, 8.0)]
    test = recorded(0.0625, readings=bent)
    text = words(auditor_client.get(reverse("bench-test", args=[test.pk])))
    assert "Improve first: scatter" not in text
