from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.jobs.stops import cut_words, on_the_tape_in, tape_words


@pytest.mark.parametrize(
    ("stretch_in", "words"),
    [
        (5.6875, "5 11/16 in"),
        (5.7, "5 11/16 in"),
        (6.0, "6 in"),
        (0.5, "1/2 in"),
        (0.01, "0 in"),
        # Held a hair short of what was meant.
        (5.6874999999999, "5 11/16 in"),
    ],
)
def test_a_stretch_is_cut_down_to_what_a_tape_shows(stretch_in: float, words: str) -> None:
    assert cut_words(stretch_in, "us") == words


def test_millimetres_are_cut_down_too() -> None:
    assert tape_words(on_the_tape_in(143.9 / 25.4, "si"), "si") == "143 mm"


@given(stretch_in=st.floats(0.0, 36.0), system=st.sampled_from(["us", "si"]))
def test_it_never_shows_more_than_there_is(stretch_in: float, system: str) -> None:
    division_in = 0.0625 if system == "us" else 1 / 25.4
    cut = on_the_tape_in(stretch_in, system)
    assert cut <= stretch_in + 1e-9
    assert stretch_in - cut < division_in + 1e-9
