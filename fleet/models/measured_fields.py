"""Model fields of measured numbers: each declared once, with all that people are told of it.

A form, a column of the register and the phone take its name, unit, bounds, example
and help from here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.core.exceptions import ValidationError
from django.db import models
from django.utils.text import capfirst

from fleet.fields import MeasuredField as MeasuredFormField
from fleet.fields import NumberField, is_within, out_of_bounds
from fleet.numbers import Decimals, NotANumber, check_bounds, quoted, read_number
from fleet.quantities import Measured as MeasuredValue
from fleet.quantities import Quantity, plain_number

if TYPE_CHECKING:
    Base = models.Field[Any, Any]
else:
    Base = object


class Measured(Base):
    """What every measured number has: a quantity, or None for a bare number, and its bounds.

    `least` and `most` are in the unit it is stored in; `above_least` leaves `least` itself out.
    `example` is what a message offers somebody who typed what cannot be read. A number that may
    be null may be left blank.
    """

    plain_field: type[models.Field[Any, Any]]
    is_whole = False

    def __init__(
        self,
        verbose_name: str | None = None,
        *,
        quantity: Quantity | None = None,
        least: float,
        most: float,
        above_least: bool = False,
        example: str,
        **kwargs: Any,
    ) -> None:
        self.quantity, self.least, self.most = quantity, least, most
        self.above_least, self.example = above_least, example
        if kwargs.get("null"):
            kwargs.setdefault("blank", True)
        super().__init__(verbose_name, **kwargs)

    def deconstruct(self) -> Any:
        """Return what a migration keeps: the plain column, since words change no database."""
        name, _, args, kwargs = super().deconstruct()
        for words in ("verbose_name", "help_text", "blank"):
            kwargs.pop(words, None)
        return name, f"django.db.models.{self.plain_field.__name__}", args, kwargs

    def clone(self) -> Any:
        """Return the plain column, which is all that a migration's state of a model needs."""
        _, _, args, kwargs = self.deconstruct()
        return self.plain_field(*args, **kwargs)

    def formfield(self, **kwargs: Any) -> Any:
        """Return the field that reads this number as people type it."""
        given: dict[str, Any] = {
            "label": capfirst(str(self.verbose_name)),
            "help_text": self.help_text,
            "required": not self.blank,
            "least": self.least,
            "most": self.most,
            "above_least": self.above_least,
            "example": self.example,
        }
        if self.has_default():
            given["initial"] = self.get_default()
        if self.quantity is None:
            return NumberField(**{**given, "whole": self.is_whole, **kwargs})
        return MeasuredFormField(self.quantity, **{**given, **kwargs})

    def read(self, text: str, decimals: Decimals = Decimals.POINT) -> float:
        """Return the number in a table's cell, in the unit it is stored in. Raises NotANumber."""
        least, most = self.least, self.most
        number = read_number(
            text, self.example, least=least, most=most, whole=self.is_whole, decimals=decimals
        )
        check_bounds(text, number, least, most, above_least=self.above_least)
        if not self.is_whole:
            return number
        if number != int(number):
            raise NotANumber(f"{quoted(text)} is not a whole number")
        return int(number)

    def validate(self, value: Any, model_instance: models.Model | None) -> None:
        """Hold a record that is checked to the bounds as well. Raises ValidationError."""
        super().validate(value, model_instance)
        if trouble := self.trouble_with(value):
            raise trouble

    def refuse_out_of_bounds(self, number: float | None) -> None:
        """Raise ValidationError, under this field's name, for a number beyond its bounds."""
        if trouble := self.trouble_with(number):
            raise ValidationError({self.name: trouble})

    def trouble_with(self, number: float | None) -> ValidationError | None:
        """Return the refusal of a number beyond the bounds, None where it may be.

        `words_by_field` writes it in the reader's system.
        """
        least, most, above_least = self.least, self.most, self.above_least
        if number is None or is_within(number, least, most, above_least=above_least):
            return None
        if self.quantity is None:
            given, *bounds = (plain_number(each, 4) for each in (number, least, most))
            return out_of_bounds(given, *bounds, above_least=above_least)
        return out_of_bounds(
            MeasuredValue(self.quantity, number, decimals=3),
            MeasuredValue(self.quantity, least),
            MeasuredValue(self.quantity, most),
            above_least=above_least,
        )


class MeasuredField(Measured, models.FloatField):  # type: ignore[type-arg]  # takes none at run time
    """A measured number with decimals."""

    plain_field = models.FloatField


class CountField(Measured, models.PositiveSmallIntegerField):  # type: ignore[type-arg]  # takes none at run time
    """A number of things: whole, none of them negative."""

    plain_field = models.PositiveSmallIntegerField
    is_whole = True


class LargeCountField(Measured, models.PositiveIntegerField):  # type: ignore[type-arg]  # takes none at run time
    """A number of things that may be beyond what a CountField has room for, 32,767."""

    plain_field = models.PositiveIntegerField
    is_whole = True


class ChangeField(Measured, models.IntegerField):  # type: ignore[type-arg]  # takes none at run time
    """By how many things something changed: whole, negative where they became fewer."""

    plain_field = models.IntegerField
    is_whole = True


def measured_field(model: type[models.Model], name: str) -> Measured:
    """Return the field of a measured number, for its bounds and its words."""
    field = model._meta.get_field(name)
    assert isinstance(field, Measured), f"{name} of {model.__name__} is not declared as measured"
    return field
