from __future__ import annotations

from django.db import models

from fleet.characters import check_name
from fleet.models.recorded import RecordedBy


class SoilTemplate(RecordedBy):
    """A soil profile the yard kept to start other jobs from.

    layers: as ratings.mechanics.soil.Layer writes them, from the ground down.
    """

    name = models.CharField(max_length=80, unique=True, validators=[check_name])
    water_depth_ft = models.FloatField(null=True, blank=True)
    layers = models.JSONField()
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name
