from __future__ import annotations

from django.db import models

from fleet.models.recorded import Recorded


class TakenImport(Recorded):
    """A sheet or register that was taken in, and what each row of it became. Never edited.

    rows: of each where it stood, its table, "new" or "on record", what it is of, and the record by
    its model and key, such as ["inspections.inspection", 12]; none where it has no page.
    """

    name = models.CharField("what it was called", max_length=160)
    is_sheet = models.BooleanField("a yard’s own sheet", default=False)
    rows = models.JSONField()

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.name}, taken in"
