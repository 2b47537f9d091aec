"""What a lot's drawn pads tell of it, and every way a hurried yard would be misled."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from scipy import stats

from fleet.models import StockMove
from fleet.stock import move_stock
from ratings.mechanics.bench import CycleReading
from ratings.mechanics.surveillance import Trend
from ratings.surveillance.trends import LotTrend, lot_trends, softening_lots
from ratings.surveillance.words import caveats, newest_words, softening_words, trend_words
from tests.builders import drafted_test, receive
from tests.factories import GaugeFactory, PadLotFactory
from tests.factories import TestStandFactory as StandFactory
from tests.ratings.surveillance.drawn import SLOWLY, SOFTENING, STEADY, Bench, day

pytestmark = pytest.mark.django_db


def trend_of(bench: Bench) -> LotTrend:
    return lot_trends([bench.lot])[bench.lot.pk]


def by_age(bench: Bench) -> Trend:
    found = trend_of(bench).by_age
    assert found is not None
    return found


def said(bench: Bench) -> str:
    """All that is said of the lot."""
    trend = trend_of(bench)
    return " ".join(
        [
            softening_words(trend),
            *trend_words(trend),
            *caveats(trend, "us"),
            newest_words(trend, "us"),
        ]
    )


def line_through(rates: Any) -> Any:
    """The line by scipy, against years since the first visit."""
    ages = [
        (day(2023 + year) - day(2023)).days / 365.25
        for year, visit in enumerate(rates)
        for _ in visit
    ]
    return ages, stats.linregress(ages, [rate for visit in rates for rate in visit])


# What is told.


def test_a_lot_that_softens_is_told_with_its_pace_and_band() -> None:
    ages, line = line_through(SLOWLY)
    half = stats.t.ppf(0.95, len(ages) - 2) * line.stderr
    # Of the approved rate, the mean of the three new pads, 1,000 lbf/in.
    pace, least, most = (each / 10 for each in (-line.slope, -line.slope - half, half - line.slope))
    assert softening_words(trend_of(Bench().watched(SLOWLY))).startswith(
        f"softens by {pace:.1f} % a year, band {least:.1f} to {most:.1f}; "
    )


def test_it_is_told_when_a_lot_that_softens_will_have_lost_a_tenth() -> None:
    _, line = line_through(SLOWLY)
    crossed = day(2023) + timedelta(days=(900 - line.intercept) / line.slope * 365.25)
    trend = trend_of(Bench().watched(SLOWLY))
    assert trend.falls_below_on == crossed.date()
    assert trend.may_fall_below_on is not None
    assert trend.may_fall_below_on < crossed.date()
    words = softening_words(trend)
    assert re.search(rf"at this pace 10 % below its rate (by|since) {crossed:%b %Y}", words)


def test_a_lot_below_the_limit_when_last_tested_is_told_so() -> None:
    words = softening_words(trend_of(Bench().watched(SOFTENING)))
    assert "it was 10 % below its rate or more already when last tested" in words


def test_it_softens_with_hours_too() -> None:
    words = softening_words(trend_of(Bench().watched(SLOWLY)))
    assert re.search(r"that is \d\.\d % per 1,000 h worked, band", words)
    assert re.search(r": 10 % below its rate after [23],\d00 h", words)


def test_without_an_approved_rate_it_is_held_to_the_first() -> None:
    bench = Bench()
    for year, rate in enumerate((1000.0, 970.0, 940.0, 912.0)):
        bench.drawn(rate, day(2022 + year), f"P{year}")
    assert "below its first rate" in softening_words(trend_of(bench))


def test_a_lot_that_stays_says_how_fast_a_fall_could_have_been_seen() -> None:
    words = said(Bench().watched(STEADY))
    assert "softens" not in words
    assert "No softening is seen: −0.1 % a year, band −0.5 to +0.4." in words
    assert "9 points show a fall only from about 0.5 % a year on." in words


def test_softening_lots_are_found_among_all_and_among_those_asked_for() -> None:
    bench, steady = Bench().watched(), Bench().watched(STEADY)
    assert softening_lots() == []
    receive(bench.lot, bench.by, 4)
    assert [each.lot for each in softening_lots()] == [bench.lot]
    assert [each.lot for each in softening_lots([bench.lot.pk])] == [bench.lot]
    assert softening_lots([steady.lot.pk]) == []


def test_the_newest_pads_promise_what_so_few_can(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of 861 ± 12.7 lbf/in from two pads the bound is 861 − 20.58 · 12.7."""
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *_: day(2026, 6).date())
    words = newest_words(trend_of(Bench().watched()), "us")
    assert "The 2 single pads drawn in the last year have 861 lbf/in on average" in words
    assert "90 % of the pads in service have 599 lbf/in or more" in words


