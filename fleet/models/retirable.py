from __future__ import annotations

from datetime import date

from django.db import models


class Retirable(models.Model):
    """Something the yard owns that is never deleted: out of use from a day on, for a reason.

    The reason stands in the SetUpChange that set the day. Facts of before go on resting on it.
    """

    retired_on = models.DateField("out of use since", null=True, blank=True, editable=False)

    class Meta:
        abstract = True

    def is_in_use_on(self, day: date) -> bool:
        """Whether it was in use on a day."""
        return self.retired_on is None or day < self.retired_on
