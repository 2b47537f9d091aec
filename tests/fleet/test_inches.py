from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError

from fleet.fields import MeasuredField, read_inches
from fleet.quantities import Quantity


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("5.5", 5.5),
        ("5 1/2", 5.5),
        ("5-3/8", 5.375),
        ('6 1/16"', 6.0625),
        ("7/8 in", 0.875),
        ("6″", 6.0),
    ],
)
def test_inches_are_read_as_a_tape_has_them(text: str, inches: float) -> None:
    assert read_inches(text, "5.5") == inches


@pytest.mark.parametrize("text", ["5 1/0", "1/2/3", "five", "5'6", "½"])
def test_what_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(ValidationError, match="is not a number"):
        read_inches(text, "5.5")


def test_millimetres_are_read_as_numbers_alone() -> None:
    field = MeasuredField(Quantity.LENGTH, least=0.1, most=36, example="5.5")
    field.system = "si"
    assert field.clean("127") == pytest.approx(5.0)
    with pytest.raises(ValidationError):
        field.clean("5 1/2")


def test_a_bore_is_read_as_a_tape_or_a_drawing_has_it() -> None:
    bore = MeasuredField(Quantity.DIAMETER, least=0.25, most=24, example="3.5")
    assert [bore.clean(each) for each in ("4 3/4", '4-3/4"', "4.75")] == [4.75, 4.75, 4.75]
