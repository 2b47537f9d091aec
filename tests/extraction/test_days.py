from __future__ import annotations

from datetime import date

import pytest

from ratings.extraction.days import days_words


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
