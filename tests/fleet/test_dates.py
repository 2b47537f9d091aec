from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from pytest_django import Settings

from fleet.dates import day_count_words, day_words, days_words, moment_words


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [
        (date(2026, 12, 3), date(2026, 12, 3), "3 Dec 2026"),
        (date(2026, 12, 3), date(2026, 12, 5), "3–5 Dec 2026"),
        (date(2026, 11, 29), date(2026, 12, 1), "29 Nov – 1 Dec 2026"),
        (date(2026, 12, 30), date(2027, 1, 2), "30 Dec 2026 – 2 Jan 2027"),
    ],
)
def test_days_are_said_as_people_say_them(first: date, last: date, words: str) -> None:
    assert days_words(first, last) == words


def test_a_moment_is_written_by_the_yards_clock_and_never_in_utc(settings: Settings) -> None:
    settings.TIME_ZONE = "America/Chicago"
    at = datetime(2026, 3, 3, 4, 5, tzinfo=UTC)
    assert moment_words(at) == "2 Mar 2026 22:05"
    assert day_words(at) == "2 Mar 2026"


def test_a_number_of_days_is_one_day_or_several() -> None:
    assert [day_count_words(days) for days in (0, 1, 2)] == ["0 days", "1 day", "2 days"]
