"""Check a hammer that is not ours: what its pads come to, by the one formula the fleet has."""

from __future__ import annotations

import uuid
from datetime import datetime
from types import SimpleNamespace
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.db import transaction
from django.urls import reverse

from fleet import clock
from fleet.characters import without_hidden
from fleet.dates import moment_words
from fleet.models import PadLot
from fleet.models.housing import Condition, Side
from fleet.models.measured_fields import Measured
from fleet.people.yards import in_no_yard
from fleet.quantities import capacity_words, listed_words, pull_words
from fleet.uploads import Form, let_in
from inspections.models import ForeignCheck, ForeignCheckPhoto, RateFrom
from ratings.ledger.canonical import canonical_text, digest
from ratings.ledger.facts import lot_rate
from ratings.mechanics.record import FORMAT, inputs_record, results_record
from ratings.mechanics.unit_rating import LotRate, LotRubber, Position, UnitInputs, rate_unit
from ratings.models import LotRating, What
from ratings.models.policy import rating_policy
from ratings.proposals.acts import (
    Act,
    Arguments,
    asks_where_it_corrects,
    second_person,
    stand_words,
)
from ratings.proposals.telling import beside, told_fields
from ratings.record.papers import CORRECTED, Stated, paper_kind

KIND = "hammer not ours"

MOST_PHOTOS = 40
AS_MEASURED = "pad as measured"
COUNTS = tuple(
    f"{condition.value}_{side.value.lower()}" for side in Side for condition in Condition
)
OF_A_RATE = (
    "rate_lbf_in",
    "spread_lbf_in",
    "pads_measured",
    "rate_error_lbf_in",
    "tested_stretch_in",
)
NAMED = {
    "owner": "name whose it is.",
    "make_and_type": "write what is on it, or “no plate”.",
    "mark": "give the mark or number on it, or “none”.",
}


def _facts(given: Arguments) -> dict[str, str]:
    corrects, lot = given["corrects"], given.get("lot")
    facts = {f"check {corrects.pk}": stand_words(ForeignCheck, corrects)}
    if lot is not None:
        rating = LotRating.objects.in_force_by_lot([lot.pk]).get(lot.pk)
        facts[f"the rating of lot {lot}"] = f"rating {rating.pk}" if rating else "none"
    return facts


def _details(given: Arguments, system: str) -> list[tuple[str, str]]:
    corrects = given["corrects"]
    labels = {
        field.name: str(field.verbose_name).capitalize()
        for field in ForeignCheck._meta.concrete_fields
        if field.name in given and field.name not in ("corrects", "submission_id")
    }
    labels |= {"correction_reason": "What was wrong"}
    now = SimpleNamespace(**{"correction_reason": "", **given})
    lot = given.get("lot")
    before = corrects.rating.lot if corrects.rating else None
    told = told_fields(now, corrects, labels, system)
    return [
        ("Corrects", f"check {corrects.pk}"),
        *told,
        ("Of our lot", beside(str(lot or ""), str(before or ""))),
    ]


FOREIGN_ACT = Act(
    What.FOREIGN,
    asks=asks_where_it_corrects,
    title=lambda given: (
        f"Correction of check {given['corrects'].pk} of a hammer of {given['corrects'].owner}"
    ),
    about=lambda given: given["corrects"],
    facts=_facts,
    details=_details,
    page=lambda given: reverse("foreign-check", args=[given["corrects"].pk]),
    known=ForeignCheck,
)


