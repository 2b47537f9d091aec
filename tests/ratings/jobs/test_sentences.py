"""What each check says: what is asked, what there is, what it means, what is missing."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from ratings.jobs.words import condition_sentence, short_condition, short_words
from ratings.mechanics.extraction.job import Crane, Pile, PileKind, PullMethod
from ratings.mechanics.extraction.outcomes import CheckKey, ConditionKey, ConditionState, Outcome
from ratings.mechanics.standing import Standing
from tests.ratings.jobs.plain_unit import JOB, UNIT, sentence, verdict

STILL = replace(JOB, method=PullMethod.STILL)


def test_line_pull_says_at_which_stretch() -> None:
    # 8,000 lbf/in × (6 − 4,400/13,650) in of stretch; 10,000 + 3,650 + 5,000 lbf to carry.
    assert sentence(CheckKey.LINE_PULL) == (
        "The pads must carry 18,700 lbf; they are good for 45,400 lbf at 5.68 in of stretch, half "
        "the amplitude short of the usable travel: 26,700 lbf to spare."
    )


def test_line_pull_of_a_still_pull_uses_all_the_travel() -> None:
    words = sentence(CheckKey.LINE_PULL, STILL)
    assert "good for 48,000 lbf at 6 in of stretch: " in words


def test_a_check_that_fails_says_what_would_happen() -> None:
    words = sentence(CheckKey.LINE_PULL, usable_travel_in=1.5)
    assert words.endswith("9,230 lbf short, and the housing would come to its stops.")


def test_an_amplitude_longer_than_the_travel_is_said_so() -> None:
    words = sentence(CheckKey.LINE_PULL, usable_travel_in=0.25)
    assert "half the amplitude takes all of the usable travel" in words


def test_a_check_inside_the_margin_says_so() -> None:
    job = replace(JOB, crane=Crane(26_000.0 / 0.75, 2000.0, 800.0))
    assert sentence(CheckKey.CRANE, job) == (
        "The crane must hold 25,500 lbf, hook block and all; a pull may use 26,000 lbf of its "
        "chart: 500 lbf to spare, inside the margin for care."
    )


def test_it_speaks_si() -> None:
    assert "The pads must carry 83 kN; they are good for 202 kN at 144 mm" in sentence(
        CheckKey.LINE_PULL, system="si"
    )


@pytest.mark.parametrize(
    ("key", "changes", "words"),
    [
        (
            CheckKey.CENTRIFUGAL,
            {"eccentric_moment_lb_in": None},
            "Eccentric moment of V-107 is not on record: enter it under Set-up.",
        ),
        (
            CheckKey.CENTRIFUGAL,
            {"eccentric_moment_lb_in": None, "frequency_vpm": None},
            "Eccentric moment and frequency of V-107 are not on record: enter them under Set-up.",
        ),
        (
            CheckKey.CRANE,
            {"housing_weight_lb": None},
            "Weight of housing S-07 is not on record: enter it under Set-up.",
        ),
        (
            CheckKey.CLAMP,
            {"clamp_force_lbf": None},
            "Clamp force of the clamp on V-107 is not on record: enter it under Clamps and power "
            "packs.",
        ),
        (
            CheckKey.LINE_PULL,
            {"usable_travel_in": None},
            "The unit is unrated: its page says why.",
        ),
    ],
)
def test_what_is_not_on_record_is_named_with_where_to_enter_it(
    key: CheckKey, changes: dict[str, Any], words: str
) -> None:
    assert sentence(key, **changes) == words


def test_a_blank_crane_capacity_says_where_to_read_it() -> None:
    job = replace(JOB, crane=Crane(None, 2000.0))
    assert "enter what its chart allows at this radius" in sentence(CheckKey.CRANE, job)


def test_timber_without_a_tension_limit_asks_for_one() -> None:
    job = replace(JOB, pile=Pile(PileKind.TIMBER, 40.0, 40.0, 50.0, 20.0))
    assert "enter a tension limit" in sentence(CheckKey.TENSION, job)


@pytest.mark.parametrize(
    ("key", "changes", "words"),
    [
        (ConditionKey.STANDING, {}, "The unit meets its listing."),
        (
            ConditionKey.STANDING,
            {"standing": Standing.BELOW_LISTING},
            "The unit is below its listing. By the yard’s rules it does not go out so.",
        ),
        (
            ConditionKey.INSPECTION,
            {"days_since_count": 40},
            "On the first day its last full count is 40 days old; 31 are allowed: overdue by 9 "
            "days.",
        ),
        (
            ConditionKey.INSPECTION,
            {"days_since_count": 24, "is_ahead": True},
            "When it is oldest its last full count is 24 days old; 31 are allowed.",
        ),
        (
            ConditionKey.INSPECTION,
            {"days_since_count": None},
            "The unit was never counted in full; a full count holds for 31 days.",
        ),
        (ConditionKey.SERVICE, {"out_of_service": "cracked lug."}, "Out of service: cracked lug."),
        (ConditionKey.RATING, {"stale_lots": ("A", "B")}, "The rates of lots A, B are stale."),
        (
            ConditionKey.INSPECTION,
            {"days_since_count": 20, "days_held": 14},
            "On the first day its last full count is 20 days old; 31 are allowed. On the last day "
            "it is 34 days old: count it again by then.",
        ),
        (
            ConditionKey.RATING,
            {"lapsing_lots": ("A",)},
            "The rate of lot A goes stale before the last day is over.",
        ),
        (
            ConditionKey.CLAMP_KIND,
            {"clamp_kinds": None},
            "Which piles its clamp holds is not on record: enter it before it goes.",
        ),
        (
            ConditionKey.CLAMP_KIND,
            {"clamp_kinds": ("pipe", "timber")},
            "Its clamp does not hold a pile of this kind; on record are: pipe, timber.",
        ),
        (
            ConditionKey.CALIBRATION,
            {"calibration_lapsing": ("LI-2",)},
            "Not calibrated on every day of the hold: LI-2. Have it calibrated, or choose another "
            "load indicator on the job.",
        ),
        (ConditionKey.DATES, {"committed": "Pier 4, 3 Dec 2026"}, "Held by Pier 4, 3 Dec 2026."),
        (ConditionKey.DISTANCE, {"distance_mi": 42.0}, "Its yard is 42 mi away."),
    ],
)
def test_a_condition_says_how_it_is(key: ConditionKey, changes: dict[str, Any], words: str) -> None:
    unit = replace(UNIT, **changes)
    found = verdict(**changes).condition(key)
    assert found is not None
    assert condition_sentence(found, unit, "us") == words


def test_every_check_has_a_sentence_whatever_is_missing() -> None:
    nothing: dict[str, Any] = {
        "groups": (),
        "usable_travel_in": None,
        "standing": Standing.UNRATED,
        "eccentric_moment_lb_in": None,
        "frequency_vpm": None,
        "exciter_weight_lb": None,
        "clamp_weight_lb": None,
        "clamp_force_lbf": None,
        "housing_weight_lb": None,
        "days_since_count": None,
    }
    blank = Crane()
    timber = Pile(PileKind.TIMBER, 40.0, 40.0, 50.0, 20.0)
    for job in (JOB, STILL, replace(JOB, crane=blank, pile=timber)):
        for check in verdict(job, **nothing).checks:
            words = sentence(check.key, job, **nothing)
            assert words.endswith(".")
            if check.outcome is Outcome.UNKNOWN:
                assert "not known" in words or "not on record" in words or ":" in words


def test_a_reason_in_few_words_names_what_is_wrong() -> None:
    told = verdict(days_since_count=99, standing=Standing.NOT_PROVEN, clamp_force_lbf=None)
    unit = replace(UNIT, standing=Standing.NOT_PROVEN)
    wrong = [each for each in told.checks if each.outcome is not Outcome.HOLDS]
    assert [short_words(each) for each in wrong] == [
        "clamp grip not known",
        "lifting it once free not known",
    ]
    unmet = [each for each in told.conditions if each.state is not ConditionState.HOLDS]
    assert [short_condition(each, unit) for each in unmet] == ["not proven", "inspection overdue"]
