"""Let a unit, hand it out, take it back: the functions every page calls."""

from __future__ import annotations

import uuid
from datetime import date, datetime, timedelta

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.db import transaction
from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

from fleet import clock
from fleet.dates import day_words, days_words, moment_words
from fleet.housings import lock_housing
from fleet.models import Hammer, Hire, Mounting, SuppressorHousing, Transfer
from fleet.models.housing import Side
from fleet.models.retirable import refuse_out_of_use
from fleet.numbers import quoted
from fleet.outages import outages_of_unit
from fleet.people.yards import in_yard_of
from fleet.uploads import Form, let_in
from inspections.models import HandOver, HandOverPhoto, Inspection, PadCount, PadReplacement
from ratings.models import Commitment, LedgerEntry

# Beyond these a slip in a month or a year is likelier than a hire.
LONGEST_HIRE = timedelta(days=3 * 366)
FURTHEST_AHEAD = timedelta(days=2 * 366)
FURTHEST_BACK = timedelta(days=60)
# An inspection further from the hand-over says nothing of how the unit changed hands.
AT_A_HAND_OVER = timedelta(days=1)
MOST_PHOTOS = 40


@in_yard_of("housing")
@transaction.atomic
def agree_hire(
    *,
    submission_id: uuid.UUID,
    housing: SuppressorHousing,
    hirer: str,
    contact: str,
    place: str,
    from_day: date,
    back_due: date,
    by: User,
    note: str = "",
) -> Hire:
    """Record that a unit, a housing with the hammer it is on, is let to somebody.

    It holds the unit on its days. A second copy of a submission changes nothing. Raises
    ValidationError, naming the field, where a word is missing, the days can't be, or the unit is
    on no hammer, out of use, out of service, committed, in transit or hired already.
    """
    locked = lock_housing(housing.pk)
    known = Hire.objects.filter(submission_id=submission_id).first()
    if known is not None:
        if known.housing_id != locked.pk:
            raise ValidationError(
                f"This form was sent for {known.housing} already: open it again and send it there."
            )
        return known
    for field, text, needed in (
        ("hirer", hirer, "name who hires it."),
        ("contact", contact, "give a person and a telephone."),
        ("place", place, "say where it works."),
    ):
        _refuse_blank(field, text, needed)
    _refuse_days(from_day, back_due)
    refuse_out_of_use(from_day, housing=locked)
    hammer = _hammer_of(locked)
    if hammer is None:
        raise ValidationError(
            {"housing": f"{locked} hangs on no hammer: hang it on one first, then let it."}
        )
    other = Hire.objects.open().of_unit(locked, hammer).first()
    if other is not None:
        raise ValidationError(
            {"housing": f"{locked} has its {other.words}: take it back, or cancel that, first."}
        )
    _refuse_held(locked, hammer, from_day, back_due, "from_day")
    made: Hire = Hire.objects.create(
        submission_id=submission_id,
        housing=locked,
        hammer=hammer,
        hirer=hirer.strip(),
        contact=contact.strip(),
        place=place.strip(),
        from_day=from_day,
        back_due=back_due,
        note=note.strip(),
        recorded_by=by,
    )
    return made