def test_a_test_corrected_since_counts_no_more() -> None:
    bench = Bench().watched(STEADY)
    wrong = bench.drawn(400.0, day(2026, 2), "P39", 1800.0)
    assert by_age(bench).pad_sd_lbf_in > 100
    bench.drawn(995.0, day(2026, 2), "P39", 1800.0, corrects=wrong.test)
    assert by_age(bench).pad_sd_lbf_in < 15


# How a yard would be misled.


def test_new_pads_alone_tell_nothing_of_service() -> None:
    bench = Bench()
    for year, rate in enumerate((1000.0, 900.0, 800.0, 700.0)):
        bench.new(rate, day(2022 + year), f"P{year}")
    assert trend_of(bench).by_age is None
    assert "all pads tested were new" in said(bench)
    assert "Draw pads from housings" in said(bench)


def test_two_pads_tell_no_trend() -> None:
    bench = Bench()
    bench.new(1000.0, day(2023), "P1")
    bench.drawn(800.0, day(2024), "P2")
    assert softening_words(trend_of(bench)) == ""
    assert "No trend: 2 points to go by" in said(bench)
    assert "three are needed" in said(bench)


def test_pads_of_one_age_tell_no_trend() -> None:
    bench = Bench()
    for rate in (1000.0, 900.0, 800.0):
        bench.drawn(rate, day(2024), f"P{rate:.0f}")
    assert "all pads were tested at one age" in said(bench)


def test_pads_all_from_one_housing_are_told() -> None:
    bench = Bench()
    for year, rate in enumerate((1000.0, 960.0, 915.0, 870.0)):
        bench.drawn(rate, day(2022 + year), f"P{year}")
    assert f"All were drawn from housing {bench.housings[0]}" in said(bench)
    bench.drawn(830.0, day(2026), "P9", housing=1)
    assert "All were drawn from housing" not in said(bench)


def test_a_housing_not_said_is_told() -> None:
    bench = Bench().watched(STEADY)
    bench.drawn(1000.0, day(2026, 2), "P9", housing=None)
    assert "Of one test it isn’t said which housing" in said(bench)


def test_hours_not_read_leave_a_pad_to_its_age_alone() -> None:
    bench = Bench().watched(STEADY)
    bench.drawn(600.0, day(2026, 2), "P9", hours=None)
    trend = trend_of(bench)
    assert trend.by_age is not None
    assert trend.by_hours is not None
    assert trend.by_age.points == trend.by_hours.points + 1
    assert "Of one draw the hours were not read" in said(bench)


def test_hours_of_none_are_no_trend_against_hours() -> None:
    bench = Bench()
    for year, rate in enumerate((1000.0, 960.0, 915.0, 870.0)):
        bench.drawn(rate, day(2022 + year), f"P{year}")
    assert trend_of(bench).by_hours is None
    assert "Too few pads have their hours on record" in said(bench)


def test_an_age_not_known_counts_from_the_first_test_and_says_so() -> None:
    bench = Bench().watched(STEADY)
    assert trend_of(bench).made_on == day(2023).date()
    assert "No receipt of the lot is on record before its first test" in said(bench)


