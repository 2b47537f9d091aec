"""Put a reading of hours right, by two people where the policy asks: what is due rests on it."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction
from django.urls import reverse

from fleet.dates import moment_words
from fleet.hours import put_reading
from fleet.models import HourReading
from fleet.models.machine import sort_of
from fleet.outages import named
from fleet.people.yards import in_yard_of
from fleet.quantities import plain_number
from ratings.models import What
from ratings.proposals.acts import (
    Act,
    Arguments,
    asks_where_it_corrects,
    second_person,
    stand_words,
)
from ratings.proposals.telling import FINEST, beside


def _hours_words(hours: float) -> str:
    return f"{plain_number(hours, FINEST)} h"


def _facts(given: Arguments) -> dict[str, str]:
    wrong = given["corrects"]
    whose = HourReading.objects.filter(hammer=wrong.hammer, power_pack=wrong.power_pack)
    newest = whose.order_by("pk").last()
    return {
        f"reading {wrong.pk}": stand_words(HourReading, wrong),
        f"the newest reading of {named(wrong.machine)}": f"reading {newest.pk}" if newest else "",
    }


def _details(given: Arguments, system: str) -> list[tuple[str, str]]:
    wrong = given["corrects"]
    return [
        ("Machine", named(wrong.machine)),
        ("Corrects", f"reading {wrong.pk}"),
        ("Hours", beside(_hours_words(given["hours"]), _hours_words(wrong.hours))),
        ("Read at", beside(moment_words(given["read_at"]), moment_words(wrong.read_at))),
    ]


HOURS_ACT = Act(
    What.HOURS,
    asks=asks_where_it_corrects,
    title=lambda given: (
        f"Correction of the {_hours_words(given['corrects'].hours)} of "
        f"{named(given['corrects'].machine)}"
    ),
    about=lambda given: given["corrects"].machine,
    facts=_facts,
    details=_details,
    page=lambda given: reverse(
        "machine", args=[sort_of(given["corrects"].machine).slug, given["corrects"].machine.pk]
    ),
    known=HourReading,
)


@second_person(HOURS_ACT)
@in_yard_of("corrects")
@transaction.atomic
def correct_hours(
    *, submission_id: uuid.UUID, corrects: HourReading, hours: float, read_at: datetime, by: User
) -> HourReading:
    """Record what an hour meter showed in place of a reading that was wrong and counts no more.

    corrects: a reading that was entered by itself. A second copy changes nothing. Raises
    ValidationError as `fleet.hours.record_hours` does, and where it was corrected before.
    """
    return put_reading(submission_id, corrects.machine, hours, read_at, by, corrects)