@in_yard_of("hire")
@transaction.atomic
def hand_over(
    *,
    submission_id: uuid.UUID,
    hire: Hire,
    way: str,
    signed_at: datetime,
    given_by: str,
    taken_by: str,
    housing_mark: str,
    hammer_mark: str,
    by: User,
    remarks: str = "",
) -> HandOver:
    """Hand a hired unit out, or take it back, by the newest inspection of it on record.

    Taking it back ends the hire. A second copy of a submission changes nothing. Raises
    ValidationError, naming the field, where it is not its turn, a name or a mark is missing or
    wrong, the time can't be, the unit must not leave, or no inspection that counted every pad,
    taped the travel and read the hours was made at the hand-over.
    """
    housing = lock_housing(hire.housing_id)
    known = HandOver.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    locked = Hire.objects.select_related("hammer").get(pk=hire.pk)
    _refuse_out_of_turn(locked, way)
    _refuse_blank("given_by", given_by, "type the name of who hands it over.")
    _refuse_blank("taken_by", taken_by, "type the name of who takes it over.")
    if given_by.strip().casefold() == taken_by.strip().casefold():
        raise ValidationError(
            {"taken_by": "One person can't sign for both sides: name who takes it over."}
        )
    _refuse_mark("housing_mark", housing_mark, housing.mark, "housing")
    _refuse_mark("hammer_mark", hammer_mark, locked.hammer.mark, "hammer")
    if signed_at > clock.now() + timedelta(minutes=10):
        raise ValidationError({"signed_at": f"{moment_words(signed_at)} is in the future."})
    day = timezone.localdate(signed_at)
    mounted = _hammer_of(housing)
    if mounted != locked.hammer:
        raise ValidationError(
            f"{housing} was let with hammer {locked.hammer} and is on {mounted or 'none'} now: "
            "cancel this hire and record another, or hang it back."
        )
    is_out = way == HandOver.Way.OUT
    before = locked.hand_overs.filter(way=HandOver.Way.OUT).select_related("inspection").first()
    if is_out:
        last = max(locked.back_due, day)
        _refuse_held(housing, locked.hammer, day, last, "signed_at")
    elif before is not None and signed_at < before.signed_at:
        raise ValidationError(
            {
                "signed_at": f"It left only on {moment_words(before.signed_at)}: give when it "
                "came back."
            }
        )
    inspection = _inspection_for(housing, signed_at, before if not is_out else None)
    head = LedgerEntry.objects.filter(housing=housing).order_by("-sequence").first()
    assert head is not None, "a unit that was counted has a ledger"
    made: HandOver = HandOver.objects.create(
        submission_id=submission_id,
        hire=locked,
        way=way,
        inspection=inspection,
        entry=head,
        signed_at=signed_at,
        given_by=given_by.strip(),
        taken_by=taken_by.strip(),
        housing_mark=housing_mark.strip(),
        hammer_mark=hammer_mark.strip(),
        remarks=remarks.strip(),
        recorded_by=by,
    )
    if is_out:
        locked.left_on = day
        locked.save(update_fields=["left_on"])
    else:
        locked.end, locked.ended_on, locked.ended_by = Hire.BACK, day, by
        locked.save(update_fields=["end", "ended_on", "ended_by"])
    return made


@in_yard_of("hire")
@transaction.atomic
def cancel_hire(*, hire: Hire, reason: str, by: User) -> Hire:
    """Cancel a hire of which the unit has not left. Cancelled twice, the first stands.

    Raises ValidationError where the unit left, or no reason is given.
    """
    lock_housing(hire.housing_id)
    locked: Hire = Hire.objects.select_for_update().get(pk=hire.pk)
    if locked.end == Hire.CANCELLED:
        return locked
    if locked.left_on is not None:
        raise ValidationError(
            f"It left on {day_words(locked.left_on)}: take it back with a hand-over instead."
        )
    _refuse_blank("reason", reason, "say why it is cancelled.")
    locked.end, locked.ended_on, locked.ended_by = Hire.CANCELLED, clock.today(), by
    locked.cancel_reason = reason.strip()
    locked.save(update_fields=["end", "ended_on", "ended_by", "cancel_reason"])
    return locked


@in_yard_of("hand_over")
@transaction.atomic
def add_photo(
    *, photo_id: uuid.UUID, hand_over: HandOver, sent: bytes, by: User, caption: str = ""
) -> HandOverPhoto:
    """Keep a photo of a hand-over, made anew without its tags. A second copy changes nothing.

    Raises ValidationError for too many of one hand-over, and NoPicture where it is none.
    """
    lock_housing(hand_over.hire.housing_id)
    known = HandOverPhoto.objects.filter(pk=photo_id).first()
    if known is not None:
        return known
    if hand_over.photos.count() >= MOST_PHOTOS:
        raise ValidationError({"photo": f"{MOST_PHOTOS} photos are here: no hand-over takes more."})
    picture = let_in(sent, Form.PICTURE)
    return HandOverPhoto.objects.create(
        pk=photo_id,
        hand_over=hand_over,
        caption=caption.strip(),
        file=ContentFile(picture.content, name=f"{photo_id}.jpg"),
        sha256=picture.sha256,
        width=picture.width,
        height=picture.height,
        recorded_by=by,
    )


def full_inspections(housing: SuppressorHousing) -> list[Inspection]:
    """Return the standing inspections fit for a hand-over, the newest first.

    Those that counted every pad, taped the travel and read the hours of the hammer.
    """
    # Who counts pads at all counts every one, so that the last position stands for them.
    last = PadCount.objects.filter(
        inspection=OuterRef("pk"), side=Side.B, number=housing.positions_per_side
    )
    found = Inspection.objects.standing().filter(
        Exists(last), housing=housing, travel_in__isnull=False, hour_reading__isnull=False
    )
    return list(found.order_by("-seen_at", "-pk")[:1])