def test_age_counts_from_the_first_receipt_whatever_came_later() -> None:
    bench = Bench().watched(STEADY)
    slope = by_age(bench).slope_per_unit
    for year in (2021, 2024):
        move_stock(
            lot_id=bench.lot.pk,
            kind=StockMove.Kind.RECEIVED,
            change=12,
            occurred_at=day(year),
            by=bench.by,
        )
    assert trend_of(bench).made_on == day(2021).date()
    assert by_age(bench).slope_per_unit == pytest.approx(slope)
    assert "came in from 2 Mar 2021 to 2 Mar 2024" in said(bench)


def test_the_same_pad_tested_again_within_a_month_is_one_point() -> None:
    bench = Bench().watched(STEADY)
    points, slope = by_age(bench).points, by_age(bench).slope
    for after, rate in enumerate((985.0, 995.0), 1):
        bench.drawn(rate, day(2026) + timedelta(days=after), "p30", 1800.0)
    assert by_age(bench).points == points
    assert by_age(bench).slope.degrees_of_freedom == slope.degrees_of_freedom
    [repeated] = [each for each in trend_of(bench).of_age if len(each.tests) > 1]
    assert repeated.rate_lbf_in == pytest.approx((990.0 + 985.0 + 995.0) / 3)
    assert "stretched the same pads again within a month: their mean counts once" in said(bench)


def test_the_same_position_within_a_month_is_the_same_pad() -> None:
    bench = Bench().watched(STEADY)
    there = {"origin": "from service", "housing": bench.housings[0], "side": "A", "position": 2}
    bench.tested(990.0, day(2026, 4), there)
    points = by_age(bench).points
    bench.tested(998.0, day(2026, 4) + timedelta(days=3), there)
    assert by_age(bench).points == points


def test_the_same_pad_a_year_on_is_a_second_point() -> None:
    bench = Bench().watched(STEADY[:3])
    points = by_age(bench).points
    bench.drawn(990.0, day(2026), "P20", 1800.0)
    assert by_age(bench).points == points + 1


def test_pads_without_mark_or_place_may_be_one_and_that_is_told() -> None:
    bench = Bench().watched(STEADY)
    bench.drawn(990.0, day(2026, 2))
    assert "One draw had pads without mark or position" in said(bench)


def test_pads_from_the_shelf_hide_nothing_of_what_work_does() -> None:
    bench = Bench().watched()
    slope = by_age(bench).slope
    for place in range(6):
        bench.new(1000.0, day(2026, 4), f"S{place}")
    assert by_age(bench).slope == slope
    assert "Left out against age: 6 tests of pads not from service" in said(bench)


def test_new_and_drawn_pads_stretched_together_are_left_out() -> None:
    bench = Bench().watched(STEADY)
    points = by_age(bench).points
    test = bench.tested(700.0, day(2026, 4), {"origin": "new"}, {"origin": "from service"}).test
    assert by_age(bench).points == points
    assert f"stretched together with others: bench test {test.pk}" in said(bench)


def test_pads_drawn_and_stretched_together_are_one_point_of_more_weight() -> None:
    bench = Bench().watched(STEADY)
    pads = [{"mark": f"T{n}", "origin": "from service", "hours": 100.0 * n} for n in (1, 2, 3)]
    bench.tested(990.0, day(2026, 4), *pads)
    last = trend_of(bench).of_age[-1]
    assert last.hours == pytest.approx(200.0)
    assert last.point(1.0).pads == 3


def test_a_gauge_out_of_calibration_tells_no_trend() -> None:
    bench = Bench().watched(STEADY)
    points = by_age(bench).points
    off = GaugeFactory(yard=bench.stand.yard, due_on=None)
    test = bench.drawn(500.0, day(2026, 4), "P9", gauge=off).test
    assert by_age(bench).points == points
    assert f"out of calibration: bench test {test.pk}" in said(bench)


def test_tests_not_made_alike_are_told() -> None:
    bench = Bench().watched(STEADY)
    assert "not made alike" not in said(bench)
    bench.drawn(990.0, day(2026, 4), "P9", conditioning_cycles=0, rubber_temperature_f=95.0)
    bench.drawn(990.0, day(2026, 4), "P8", rubber_temperature_f=None)
    words = said(bench)
    assert "some stretched the pads beforehand and some did not" in words
    assert "1 did not read how warm the rubber was" in words
    assert "the rubber was at 68 °F to 95 °F" in words


