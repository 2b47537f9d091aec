"""Record what a phone sent: once, whole, at its own time."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

from django.contrib.auth.models import User
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError

from fleet import clock
from fleet.dates import moment_words
from fleet.fields import CLOCK_LEEWAY, words_by_field
from fleet.models import SuppressorHousing
from fleet.outages import outages_of_unit
from fleet.quantities import pull_words
from inspections.count.newest_facts import is_late
from inspections.count.signing import Signed, sign_inspection
from inspections.count.submission import Submission
from inspections.field.payload import BadPayload, Sent
from ratings.models import CurrentRating


def put_right(seen_at: datetime, sent_at: datetime, now: datetime) -> tuple[datetime, str]:
    """Return when it was seen by the server's clock, and words where the phone's was wrong.

    seen_at, sent_at: by the phone's clock; now: by the server's, when what was sent came.
    """
    off = now - sent_at
    if abs(off) <= CLOCK_LEEWAY:
        return min(seen_at, now), ""
    words = f"The phone’s clock was {_span(off)} {'behind' if off > timedelta(0) else 'ahead'}"
    return min(seen_at + off, now), f"{words}; the time was put right by that much."


def _span(off: timedelta) -> str:
    minutes = round(abs(off).total_seconds() / 60)
    days, minutes = divmod(minutes, 24 * 60)
    hours, minutes = divmod(minutes, 60)
    parts = [(days, "d"), (hours, "h"), (minutes, "min")]
    return " ".join(f"{count} {unit}" for count, unit in parts if count)


def receive(sent: Sent, by: User, system: str) -> Signed:
    """Sign what was sent as an inspection.

    system: of units, which whoever signed reads. Raises BadPayload where it can't be.
    """
    housing = SuppressorHousing.objects.filter(pk=sent.housing_id).first()
    if housing is None:
        raise BadPayload({"housing": ["This housing is not on record: look at the unit again."]})
    seen_at, clock_words = _seen_at(sent)
    try:
        return sign_inspection(
            housing=housing,
            submission=Submission(sent.id),
            seen=replace(sent.seen, seen_at=seen_at, clock_words=clock_words),
            by=by,
        )
    except ValidationError as refusal:
        errors = words_by_field(refusal, system)
        if NON_FIELD_ERRORS in errors:
            errors[""] = errors.pop(NON_FIELD_ERRORS)
        raise BadPayload(errors) from None


def _seen_at(sent: Sent) -> tuple[datetime, str]:
    """When it was seen: as set by hand, else by the phone's clock put right."""
    if not sent.seen_by_hand:
        return put_right(sent.seen.seen_at, sent.sent_at, clock.now())
    if sent.seen.seen_at > clock.now() + CLOCK_LEEWAY:
        when = moment_words(sent.seen.seen_at)
        raise BadPayload({"seen_at": [f"{when} is in the future: give when it happened."]})
    return min(sent.seen.seen_at, clock.now()), ""


def signed_words(signed: Signed, system: str) -> str:
    """Return what to tell whoever signed: how the unit stands now, the gravest first."""
    inspection = signed.inspection
    housing = inspection.housing
    assert housing is not None
    outage = next(iter(outages_of_unit(housing)), None)
    out = f"Out of service: {outage.reason.rstrip('.')}. " if outage else ""
    late = "Newer records stand: this one is kept in the history. " if is_late(inspection) else ""
    rating = CurrentRating.objects.filter(housing=housing).select_related("head").first()
    late += "".join(f"{each} " for each in signed.cautions)
    if rating is None:
        return f"{out}{late}Recorded."
    pull = pull_words(rating.head.pull_lbf, system, listed_lbf=rating.head.listed_lbf)
    standing = rating.head.standing
    told = f"By its figures {standing}" if outage else standing.capitalize()
    return f"{out}{late}{told}, line pull {pull}"