def _inspection_for(
    housing: SuppressorHousing, signed_at: datetime, before: HandOver | None
) -> Inspection:
    """Return the inspection of a hand-over. before: the one it left with, where it comes back."""
    wanted = "count every pad, tape the travel and read the hours"
    newest = next(iter(full_inspections(housing)), None)
    if newest is None:
        raise ValidationError(
            f"No inspection of {housing} on record did all of it: {wanted}, then hand it over."
        )
    seen = f"The newest full inspection of {housing} is of {moment_words(newest.seen_at)}"
    if before is not None and newest.seen_at < signed_at:
        raise ValidationError(
            f"{seen}, before it came back: {wanted} now that it is here, then take it back."
        )
    if abs(newest.seen_at - signed_at) > AT_A_HAND_OVER:
        raise ValidationError(
            f"{seen}, more than a day from this hand-over: {wanted} again, then hand it over."
        )
    if HandOver.objects.filter(inspection=newest).exists():
        raise ValidationError(
            f"{seen}, and another hand-over was made by it: {wanted} again, then hand it over."
        )
    fitted = PadReplacement.objects.standing().filter(housing=housing, fitted_at__gt=newest.seen_at)
    changed = fitted.first()
    if changed is not None:
        raise ValidationError(
            f"Pads were replaced on {moment_words(changed.fitted_at)}, after the newest full "
            f"inspection: {wanted} again, then hand it over."
        )
    return newest


def _hammer_of(housing: SuppressorHousing) -> Hammer | None:
    mounting = Mounting.objects.current().filter(housing=housing).select_related("hammer").first()
    return mounting.hammer if mounting else None


def _refuse_out_of_turn(hire: Hire, way: str) -> None:
    if hire.end:
        assert hire.ended_on is not None
        raise ValidationError(f"This hire ended already: {hire.end} on {day_words(hire.ended_on)}.")
    if way == HandOver.Way.OUT and hire.left_on is not None:
        raise ValidationError(f"It left already, on {day_words(hire.left_on)}: take it back.")
    if way == HandOver.Way.BACK and hire.left_on is None:
        raise ValidationError("It has not left: hand it out first, or cancel the hire.")


def _refuse_mark(field: str, given: str, mark: str, what: str) -> None:
    _refuse_blank(field, given, f"read the mark off the {what}.")
    if given.strip().casefold() != mark.casefold():
        raise ValidationError(
            {
                field: f"{quoted(given)} was read off the {what} and {mark} was let: this is "
                f"another {what}. Look at it again; hand over {mark} only."
            }
        )


def _refuse_blank(field: str, text: str, needed: str) -> None:
    if not text.strip():
        raise ValidationError({field: f"This is blank: {needed}"})


def _refuse_days(from_day: date, back_due: date) -> None:
    today = clock.today()
    if back_due < from_day:
        raise ValidationError(
            {"back_due": f"This is before it leaves, {day_words(from_day)}: give a later day."}
        )
    if back_due - from_day > LONGEST_HIRE:
        raise ValidationError(
            {"back_due": f"{days_words(from_day, back_due)} is over three years: which year?"}
        )
    if not today - FURTHEST_BACK <= from_day <= today + FURTHEST_AHEAD:
        raise ValidationError(
            {
                "from_day": f"{day_words(from_day)} is more than {FURTHEST_BACK.days} days ago or "
                "two years ahead: is the year right?"
            }
        )


def _refuse_held(
    housing: SuppressorHousing, hammer: Hammer, first_day: date, last_day: date, field: str
) -> None:
    """Refuse what must not leave, or is promised elsewhere on these days."""
    for outage in outages_of_unit(housing):
        raise ValidationError(
            f"{outage.machine} is out of service since {moment_words(outage.since)} "
            f"({outage.reason.rstrip('.')}): release it first, then let it."
        )
    held = Commitment.objects.overlapping(first_day, last_day).filter(
        Q(housing=housing) | Q(hammer=hammer)
    )
    for each in held.select_related("job"):
        raise ValidationError(
            {
                field: f"{housing} or its hammer is committed to {each.job.site}, "
                f"{days_words(each.first_day, each.last_day)}: choose other days, or release it "
                "there first."
            }
        )
    moved = Transfer.objects.open().filter(Q(housing=housing) | Q(hammer=hammer))
    for transfer in moved.select_related("origin", "goal"):
        if transfer.is_away_during(first_day, last_day):
            raise ValidationError(
                {
                    field: f"{housing} or its hammer has its {transfer.words}: record its arrival, "
                    "or cancel that, first."
                }
            )
