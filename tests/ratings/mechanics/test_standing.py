"""Standing against a listing: a guarded decision."""

from __future__ import annotations

import pytest

from ratings.mechanics.standing import Standing, judge

LISTED = 20_000.0


@pytest.mark.parametrize(
    ("pull", "capacity", "standing"),
    [
        pytest.param(25_000.0, 22_000.0, Standing.MEETS_LISTING, id="well above"),
        pytest.param(25_000.0, 20_000.0, Standing.MEETS_LISTING, id="capacity at the listing"),
        pytest.param(20_000.0, 20_000.0, Standing.MEETS_LISTING, id="both at the listing"),
        pytest.param(25_000.0, 19_999.999, Standing.NOT_PROVEN, id="capacity a hair short"),
        pytest.param(20_000.0, 19_000.0, Standing.NOT_PROVEN, id="pull at the listing"),
        pytest.param(19_999.999, 19_000.0, Standing.BELOW_LISTING, id="pull a hair short"),
        pytest.param(0.0, 0.0, Standing.BELOW_LISTING, id="nothing at all"),
    ],
)
def test_each_rule_holds_up_to_its_edge(pull: float, capacity: float, standing: Standing) -> None:
    assert judge(pull, capacity, LISTED) is standing


@pytest.mark.parametrize(
    "figures", [(None, 1.0, 1.0), (1.0, None, 1.0), (1.0, 1.0, None), (None, None, None)]
)
def test_any_missing_figure_leaves_a_unit_unrated(figures: tuple[float | None, ...]) -> None:
    assert judge(*figures) is Standing.UNRATED


def test_a_capacity_above_the_pull_is_refused() -> None:
    with pytest.raises(ValueError, match=r"working_capacity_lbf is 101: .*pull of 100 lbf"):
        judge(100.0, 101.0, 50.0)


@pytest.mark.parametrize(
    ("standing", "flagged"),
    [
        (Standing.MEETS_LISTING, False),
        (Standing.NOT_PROVEN, True),
        (Standing.BELOW_LISTING, True),
        (Standing.UNRATED, True),
    ],
)
def test_everything_but_meets_listing_is_flagged(standing: Standing, flagged: bool) -> None:
    assert standing.is_flagged is flagged


def test_standings_are_written_in_the_words_of_the_trade() -> None:
    assert [standing.value for standing in Standing] == [
        "meets listing",
        "not proven",
        "below listing",
        "unrated",
    ]
