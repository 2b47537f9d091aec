from __future__ import annotations

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


class Yard(Retirable):
    """A place where hammers, housings and pads are kept."""

    name = models.CharField(max_length=80, unique=True, validators=[check_name])
    place = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [named_once("name", "yard_named_once")]
        permissions = [
            ("keep_records", "Can keep records: inspect, replace, test, list"),
            ("plan_jobs", "Can plan extractions and commit units"),
        ]

    def __str__(self) -> str:
        return self.name
