from __future__ import annotations

from django.conf import settings
from django.db import models

from fleet import clock
from fleet.characters import check_name


class SoilTemplate(models.Model):
    """A soil profile the yard kept to start other jobs from.

    layers: as ratings.mechanics.soil.Layer writes them, from the ground down.
    """

    name = models.CharField(max_length=80, unique=True, validators=[check_name])
    water_depth_ft = models.FloatField(null=True, blank=True)
    layers = models.JSONField()
    note = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField(default=clock.now, editable=False)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name
