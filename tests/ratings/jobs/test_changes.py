"""What changed since a person last saw the answer, read from what the page sends back."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.jobs.changes import MOST_KEPT, Seen, change_words, news, read, written

GOOD = Seen(1, "suitable", "rigging", "1.42×")


def test_what_was_seen_comes_back_as_it_was() -> None:
    seen = {7: GOOD, 9: Seen(2, "not suitable", "service", "–")}
    assert read(written({}, seen)) == seen


def test_what_was_seen_on_another_page_is_kept() -> None:
    later = Seen(26, "cannot be judged", "clamp grip", "–")
    assert read(written({7: later, 8: later}, {7: GOOD})) == {7: GOOD, 8: later}


def test_no_more_is_kept_than_there_is_room_for() -> None:
    before = dict.fromkeys(range(MOST_KEPT + 50), GOOD)
    assert len(read(written(before, {9999: GOOD}))) == MOST_KEPT


@pytest.mark.parametrize(
    "sent",
    [
        "",
        "nonsense",
        "[]",
        "1",
        '"x"',
        '{"a": [1, "x", "y", "z"]}',
        '{"1": 5}',
        '{"1": [1, 2]}',
        '{"1": [Infinity, "x", "y", "z"]}',
        '{"1": [null, "x", "y", "z"]}',
        "[" * 100_000,
    ],
)
def test_what_is_not_of_our_making_counts_for_nothing(sent: str) -> None:
    assert read(sent) == {}


@given(st.text())
def test_any_text_can_be_read(sent: str) -> None:
    read(sent)


def test_a_change_says_how_it_was() -> None:
    assert change_words(GOOD, Seen(1, "suitable", "rigging", "1.37×")) == (
        "was: suitable, rigging 1.42×"
    )
    assert change_words(GOOD, Seen(3, "suitable", "rigging", "1.42×")) == "was number 1"
    assert change_words(GOOD, GOOD) == ""
    assert change_words(None, GOOD) == ""


def test_the_news_put_a_changed_verdict_first() -> None:
    worse = Seen(4, "not suitable", "rigging", "0.90×")
    less = Seen(1, "suitable", "rigging", "1.37×")
    assert news([("S-1", GOOD, less), ("S-2", GOOD, worse)], was_seen=True) == (
        "2 units changed: S-2 not suitable, was suitable; S-1 1.37×, was 1.42×."
    )


def test_the_news_name_no_more_than_three() -> None:
    less = Seen(1, "suitable", "clamp grip", "1.37×")
    changed = [(f"S-{each}", GOOD, less) for each in range(5)]
    assert news(changed, was_seen=True).endswith("; and 2 more.")


def test_no_change_is_news_only_where_something_was_seen() -> None:
    assert news([], was_seen=True) == "No unit changed."
    assert news([], was_seen=False) == ""
