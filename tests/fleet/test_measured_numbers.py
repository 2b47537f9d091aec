"""Measured numbers declared on a model: what forms, migrations and callers have of them."""

from __future__ import annotations

import math

import pytest
from django.core.exceptions import ValidationError

from fleet.fields import FactForm, MeasuredModelForm, field_of, words_by_field
from fleet.fields import MeasuredField as MeasuredFormField
from fleet.models import HourReading, SuppressorHousing
from fleet.models.measured_fields import CountField, LargeCountField, MeasuredField
from fleet.quantities import Quantity


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
    with pytest.raises(ValidationError) as refused:
        travel().refuse_out_of_bounds(40)

    words = words_by_field(refused.value, "si")["travel_in"]
    assert words == ["1,016 mm won’t do: give 3 mm or more, up to 914 mm."]


@pytest.mark.parametrize("right_in", [0.1, 36, None])
def test_a_number_on_its_bounds_and_none_are_taken(right_in: float | None) -> None:
    try:
        travel().refuse_out_of_bounds(right_in)
        refusal = ""
    except ValidationError as trouble:
        refusal = str(trouble)
    assert refusal == ""


def test_a_number_of_things_is_asked_for_whole() -> None:
    field = CountField("pads", least=1, most=40, example="2", default=2).formfield()

    assert (field.whole, field.initial, field.clean("3")) == (True, 2, 3)
    with pytest.raises(ValidationError, match="not a whole number"):
        field.clean("2.5")


def test_a_record_that_is_checked_is_held_to_the_bounds_of_its_fields() -> None:
    with pytest.raises(ValidationError) as refused:
        HourReading(hours=1_000_001).clean_fields()

    assert refused.value.message_dict["hours"] == [
        "1,000,001 won’t do: give 0 or more, up to 1,000,000."
    ]


class WeightForm(MeasuredModelForm):
    class Meta:
        model = SuppressorHousing
        fields = ["weight_lb"]


@pytest.mark.django_db
def test_a_form_of_a_record_reads_and_shows_in_the_reader_s_system() -> None:
    form = WeightForm({"weight_lb": "1000"}, system="si")

    assert form.is_valid()
    assert form.cleaned_data["weight_lb"] == pytest.approx(2204.62, abs=0.01)


@pytest.mark.django_db
def test_a_number_that_comes_back_as_it_was_shown_keeps_every_digit() -> None:
    housing = SuppressorHousing(weight_lb=4000 / 3)
    shown = WeightForm(instance=housing, system="si")["weight_lb"].value()

    form = WeightForm({"weight_lb": shown}, instance=housing, system="si")

    assert form.is_valid()
    assert (form.cleaned_data["weight_lb"], form.changed_data) == (4000 / 3, [])


class HoursForm(FactForm):
    class Meta:
        model = HourReading
        fields = ["hours"]


def test_a_form_of_a_fact_has_its_model_s_fields_and_an_id_of_its_own() -> None:
    form = HoursForm()

    assert (form["hours"].label, list(form.fields)) == ("Hour meter", ["hours", "submission_id"])
    assert form["submission_id"].value()


def test_a_form_of_a_fact_fills_no_record() -> None:
    blank = HoursForm()
    form = HoursForm({"submission_id": str(blank["submission_id"].value()), "hours": "12.5"})

    assert form.is_valid()
    assert (form.cleaned_data["hours"], form.instance.hours) == (12.5, None)


def test_one_field_of_a_model_may_stand_in_a_form_of_another_shape() -> None:
    field = field_of(SuppressorHousing, "design_travel_in", required=False)

    assert (field.label, field.required, field.most) == ("Design travel", False, 36)


def test_a_large_number_of_things_keeps_its_plain_column() -> None:
    field = LargeCountField("days", least=1, most=36_500, example="730")

    assert field.deconstruct()[1:] == ("django.db.models.PositiveIntegerField", [], {})
    assert field.formfield().clean("36500") == 36_500


def test_a_stored_number_without_a_unit_is_shown_with_no_needless_digits() -> None:
    field = MeasuredField("angle, degrees", least=30, most=90, example="60").formfield()

    assert [field.prepare_value(each) for each in (90.0, 0.1 + 0.2)] == ["90", "0.3"]