@second_person(FOREIGN_ACT)
@in_no_yard("the hammer is another firm’s, and stands in no yard of ours")
@transaction.atomic
def record_check(
    *,
    submission_id: uuid.UUID,
    by: User,
    checked_at: datetime,
    lot: PadLot | None = None,
    corrects: ForeignCheck | None = None,
    correction_reason: str = "",
    **given: Any,
) -> ForeignCheck:
    """Record a check of a hammer that is not ours, and what it comes to.

    lot: of which its pads are, where they are of one of ours; its rating in force is taken.
    given: the other fields of ForeignCheck. corrects: an earlier check this one puts right.
    A second copy of a submission changes nothing. Raises ValidationError, naming the field, where
    one can't be, pads and positions differ, or the rate lacks what it needs.
    """
    known: ForeignCheck | None = ForeignCheck.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    if corrects is not None:
        ForeignCheck.objects.select_for_update().get(pk=corrects.pk)
        _refuse_correction(corrects, correction_reason)
    check = ForeignCheck(
        submission_id=submission_id,
        checked_at=checked_at,
        corrects=corrects,
        correction_reason=correction_reason.strip() if corrects else "",
        recorded_by=by,
        **{name: each.strip() if isinstance(each, str) else each for name, each in given.items()},
    )
    _refuse(check)
    check.rating = _rating(lot) if check.rate_from == RateFrom.LOT else None
    if check.rate_from != RateFrom.MEASURED:
        for name in OF_A_RATE:
            setattr(check, name, None)
        check.measured_where = ""
    if not check.is_guided:
        check.guided_reason = ""
    inputs = inputs_of(check)
    check.document = canonical_text(
        {
            "format": FORMAT,
            "inputs": inputs_record(inputs),
            "results": results_record(rate_unit(inputs)),
        }
    )
    check.hash = digest(check.document)
    check.save()
    return check


@in_no_yard("of a hammer that is not ours")
@transaction.atomic
def add_check_photo(
    *, photo_id: uuid.UUID, check: ForeignCheck, sent: bytes, by: User, caption: str = ""
) -> ForeignCheckPhoto:
    """Keep a photo of a check, made anew without its tags. A second copy changes nothing.

    Raises ValidationError for too many of one check, and NoPicture where it is none.
    """
    ForeignCheck.objects.select_for_update().get(pk=check.pk)
    known: ForeignCheckPhoto | None = ForeignCheckPhoto.objects.filter(pk=photo_id).first()
    if known is not None:
        return known
    if check.photos.count() >= MOST_PHOTOS:
        raise ValidationError({"photo": f"{MOST_PHOTOS} photos are here: no check takes more."})
    picture = let_in(sent, Form.PICTURE)
    return ForeignCheckPhoto.objects.create(
        pk=photo_id,
        check_of=check,
        caption=without_hidden(caption).strip(),
        file=ContentFile(picture.content, name=f"{photo_id}.jpg"),
        sha256=picture.sha256,
        width=picture.width,
        height=picture.height,
        recorded_by=by,
    )


def inputs_of(check: ForeignCheck) -> UnitInputs:
    """Return what the figures of a check rest on, by the policy in force now."""
    rate = _rate(check)
    lot = rate.lot if rate else None
    rubber: tuple[LotRubber, ...] = ()
    if check.rating is not None and check.rating.lot.rubber_thickness_in is not None:
        rubber = (LotRubber(check.rating.lot.mark, check.rating.lot.rubber_thickness_in),)
    return UnitInputs(
        positions=tuple(_positions(check, lot)),
        lots=(rate,) if rate else (),
        travel_in=check.travel_in,
        listed_lbf=check.stated_listed_lbf,
        policy=rating_policy(),
        is_guided=check.is_guided,
        rubber=rubber,
    )


def _positions(check: ForeignCheck, lot: str | None) -> list[Position]:
    """Return a position for each pad counted; which of a side it is, tells nothing."""
    found = []
    for side in Side:
        number = 0
        for condition in Condition:
            for _ in range(getattr(check, f"{condition.value}_{side.value.lower()}")):
                number += 1
                there = None if condition == Condition.MISSING else lot
                found.append(Position(side.value, number, condition.value, there))
    return found


def _rate(check: ForeignCheck) -> LotRate | None:
    if check.rating is not None:
        return lot_rate(check.rating, rating_policy())
    if check.rate_lbf_in is None or check.tested_stretch_in is None:
        return None
    pads = check.pads_measured or 1
    freedom = float(pads - 1) if pads > 1 and check.spread_lbf_in is not None else None
    return LotRate(
        lot=AS_MEASURED,
        rate_lbf_in=check.rate_lbf_in,
        standard_error_lbf_in=check.rate_error_lbf_in or 0.0,
        degrees_of_freedom=None,
        linearity_error_pct=0.0,
        tested_stretch_in=check.tested_stretch_in,
        curve=(),
        # Of one pad there is no spread: the policy's assumption stands in.
        spread_lbf_in=check.spread_lbf_in if freedom else None,
        spread_degrees_of_freedom=freedom,
        pads_tested=float(pads),
        # Nobody told how it was measured: the price of each shortcut is taken off in full.
        loading_only_share=1.0,
        not_conditioned_share=1.0,
        temperature_unknown_share=1.0,
    )


