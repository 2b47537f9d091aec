"""Measured numbers declared on a model: what forms, migrations and callers have of them."""

from __future__ import annotations

import math

import pytest
from django.core.exceptions import ValidationError

from fleet.fields import MeasuredField as MeasuredFormField
from fleet.models.measured import CountField, MeasuredField
from fleet.units import Quantity


def travel() -> MeasuredField:
    field = MeasuredField(
        "travel",
        quantity=Quantity.LENGTH,
        least=0.1,
        most=36,
        example="5.5",
        help_text="Taped from rest.",
        null=True,
    )
    field.set_attributes_from_name("travel_in")
    return field


def test_a_form_field_has_label_bounds_and_help_of_the_model_s() -> None:
    field = travel().formfield()

    assert isinstance(field, MeasuredFormField)
    assert (field.label, field.help_text, field.required) == ("Travel", "Taped from rest.", False)
    assert (field.least, field.most, field.example) == (0.1, 36, "5.5")


def test_a_migration_keeps_the_plain_column_alone() -> None:
    name, path, args, kwargs = travel().deconstruct()

    assert (name, path, args) == ("travel_in", "django.db.models.FloatField", [])
    assert kwargs == {"null": True}


@pytest.mark.parametrize("wrong_in", [0.0, 36.5, -1.0, math.nan, math.inf])
def test_a_number_beyond_its_bounds_is_refused_under_its_name(wrong_in: float) -> None:
    with pytest.raises(ValidationError) as refused:
        travel().refuse_out_of_bounds(wrong_in)

    assert "0.1 in or more, up to 36 in" in refused.value.message_dict["travel_in"][0]


def test_a_refusal_speaks_the_reader_s_units() -> None:
    with pytest.raises(ValidationError, match="up to 914 mm"):
        travel().refuse_out_of_bounds(40, "si")


@pytest.mark.parametrize("right_in", [0.1, 36, None])
def test_a_number_on_its_bounds_and_none_are_taken(right_in: float | None) -> None:
    assert travel().refuse_out_of_bounds(right_in) is None


def test_a_number_of_things_is_asked_for_whole() -> None:
    field = CountField("pads", least=1, most=40, example="2", default=2).formfield()

    assert (field.whole, field.initial, field.clean("3")) == (True, 2, 3)
    with pytest.raises(ValidationError, match="not a whole number"):
        field.clean("2.5")
