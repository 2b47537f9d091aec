"""Put on record what a phone sent: once, whole, at its own time."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.utils import timezone

from fleet import clock
from fleet.forms.moment import CLOCK_LEEWAY
from fleet.models import PadLot, SuppressorHousing
from fleet.quantities import Quantity
from inspections.field.clock import put_right
from inspections.field.payload import BadPayload, Sent
from inspections.models import Inspection
from inspections.recording.inspection import Seen, Signed, sign_inspection
from inspections.recording.submission import Submission


def receive(sent: Sent, by: User) -> Signed:
    """Sign what was sent as an inspection. Raises BadPayload where it can't be."""
    housing = SuppressorHousing.objects.filter(pk=sent.housing_id).first()
    if housing is None:
        raise BadPayload({"housing": ["This housing is not on record: look at the unit again."]})
    if not Inspection.objects.filter(submission_id=sent.id).exists():
        _check(sent, housing)
    seen_at, words = _seen_at(sent)
    note = "\n".join(part for part in (sent.note, words) if part)
    try:
        return sign_inspection(
            housing=housing,
            submission=Submission(sent.id),
            seen=Seen(
                seen_at=seen_at,
                pads=sent.pads,
                travel_in=sent.travel_in,
                travel_reason=_reason(sent, housing),
                hours=sent.hours,
                note=note,
                kind=sent.kind,
                weather=sent.weather,
                said=sent.said,
            ),
            by=by,
        )
    except ValidationError as refusal:
        raise BadPayload(_words_by_field(refusal)) from None


def _seen_at(sent: Sent) -> tuple[datetime, str]:
    """When it was seen: as set by hand, else by the phone's clock put right."""
    if not sent.seen_by_hand:
        return put_right(sent.seen_at, sent.sent_at, clock.now())
    if sent.seen_at > clock.now() + CLOCK_LEEWAY:
        when = f"{timezone.localtime(sent.seen_at):%-d %b %Y %H:%M}"
        raise BadPayload({"seen_at": [f"{when} is in the future: give when it happened."]})
    return min(sent.seen_at, clock.now()), ""


def _words_by_field(refusal: ValidationError) -> dict[str, list[str]]:
    if hasattr(refusal, "error_dict"):
        return refusal.message_dict
    return {"": refusal.messages}


def _reason(sent: Sent, housing: SuppressorHousing) -> str:
    return sent.travel_reason if _is_beyond_design(sent, housing) else ""


def _is_beyond_design(sent: Sent, housing: SuppressorHousing) -> bool:
    return sent.travel_in is not None and sent.travel_in > housing.design_travel_in


def _check(sent: Sent, housing: SuppressorHousing) -> None:
    errors: dict[str, list[str]] = {}
    lots = {pad.lot_id for pad in sent.pads if pad.lot_id is not None}
    unknown = lots - set(PadLot.objects.filter(pk__in=lots).values_list("pk", flat=True))
    if unknown:
        errors["pads"] = ["A pad’s lot is not on record any more: choose it again."]
    if _is_beyond_design(sent, housing) and not sent.travel_reason:
        taped, design = (
            Quantity.LENGTH.words(value, "us")
            for value in (sent.travel_in or 0.0, housing.design_travel_in)
        )
        errors["travel_reason"] = [
            f"{taped} is beyond the housing’s design travel of {design}: tape it again, or "
            "keep it and say why it is right."
        ]
    if errors:
        raise BadPayload(errors)
