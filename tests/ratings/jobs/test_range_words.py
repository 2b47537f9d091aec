"""Whether a verdict holds over the ground's range, and where it turns."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from ratings.jobs.words import range_sentence, range_words
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.job import Crane
from ratings.mechanics.extraction.outcomes import Verdict
from ratings.mechanics.extraction.rules import ExtractionPolicy
from tests.ratings.jobs.plain_unit import JOB, verdict

# The ground holds with 5,000 lbf while vibrated, 3,500 to 7,500 over its range.
HELD = ground(JOB, ExtractionPolicy())


def told(capacity_lbf: float | None = 120_000.0, **changes: Any) -> tuple[str, str]:
    """In a line and in full, by a crane of which a pull may use this: 20,450 lbf hang besides."""
    chart_lbf = None if capacity_lbf is None else capacity_lbf / 0.75
    job = replace(JOB, crane=Crane(chart_lbf, 2000.0, 800.0, 100_000.0))
    found = verdict(job, **changes)
    return range_words(found, HELD.high_lbf, "us"), range_sentence(
        found, HELD.low_lbf, HELD.high_lbf, "us"
    )


def test_the_range_is_that_of_the_example() -> None:
    assert (HELD.low_lbf, HELD.resistance_lbf, HELD.high_lbf) == (3500.0, 5000.0, 7500.0)


def test_a_verdict_that_holds_says_where_it_turns() -> None:
    short, full = told(45_000.0)
    # 45,000 − 20,450 lbf of ground before the crane is full; /1.25 − 20,450 with the margin.
    assert short == (
        "Holds over the range of the ground; turns not suitable above 24,500 lbf of ground "
        "resistance."
    )
    assert full == (
        "Suitable over the whole of the ground’s range, 3,500 lbf to 7,500 lbf. Its forces hold "
        "with the margin needed up to 15,500 lbf of ground resistance; it turns not suitable "
        "above 24,500 lbf of ground resistance."
    )


def test_one_that_turns_within_the_range_says_so() -> None:
    short, full = told(27_000.0)
    assert short == (
        "Turns not suitable above 6,550 lbf of ground resistance, and the range goes to 7,500 lbf."
    )
    assert "with care at 3,500 lbf of resistance, not suitable at 7,500 lbf" in full


def test_one_that_turns_to_care_says_so() -> None:
    short, _full = told(32_500.0)
    assert short.startswith("Turns suitable only with care above 5,550 lbf of ground resistance")


def test_one_not_suitable_says_what_its_forces_hold() -> None:
    short, full = told(23_000.0)
    assert short == "Its forces hold up to 2,550 lbf of ground resistance."
    assert full.startswith("Not suitable over the whole of the ground’s range")


def test_one_too_weak_for_the_weights_alone_says_so() -> None:
    short, _full = told(15_000.0)
    assert short == "Its forces fall short even without the ground’s hold."


def test_one_that_cannot_be_judged_speaks_of_what_is_known_only() -> None:
    short, full = told(None)
    assert short.startswith("By the checks that can be calculated: its forces hold up to")
    assert full.startswith("Cannot be judged over the whole of the ground’s range")


def test_nothing_is_said_of_a_turn_where_no_force_is_known() -> None:
    job = replace(JOB, crane=Crane())
    found = verdict(
        job,
        exciter_weight_lb=None,
        frequency_vpm=None,
        eccentric_moment_lb_in=None,
        clamp_force_lbf=None,
    )
    assert found.verdict is Verdict.CANNOT_BE_JUDGED
    assert found.flip_lbf is None
    assert range_words(found, HELD.high_lbf, "us") == "Holds over the range of the ground."
