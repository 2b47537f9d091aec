from __future__ import annotations

from typing import Any

from django.core.validators import RegexValidator
from django.db import models
from django.db.models import UniqueConstraint
from django.db.models.functions import Lower

from fleet.characters import check_name
from fleet.models.retirable import Retirable


def named_once(field: str, name: str) -> UniqueConstraint:
    """Refuse two marks or names that differ in small and capital letters alone."""
    return UniqueConstraint(
        Lower(field),
        name=name,
        violation_error_message="This one is on record already, in other small or capital letters: "
        "give it one of its own.",
    )


# The code of a currency, as ISO 4217 writes it.
CURRENCY = RegexValidator(
    r"\A[A-Z]{3}\Z", "This is not the code of a currency: give its three letters, such as USD."
)


def currency_field(**more: Any) -> Any:
    """Return the field of a currency; blank where none is said."""
    return models.CharField("currency", max_length=3, blank=True, validators=[CURRENCY], **more)


class Yard(Retirable):
    """A place where hammers, housings and pads are kept."""

    name = models.CharField(max_length=80, unique=True, validators=[check_name])
    place = models.CharField(max_length=120, blank=True)
    currency = currency_field(
        default="",
        help_text="What its repairs are paid in, by its three letters, such as USD or EUR.",
    )

    class Meta:
        ordering = ["name"]
        constraints = [named_once("name", "yard_named_once")]
        permissions = [
            ("read_records", "Can read every page"),
            ("keep_records", "Can keep records: inspect, replace, test, list"),
            ("plan_jobs", "Can plan extractions and commit units"),
        ]

    def __str__(self) -> str:
        return self.name
