from __future__ import annotations

from django.db import models

from fleet.models.recorded import RecordedBy


class KeptPicture(RecordedBy):
    """A picture kept whole: the sum that proves it unchanged, and its size in pixels.

    Where it is kept differs, so each names its own `file`.
    """

    sha256 = models.CharField(max_length=64, help_text="Of the file as kept.")
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()

    class Meta:
        abstract = True