def two_stands(fall: tuple[float, ...], changed_in: int) -> Bench:
    """A pad a year and a new one each, read on a second stand from a year on."""
    bench = Bench()
    second = StandFactory(yard=bench.stand.yard)
    gauge = GaugeFactory(yard=bench.stand.yard)
    for year, rate in enumerate(fall):
        other: dict[str, Any] = (
            {"stand": second, "gauge": gauge} if 2022 + year >= changed_in else {}
        )
        for off in (-3.0, 4.0):
            bench.drawn(rate + off, day(2022 + year), f"P{year}{off}", **other)
    return bench


def test_a_stand_that_took_over_is_named_where_it_may_fake_the_trend() -> None:
    """Rates stand still on either stand; the second reads 6 % less."""
    bench = two_stands((1000.0, 1000.0, 940.0, 940.0), changed_in=2024)
    words = said(bench)
    first = f"{bench.stand.name} with gauge {bench.gauge.mark} (2 Mar 2022 to 2 Mar 2023)"
    assert f"The pads were read on {first} and on " in words
    assert "Within the stands alone they show +0.0 % a year" in words or (
        "Within the stands alone they show −0.0 % a year" in words
    )


def test_stands_each_used_in_one_year_alone_cannot_tell_softening_from_a_change_of_stand() -> None:
    words = said(two_stands((1000.0, 940.0), changed_in=2023))
    assert "No stand read pads at two ages" in words
    assert "Read a reference piece on each" in words


def test_a_gauge_calibrated_anew_between_the_tests_is_told() -> None:
    bench = Bench().watched(STEADY)
    assert "calibrated anew" not in said(bench)
    bench.gauge.certificate_number = "CAL-2026-7"
    bench.gauge.save()
    bench.drawn(995.0, day(2026, 4), "P9")
    assert f"Gauge {bench.gauge.mark} was calibrated anew between the tests" in said(bench)


def test_one_stand_is_not_spoken_of() -> None:
    assert "The pads were read on" not in said(Bench().watched())


def bent(to_in: float) -> list[CycleReading]:
    """Readings of one pad whose curve bends: the further, the softer its chord."""
    return [
        CycleReading(10.0 + x, 80.0 * x - 4.0 * x * x)
        for x in (to_in * share for share in (0.2, 0.4, 0.6, 0.8, 1.0))
    ]


def test_bent_curves_stretched_unequally_far_are_compared_where_all_were() -> None:
    """The same rubber, each year stretched further, would look softer by its fitted rate."""
    bench = Bench()
    for year, to_in in enumerate((5.0, 6.0, 7.0, 8.0)):
        for place in (0, 1):
            # No two tests read alike.
            read = bent(to_in + place / 16)
            bench.drawn(0.0, day(2022 + year), f"P{year}{place}", readings=read)
    trend = trend_of(bench)
    assert trend.stretch_in == pytest.approx(5.0)
    assert abs(by_age(bench).slope_per_unit) < 0.01 * by_age(bench).rate_lbf_in
    assert "rates are compared at 5 in, which all reached" in said(bench)


def test_a_lot_never_tested_has_no_trend() -> None:
    assert lot_trends([PadLotFactory()]) == {}


def test_tests_that_say_nothing_of_their_pads_are_the_start_against_age_alone() -> None:
    bench = Bench()
    drafted_test(bench.lot, bench.by, at=day(2022), stand=bench.stand, gauge=bench.gauge)
    for year, rate in enumerate((960.0, 915.0, 870.0)):
        bench.drawn(rate, day(2023 + year), f"P{year}", hours=300.0 + year)
    trend = trend_of(bench)
    assert trend.by_age is not None
    assert trend.by_hours is not None
    assert (trend.by_age.points, trend.by_hours.points) == (4, 3)
    assert "Taken as new, for nothing is said of where the pads came from" in said(bench)
