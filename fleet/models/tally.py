from __future__ import annotations

from django.db import models


class Tally(models.Model):
    """How often something came within a while: no fact, and gone once that while is over.

    In the database, since several processes serve one site, and none knows what the others counted.
    """

    key = models.CharField(
        max_length=64, unique=True, help_text="Of what, as a keyed hash: no address, no name."
    )
    times = models.PositiveIntegerField(default=0)
    until = models.DateTimeField(db_index=True, help_text="When it counts no more.")

    def __str__(self) -> str:
        return f"{self.times} times"
