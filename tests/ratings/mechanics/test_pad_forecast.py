"""How likely a unit is to stand as it stands after more hours, and how many pads it loses."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from itertools import pairwise, product
from statistics import NormalDist

import pytest

from ratings.mechanics.pad_forecast import (
    LAWS,
    LEAST_LOT_SPREAD,
    Ahead,
    Basis,
    ForecastUnit,
    LotLaw,
    NoLaw,
    PadsLost,
    SoundPad,
    lost_pads,
    lots_spread,
    outlooks,
    own_law,
    pooled_law,
)
from ratings.mechanics.standing import Standing
from ratings.mechanics.survival import Life, fit_weibull
from ratings.mechanics.unit_rating import (
    LotRate,
    Policy,
    Position,
    StaleRates,
    UnitInputs,
    rate_unit,
)

CODES = {Standing.MEETS_LISTING: 2, Standing.NOT_PROVEN: 1, Standing.BELOW_LISTING: 0}


def sure(scale: float, shape: float = 1.0, **more: object) -> LotLaw:
    """A law that nothing is in doubt of."""
    given: dict[str, object] = {"failed": 9, "pads": 40, "longest_hours": 1e6} | more
    return LotLaw(Basis.OWN, weibulls=((scale, shape),) * LAWS, **given)  # type: ignore[arg-type]


def rate(lot: str, lbf_in: float = 1_000.0) -> LotRate:
    return LotRate(lot, lbf_in, 10.0, 8.0, 1.0, 8.0, ())


def unit(
    lots: str = "LLLL", listed_lbf: float = 36_000.0, sound_hours: float = 0.0, **policy: object
) -> ForecastUnit:
    """A unit with a pad of each lot named on either side, at 6 in of travel."""
    positions = tuple(
        Position(side, number, "sound", lot)
        for side in "AB"
        for number, lot in enumerate(lots, start=1)
    )
    inputs = UnitInputs(
        positions,
        tuple(rate(lot) for lot in sorted(set(lots))),
        6.0,
        listed_lbf,
        Policy(**policy),  # type: ignore[arg-type]
    )
    pads = tuple(
        SoundPad(each.side, each.number, each.lot or "", each.lot or "", sound_hours, sound_hours)
        for each in positions
    )
    return ForecastUnit(inputs, inputs, pads)


def test_pads_lost_are_binomial_where_all_are_alike() -> None:
    # Eight pads, exponential with a mean of 1,000 h: each fails within 100 h with 1 − e^−0.1.
    (found,) = outlooks(unit(), {"L": sure(1_000.0)}, [Ahead(30, 100.0)])
    chance = 1.0 - math.exp(-0.1)
    assert found.lost is not None
    assert found.lost.expected == pytest.approx(8 * chance, abs=1e-12)
    passed, low, high = 0.0, None, None
    for number in range(9):
        passed += math.comb(8, number) * chance**number * (1 - chance) ** (8 - number)
        low = number if low is None and passed >= 0.05 else low
        high = number if high is None and passed >= 0.95 else high
    assert (found.lost.low, found.lost.high) == (low, high)


def test_a_pad_that_lasted_so_far_goes_on_from_there() -> None:
    # Weibull of shape 3 and scale 1,000 h: S(900)/S(800) = exp(0.512 − 0.729).
    (found,) = outlooks(unit(sound_hours=800.0), {"L": sure(1_000.0, 3.0)}, [Ahead(30, 100.0)])
    assert found.lost is not None
    assert found.lost.expected == pytest.approx(8 * (1 - math.exp(0.512 - 0.729)), rel=1e-12)


def test_hours_since_a_pad_was_last_seen_sound_count_too() -> None:
    seen_long_ago = unit()
    pads = tuple(replace(pad, hours=200.0) for pad in seen_long_ago.pads)
    (found,) = outlooks(replace(seen_long_ago, pads=pads), {"L": sure(1_000.0)}, [Ahead(0, 0.0)])
    assert found.lost is not None
    assert found.lost.expected == pytest.approx(8 * (1 - math.exp(-0.2)), rel=1e-12)


def test_chances_of_standings_are_those_of_every_way_to_lose_pads() -> None:
    ours = unit("LMM", listed_lbf=23_500.0)
    laws = {"L": sure(800.0, 1.4), "M": sure(600.0, 0.8)}
    ahead = Ahead(90, 150.0)
    (found,) = outlooks(ours, laws, [ahead])
    expected = dict.fromkeys(range(3), 0.0)
    fails = {
        lot: 1 - math.exp(-((150.0 / law.weibulls[0][0]) ** law.weibulls[0][1]))
        for lot, law in laws.items()
    }
    for lost in product((False, True), repeat=len(ours.pads)):
        chance, positions = 1.0, []
        for position, is_lost in zip(ours.inputs.positions, lost, strict=True):
            each = fails[position.lot or ""]
            chance *= each if is_lost else 1.0 - each
            positions.append(replace(position, condition="cracked" if is_lost else "sound"))
        rating = rate_unit(replace(ours.inputs, positions=tuple(positions)))
        expected[CODES[rating.standing]] += chance
    assert min(expected.values()) > 0.01
    assert found.meets == pytest.approx(expected[2], abs=1e-7)
    assert found.not_proven == pytest.approx(expected[1], abs=1e-7)
    assert found.below == pytest.approx(expected[0], abs=1e-7)


def test_doubt_of_the_law_is_common_to_all_pads_of_a_lot() -> None:
    # Half of the laws say that none fails, half that all do: never some.
    law = LotLaw(Basis.OWN, 9, 40, 1e6, weibulls=((1e9, 1.0), (1e-9, 1.0)) * (LAWS // 2))
    (found,) = outlooks(unit(), {"L": law}, [Ahead(30, 100.0)])
    assert found.lost is not None
    assert found.lost.expected == pytest.approx(4.0)
    assert (found.lost.low, found.lost.high) == (0, 8)
    assert (found.short_low, found.short_high) == pytest.approx((0.0, 1.0), abs=1e-5)


def test_a_rate_that_lapses_counts_on_where_the_policy_keeps_its_figure() -> None:
    fresh, lapsed = outlooks(
        unit(), {"L": sure(1e9)}, [Ahead(30, 10.0), Ahead(90, 10.0, lapsed=("L",))]
    )
    assert fresh.meets == pytest.approx(1.0)
    assert lapsed.meets == pytest.approx(1.0)


def test_a_rate_that_lapses_counts_nothing_where_the_policy_drops_it() -> None:
    ours = unit("LLMM", stale_rates=StaleRates.DROP.value)
    laws = {"L": sure(1e9), "M": sure(1e9)}
    (found,) = outlooks(ours, laws, [Ahead(90, 10.0, lapsed=("M",))])
    assert found.below == pytest.approx(1.0)


def test_an_agreeing_pull_tells_no_more_once_a_pad_is_lost() -> None:
    ours = unit(listed_lbf=36_000.0)
    softer = replace(ours.inputs, listed_lbf=60_000.0)
    (found,) = outlooks(replace(ours, once_lost=softer), {"L": sure(1_000.0)}, [Ahead(30, 20.0)])
    none_lost = math.exp(-0.02) ** 8
    assert found.meets == pytest.approx(none_lost, rel=1e-9)


def test_two_runs_give_the_same_digits() -> None:
    lives = [Life(100.0 + 20 * each, 160.0 + 20 * each) for each in range(12)] + [Life(300.0)] * 8
    first, second = (
        outlooks(unit(sound_hours=250.0), {"L": law}, [Ahead(90, 60.0)])
        for law in (own_law("L", lives), own_law("L", lives))
        if law is not None
    )
    assert first == second


def test_draws_of_a_law_have_its_spread() -> None:
    lives = [Life(100.0 + 20 * each, 160.0 + 20 * each) for each in range(12)] + [Life(300.0)] * 8
    law, fit = own_law("L", lives), fit_weibull(lives)
    assert law is not None
    assert fit is not None
    logs = [math.log(scale) for scale, _ in law.weibulls]
    mean = sum(logs) / LAWS
    assert mean == pytest.approx(math.log(fit.scale_hours), abs=0.003)
    spread = math.sqrt(sum((each - mean) ** 2 for each in logs) / LAWS)
    assert spread == pytest.approx(math.sqrt(fit.covariance[0][0]), rel=0.02)
    shapes = [math.log(shape) for _, shape in law.weibulls]
    both = sum((a - mean) * (b - math.log(fit.shape)) for a, b in zip(logs, shapes, strict=True))
    assert both / LAWS == pytest.approx(fit.covariance[0][1], abs=0.15 * fit.covariance[1][1])


def simulated(scale: float, shape: float, pads: int, seed: int, until: float = 300.0) -> list[Life]:
    """Pads looked at every 50 h until some hours."""
    rng = random.Random(seed)
    found = []
    for _ in range(pads):
        life = scale * (-math.log(rng.random())) ** (1.0 / shape)
        if life > until:
            found.append(Life(until))
        else:
            by = math.ceil(life / 50.0) * 50.0
            found.append(Life(by - 50.0, by))
    return found


def test_a_lot_with_too_few_failures_has_no_law_of_its_own() -> None:
    assert own_law("L", [Life(200.0)] * 30) is None
    assert own_law("L", [Life(100.0, 150.0), *[Life(200.0)] * 30]) is None


def test_a_lot_that_says_nothing_goes_by_the_others_and_is_widened() -> None:
    others = simulated(500.0, 2.0, 60, 1)
    law = pooled_law("NEW", {"OLD": others, "NEW": []})
    assert isinstance(law, LotLaw)
    assert (law.basis, law.pads) == (Basis.POOLED, 60)
    assert law.lot_spread == pytest.approx(LEAST_LOT_SPREAD)
    # From half to twice as long, 95 times in 100.
    assert math.exp(NormalDist().inv_cdf(0.975) * law.lot_spread) == pytest.approx(2.0)
    logs = [math.log(scale) for scale, _ in law.weibulls]
    mean = sum(logs) / LAWS
    own = own_law("OLD", others)
    assert own is not None
    own_logs = [math.log(scale) for scale, _ in own.weibulls]
    own_mean = sum(own_logs) / LAWS
    spread, own_spread = (
        math.sqrt(sum((each - middle) ** 2 for each in of) / LAWS)
        for of, middle in ((logs, mean), (own_logs, own_mean))
    )
    assert spread == pytest.approx(math.hypot(own_spread, LEAST_LOT_SPREAD), rel=0.03)


@pytest.mark.parametrize(
    ("own", "lasts_longer"), [([Life(400.0)] * 30, True), ([Life(0, 50)] * 4, False)]
)
def test_what_its_own_pads_show_moves_a_pooled_lot(own: list[Life], lasts_longer: bool) -> None:
    others = simulated(500.0, 2.0, 60, 1)
    blank = pooled_law("NEW", {"OLD": others})
    told = pooled_law("NEW", {"OLD": others, "NEW": own})
    assert isinstance(blank, LotLaw)
    assert isinstance(told, LotLaw)
    means = [sum(math.log(scale) for scale, _ in law.weibulls) for law in (blank, told)]
    assert (means[1] > means[0]) is lasts_longer


def test_with_hardly_a_failure_in_the_whole_yard_nothing_is_forecast() -> None:
    law = pooled_law("A", {"A": [Life(100.0, 150.0)], "B": [Life(300.0)] * 40})
    assert isinstance(law, NoLaw)
    assert "only 1 of 41 pads of all lots together failed" in law.why
    none = pooled_law("A", {"A": [Life(300.0)] * 4})
    assert isinstance(none, NoLaw)
    assert "none of 4 pads" in none.why
    (found,) = outlooks(unit(), {"L": law}, [Ahead(30, 10.0)])
    assert "only 1 of 41" in found.why_not
    assert found.lost is None


def test_of_few_failures_the_laws_are_as_likely_as_the_pads_make_them() -> None:
    # Three of forty known to the hour; the others sound at 300 h.
    lives = [Life(hours, hours) for hours in (120.0, 180.0, 260.0)] + [Life(300.0)] * 37
    law = pooled_law("A", {"A": lives})
    assert isinstance(law, LotLaw)
    assert (law.basis, law.failed) == (Basis.FEW, 3)
    # By quadrature over the same prior: shapes log-normal, 95 % from 1 to 4, scales flat on a log.
    spread = math.log(2.0) / NormalDist().inv_cdf(0.975)
    total, shared, shape_mean = 0.0, 0.0, 0.0
    for step in range(-300, 301):
        one = step / 100.0
        shape = 2.0 * math.exp(spread * one)
        worked = math.fsum(each.after_hours**shape for each in lives)
        # Over flat log scales the likelihood of exact lives integrates in closed form:
        # k^f · Π t^(k−1) · Γ(f) / (k · worked^f).
        log_weight = (
            -one * one / 2
            + 2 * math.log(shape)
            + (shape - 1) * sum(math.log(hours) for hours in (120.0, 180.0, 260.0))
            - 3 * math.log(worked)
        )
        weight = math.exp(log_weight + 60.0)
        total += weight
        shape_mean += weight * math.log(shape)
        # E[S(150)] under the gamma of scale^−k: (1 + 150^k / worked)^−f.
        shared += weight * (1.0 + 150.0**shape / worked) ** -3
    logs = [math.log(shape) for _, shape in law.weibulls]
    assert sum(logs) / LAWS == pytest.approx(shape_mean / total, abs=0.03)
    # The lots' spread is put on top: widened, the mean share moves little.
    assert float(law.shares([150.0]).mean()) == pytest.approx(shared / total, abs=0.015)


def test_lots_that_truly_differ_widen_more() -> None:
    scales = (150, 300, 600, 1200)
    lots = {f"L{each}": simulated(float(each), 2.0, 60, each, 2.0 * each) for each in scales}
    # Standard deviation of the logarithms of 150, 300, 600 and 1,200: 0.895.
    assert lots_spread(lots) == pytest.approx(0.895, rel=0.15)
    assert lots_spread({"L300": lots["L300"]}) == 0.0


def test_a_step_ends_where_no_pad_was_looked_at() -> None:
    # All failed between the same two looks and none outlasted them: no Weibull law is likeliest.
    law = own_law("L", [Life(100.0, 150.0)] * 6 + [Life(60.0)] * 3)
    assert law is not None
    assert law.basis is Basis.STEPS
    near, far = outlooks(unit(sound_hours=60.0), {"L": law}, [Ahead(30, 30.0), Ahead(90, 200.0)])
    assert near.why_not == ""
    assert "no pad of it was looked at beyond 100 h" in far.why_not
    assert far.lost is None


def test_steps_are_read_as_the_curve_has_them() -> None:
    from ratings.mechanics.survival import Curve, Method, Place

    places = (Place(0, 1, 1, 1), Place(100, 0.8, 0.8, 0.8), Place(300, 0.4, 0.4, 0.4))
    law = LotLaw(
        Basis.STEPS, 6, 12, 300.0, steps=Curve(Method.TURNBULL, places), tilts=(0.0,) * LAWS
    )
    (found,) = outlooks(unit(sound_hours=100.0), {"L": law}, [Ahead(30, 100.0)])
    assert found.lost is not None
    assert found.lost.expected == pytest.approx(8 * (1 - 0.6 / 0.8))


def test_pads_of_several_units_share_the_doubt_of_their_lot() -> None:
    law = LotLaw(Basis.OWN, 9, 40, 1e6, weibulls=((1e9, 1.0), (1e-9, 1.0)) * (LAWS // 2))
    pads = [(pad, 10.0) for pad in (*unit().pads, *unit().pads)]
    found = lost_pads(pads, {"L": law})
    assert isinstance(found, PadsLost)
    assert found.expected == pytest.approx(8.0)
    assert (found.low, found.high) == (0, 16)
    assert lost_pads([], {}) == PadsLost(0.0, 0, 0)
    assert lost_pads(pads, {"L": NoLaw("nobody knows")}) == "nobody knows"


@pytest.mark.parametrize("seed", range(12))
def test_more_hours_never_make_a_unit_likelier_to_meet_its_listing(seed: int) -> None:
    rng = random.Random(seed)
    ours = unit("LMLM", listed_lbf=rng.uniform(20_000, 46_000), sound_hours=rng.uniform(0, 400))
    laws = {lot: sure(rng.uniform(200, 2_000), rng.uniform(0.6, 4)) for lot in "LM"}
    found = outlooks(ours, laws, [Ahead(day, 40.0 * day) for day in range(6)])
    for earlier, later in pairwise(found):
        assert later.meets <= earlier.meets + 1e-9
        assert earlier.lost is not None
        assert later.lost is not None
        assert later.lost.expected >= earlier.lost.expected - 1e-12
    for each in found:
        assert each.meets + each.not_proven + each.below == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: SoundPad("A", 1, "L", "L", -1.0, 5.0), "sound_hours"),
        (lambda: SoundPad("A", 1, "L", "L", 5.0, 4.0), "a pad works no hours back"),
        (lambda: SoundPad("A", 1, "L", "L", math.nan, 4.0), "sound_hours"),
        (lambda: Ahead(-1, 5.0), "days is -1"),
        (lambda: Ahead(1, -5.0), "hours"),
        (lambda: outlooks(unit(), {}, [Ahead(1, 5.0)]), "laws lacks 'L'"),
        (
            lambda: outlooks(
                replace(unit(), pads=(SoundPad("A", 9, "L", "L", 0, 0),)),
                {"L": sure(100.0)},
                [Ahead(1, 5.0)],
            ),
            "pads has A9, which is not sound",
        ),
    ],
)
def test_what_cannot_be_is_refused(make: object, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        make()  # type: ignore[operator]
