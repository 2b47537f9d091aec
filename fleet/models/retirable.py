from __future__ import annotations

from datetime import date

from django.core.exceptions import ValidationError
from django.db import models

from fleet.dates import day_words


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


def refuse_out_of_use(day: date, **records: Retirable | None) -> None:
    """Refuse what was out of use on a day. Raises ValidationError by the names given."""
    errors = {
        name: f"{record} is out of use since {day_words(record.retired_on)}: choose another, or "
        "give a day before that."
        for name, record in records.items()
        if record is not None and record.retired_on is not None and record.retired_on <= day
    }
    if errors:
        raise ValidationError(errors)
