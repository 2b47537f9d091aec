from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.characters import check_name
from fleet.models.recorded import RecordedBy


class PileKind(models.TextChoices):
    """What a pile is; the words are those of the mechanics."""

    SHEET_PAIR = "sheet pair", "sheet pair"
    H = "H", "H-pile"
    PIPE = "pipe", "pipe"
    TIMBER = "timber", "timber"
    CONCRETE = "concrete", "concrete"


class PileSection(RecordedBy):
    """A section the yard added to the table of generic shapes."""

    name = models.CharField(max_length=80, unique=True, validators=[check_name])
    kind = models.CharField(max_length=10, choices=PileKind)
    area_in2 = models.FloatField()
    weight_lb_ft = models.FloatField()
    perimeter_in = models.FloatField()
    plug_area_in2 = models.FloatField(default=0.0, help_text="Of the soil within, where plugged.")
    source = models.CharField(max_length=160)

    class Meta:
        ordering = ["kind", "name"]
        constraints = [
            models.CheckConstraint(
                name="pile_section_in_range",
                condition=Q(
                    kind__in=PileKind.values,
                    area_in2__gt=0,
                    weight_lb_ft__gt=0,
                    perimeter_in__gt=0,
                    plug_area_in2__gte=0,
                ),
            ),
        ]

    def __str__(self) -> str:
        return self.name
