"""From a record to what the mechanics take."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from ratings.by_name import made_by_name
from ratings.models import SoilLayer


@dataclass(frozen=True)
class Stretch:
    top_ft: float
    bottom_ft: float
    kind: str = "sand"


def test_columns_of_the_same_names_are_taken_and_others_as_given() -> None:
    row = SoilLayer(top_ft=1.0, bottom_ft=4.0, kind="cohesive")

    assert made_by_name(Stretch, row, kind="clay") == Stretch(1.0, 4.0, "clay")


def test_a_field_without_a_column_or_a_value_is_no_silent_default() -> None:
    @dataclass(frozen=True)
    class Deeper(Stretch):
        pitch: float = 0.0

    with pytest.raises(AttributeError, match="pitch"):
        made_by_name(Deeper, SoilLayer(top_ft=1.0, bottom_ft=4.0))
