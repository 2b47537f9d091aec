"""How long units are on the way: the rule in force, changed, and what it comes to."""

from __future__ import annotations

import uuid
from dataclasses import dataclass

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.models import YardHaul
from fleet.models.measured_fields import measured_field
from fleet.models.transfer import FARTHEST_HAUL_MI
from fleet.people.yards import in_every_yard
from ratings.mechanics.planning import days_for_haul
from ratings.models import TransportRules
from ratings.models.transport import LEAST_DAYS, MILES_A_DAY


@dataclass(frozen=True)
class Transport:
    """The rule by which a haul becomes days, and the distances between yards."""

    miles_a_day: float
    least_days: int
    hauls_mi: dict[tuple[int, int], float]

    @property
    def longest_days(self) -> int:
        """Days of the longest haul there can be, one way."""
        return self.days(FARTHEST_HAUL_MI)

    def days(self, haul_mi: float | None) -> int:
        """Return how many days a unit is on the way, one way; None: its haul is not known."""
        return days_for_haul(haul_mi, miles_a_day=self.miles_a_day, least_days=self.least_days)

    def haul_mi(self, yard_id: int, distances_mi: dict[int, float]) -> float | None:
        """Return the miles from a yard to a job, by way of another yard where none is entered.

        distances_mi: of the job, by the key of each yard that has one. None where nothing tells.
        """
        direct = distances_mi.get(yard_id)
        if direct is not None:
            return direct
        by_way = [
            self.hauls_mi[yard_id, other] + haul_mi
            for other, haul_mi in distances_mi.items()
            if (yard_id, other) in self.hauls_mi
        ]
        return min(by_way, default=None)


def transport_in_force() -> Transport:
    """Return the rule recorded last, the default where there is none, in two queries."""
    row = TransportRules.objects.first()
    return Transport(
        row.miles_a_day if row else MILES_A_DAY,
        row.least_days if row else LEAST_DAYS,
        YardHaul.objects.in_force(),
    )


@in_every_yard
@transaction.atomic
def change_transport_rules(
    *, submission_id: uuid.UUID, miles_a_day: float, least_days: int, reason: str, by: User
) -> TransportRules:
    """Put another rule in force. A second copy of a submission changes nothing.

    Raises ValidationError, naming the field, for figures out of bounds or no reason.
    """
    known = TransportRules.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    measured_field(TransportRules, "miles_a_day").refuse_out_of_bounds(miles_a_day)
    measured_field(TransportRules, "least_days").refuse_out_of_bounds(least_days)
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say why it changes."})
    return TransportRules.objects.create(
        submission_id=submission_id,
        miles_a_day=miles_a_day,
        least_days=least_days,
        reason=reason.strip(),
        recorded_by=by,
    )