def _rating(lot: PadLot | None) -> LotRating:
    if lot is None:
        raise ValidationError({"lot": "This is blank: choose the lot its pads are of."})
    rating = LotRating.objects.in_force_by_lot([lot.pk]).get(lot.pk)
    if rating is None:
        raise ValidationError(
            {"lot": f"Lot {lot} has no rating in force: choose another, or “not known”."}
        )
    return rating


def _refuse(check: ForeignCheck) -> None:
    """Raise ValidationError naming every field that can't be."""
    troubles: dict[str, Any] = {
        name: f"This is blank: {needed}"
        for name, needed in NAMED.items()
        if not getattr(check, name)
    }
    if check.checked_at > clock.now():
        troubles["checked_at"] = f"{moment_words(check.checked_at)} is in the future."
    for field in ForeignCheck._meta.get_fields():
        if isinstance(field, Measured):
            trouble = field.trouble_with(getattr(check, field.name))
            if trouble:
                troubles[field.name] = trouble
    if check.is_guided and not check.guided_reason:
        troubles["guided_reason"] = "This is blank: say what keeps it level, or take the tick out."
    for side in Side:
        counted = sum(getattr(check, name) for name in COUNTS if name.endswith(side.lower()))
        if counted != check.positions_per_side:
            troubles.setdefault(
                f"sound_{side.lower()}",
                f"Side {side} has {counted} pads counted and {check.positions_per_side} positions: "
                "count each position once, an empty one as missing.",
            )
    if check.rate_from not in RateFrom.values:
        troubles["rate_from"] = "This is blank: choose what is known of the rate of its pads."
    if check.rate_from == RateFrom.MEASURED:
        troubles |= _troubles_of_rate(check) | troubles
    if troubles:
        raise ValidationError(troubles)


def _troubles_of_rate(check: ForeignCheck) -> dict[str, Any]:
    needed = {
        "rate_lbf_in": "give the rate that was measured, or choose “not known”.",
        "tested_stretch_in": "give how far the pad was stretched when it was measured.",
        "pads_measured": "give how many pads were measured.",
        "measured_where": "say where it was measured, by whom and when.",
    }
    troubles = {
        name: f"This is blank: {words}"
        for name, words in needed.items()
        if getattr(check, name) in (None, "")
    }
    many = check.pads_measured or 0
    if many > 1 and check.spread_lbf_in is None:
        troubles["spread_lbf_in"] = (
            f"This is blank: give the spread between the {many} pads measured."
        )
    if many == 1 and check.spread_lbf_in is not None:
        troubles["spread_lbf_in"] = "One pad has no spread: leave this blank, or correct how many."
    return troubles


def _refuse_correction(corrects: ForeignCheck, reason: str) -> None:
    if ForeignCheck.objects.filter(corrects=corrects).exists():
        raise ValidationError(
            f"Check {corrects.pk} was corrected already: correct the newest one of it."
        )
    if not reason.strip():
        raise ValidationError({"correction_reason": "This is blank: say what was wrong."})


def copied(check: ForeignCheck) -> dict[str, Any]:
    """Return the fields of a check, to be put right in a form."""
    names = [*NAMED, *COUNTS, *OF_A_RATE]
    names += ["checked_at", "positions_per_side", "travel_in", "is_guided", "guided_reason"]
    names += ["rate_from", "measured_where", "stated_listed_lbf", "note"]
    found = {name: getattr(check, name) for name in names}
    return found | {"lot": check.rating.lot_id if check.rating else None}


@paper_kind(KIND)
def foreign_check_stated(subject: str, system: str) -> Stated:
    """Return what the paper of a hammer that is not ours states. subject: key of the check."""
    check = ForeignCheck.objects.select_related("corrected_by").filter(pk=int(subject)).first()
    if check is None:
        raise LookupError("the check is not on record")
    results, listed = check.results, check.stated_listed_lbf
    figures = (
        ("Line pull", pull_words(results["pull_lbf"], system, listed_lbf=listed)),
        (
            "Working capacity",
            capacity_words(results["working_capacity_lbf"], system, listed_lbf=listed),
        ),
        ("Listed, as its owner states it", listed_words(listed, system)),
    )
    return Stated(
        f"{check.mark} of {check.owner}, not of the fleet",
        figures,
        no_more=(CORRECTED,) if check.is_corrected else (),
    )
