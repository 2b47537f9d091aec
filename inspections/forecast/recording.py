"""Keep forecasts as they were made: by a person, and by the daily job once a month."""

from __future__ import annotations

import uuid
from datetime import date

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction

from fleet import clock
from fleet.dates import day_words
from fleet.models import SuppressorHousing
from fleet.people.yards import in_every_yard, in_yard_of, lock_and_look_again
from inspections.forecast.forecasting import Made, forecast_of, forecasts_of, housings_in_use
from inspections.models import Forecast


class ForecastChanged(ValidationError):
    """The forecast that was seen is not the one that would be kept."""


@in_yard_of("housing")
@transaction.atomic
def keep_forecast(
    *,
    submission_id: uuid.UUID,
    housing: SuppressorHousing,
    by: User,
    seen: str | None = None,
) -> Forecast:
    """Make the forecast of a unit and keep it, with what it rests on; it can't be taken back.

    seen: the digest of the one that was shown; None where nobody was shown one. A second copy of a
    submission, or one more of the same day that rests on the same, changes nothing. Raises
    ForecastChanged where what was shown rests on what changed since, ValidationError where the
    unit can't be forecast or is out of use.
    """
    lock_and_look_again()
    known = Forecast.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    today = clock.today()
    if housing.retired_on is not None and housing.retired_on <= today:
        raise ValidationError(
            f"Nothing is kept: {housing} is out of use since {day_words(housing.retired_on)}."
        )
    made = forecast_of(housing)
    if not made.can_be:
        raise ValidationError(
            f"Nothing is kept: {housing} can’t be forecast, because {made.document['why_not']}."
        )
    if seen is not None and seen != made.digest:
        raise ForecastChanged(
            "The forecast is not kept: what it rests on changed since it was shown. Look again."
        )
    return _keep(made, submission_id, housing, today, None, by)


@in_every_yard
@transaction.atomic
def keep_monthly(*, by: User) -> list[Forecast]:
    """Keep the forecast of every unit that has none by this job in this month; return them.

    A unit that can't be forecast is left out.
    """
    today = clock.today()
    month = today.replace(day=1)
    done = set(Forecast.objects.filter(month=month).values_list("housing", flat=True))
    wanted = [each for each in housings_in_use(today) if each.pk not in done]
    made = forecasts_of(wanted) if wanted else {}
    kept = []
    for housing in wanted:
        each = made[housing.pk]
        if not each.can_be or _kept_today(each, housing, today) is not None:
            continue
        key = uuid.uuid5(uuid.NAMESPACE_OID, f"forecast of {housing.pk} in {month}")
        kept.append(_keep(each, key, housing, today, month, by))
    return kept


def _kept_today(made: Made, housing: SuppressorHousing, today: date) -> Forecast | None:
    return Forecast.objects.filter(housing=housing, made_on=today, digest=made.digest).first()


def _keep(
    made: Made,
    submission_id: uuid.UUID,
    housing: SuppressorHousing,
    today: date,
    month: date | None,
    by: User,
) -> Forecast:
    known = _kept_today(made, housing, today)
    if known is not None:
        return known
    assert made.entry is not None
    return Forecast.objects.create(
        submission_id=submission_id,
        housing=housing,
        made_on=today,
        month=month,
        entry=made.entry,
        document=made.document,
        basis=made.basis,
        digest=made.digest,
        recorded_by=by,
    )
