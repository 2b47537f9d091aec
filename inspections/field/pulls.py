"""Pulls on the phone: the commitments it takes along, and what it sends of each pile tried."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from fleet import clock
from fleet.dates import days_words
from fleet.fields import words_by_field
from fleet.models import Yard
from fleet.quantities import Quantity
from inspections.count.findings import PhotoTaken
from inspections.field.payload import (
    BadPayload,
    IdField,
    KeyField,
    OneOf,
    PhotoForm,
    SentForm,
    ZonedMomentField,
    read_rows,
)
from inspections.field.receive import put_right
from inspections.pulls.forms import SeenPullForm
from inspections.pulls.recording import record_pull_with_photos
from ratings.jobs.validity import Word, commitments_now
from ratings.models import Commitment, PullRecord
from ratings.models.choices import PILE_KINDS
from ratings.pulls.recording import STOPS_LEEWAY_IN, PullDone, PullDoubted, RecordedPullDone
from ratings.pulls.sheet_answer import AnswerInputs, answer_of_sheet, hook_weights, inputs_of

# How long after its last day a commitment stays on the phone: pulls are written up late.
KEPT_DAYS = 30
# What the phone holds to bounds.
FIGURES = ("hook_load_lbf", "tare_lbf", "stretch_in", "minutes", "toe_depth_ft")

Row = dict[str, Any]


def commitments_along(bound: Sequence[Yard]) -> list[Row]:
    """Return the commitments a phone takes along to record pulls of.

    bound: the yards its person is bound to, none where they act in all.
    """
    since = timezone.localdate() - timedelta(days=KEPT_DAYS)
    made = (
        Commitment.objects.filter(last_day__gte=since)
        .filter(Q(released_at__isnull=True) | Q(released_at__gte=clock.now() - timedelta(days=30)))
        .select_related("answer", "job", "housing", "hammer")
        .prefetch_related("confirmations__answer")
        .order_by("first_day", "pk")
    )
    if bound:
        made = made.filter(housing__yard__in=bound)
    not_yet = {each.commitment.pk for each in commitments_now(made) if each.word is Word.NOT_YET}
    rows = []
    for each in made:
        try:
            asked = inputs_of(answer_of_sheet(each))
            rows.append(_row(each, asked, is_not_yet=each.pk in not_yet))
        except (KeyError, TypeError, ValueError):
            # An answer that can't be read is told on its own page, and recorded by the plain form.
            continue
    return rows


def _row(made: Commitment, asked: AnswerInputs, *, is_not_yet: bool) -> Row:
    housing = made.housing
    return {
        "id": made.pk,
        "is_not_yet": is_not_yet,
        "url": reverse("commitment", args=[made.pk]),
        "housing": housing.pk,
        "mark": housing.mark,
        "hammer": made.hammer.mark,
        "site": made.job.site,
        "days": days_words(made.first_day, made.last_day),
        "first_day": made.first_day.isoformat(),
        "last_day": made.last_day.isoformat(),
        "committed_at": made.answer.recorded_at.isoformat(),
        "released_at": made.released_at.isoformat() if made.released_at else None,
        "usable_travel_in": asked.unit.usable_travel_in,
        "stops_in": max(housing.design_travel_in, housing.travel_in or 0.0) + STOPS_LEEWAY_IN,
        "piles": [_pile(asked, number) for number in range(len(asked.piles))],
    }


def _pile(asked: AnswerInputs, place: int) -> Row:
    pile = asked.piles[place]
    hung = hook_weights(asked, pile.job)
    return {
        "number": pile.number,
        "label": pile.label,
        "kind": PILE_KINDS[pile.job.pile.kind.value],
        "count": pile.count,
        "embedment_ft": pile.job.pile.embedment_ft,
        "is_vibrating": pile.job.is_vibrating,
        "unit_lb": hung.unit_lb,
        "carried_lb": hung.carried_lb,
        "capacity_lbf": pile.job.crane.capacity_lbf,
    }


def pull_bounds() -> dict[str, Any]:
    """What the phone holds the figures of a pull to: least, most, whether least is left out."""
    fields: dict[str, Any] = SeenPullForm.base_fields
    return {
        name: [fields[name].least, fields[name].most, fields[name].above_least] for name in FIGURES
    }


class PhonePullForm(SentForm, SeenPullForm):
    """A pull from the phone: what the plain form asks too, and what only a phone sends."""

    id = IdField()
    commitment = KeyField()
    signed_by = KeyField()
    pulled_at = ZonedMomentField()
    sent_at = ZonedMomentField()
    pile_group = KeyField()
    outcome = OneOf(PullRecord.Outcome.values)
    method = OneOf(PullRecord.Method.values)
    load_source = OneOf(PullRecord.LoadSource.values)


@dataclass(frozen=True)
class SentPull:
    """A pull as a phone sent it; times are still by the phone's clock."""

    id: uuid.UUID
    commitment_id: int
    signed_by: int
    pulled_by_hand: bool
    pulled_at: datetime
    sent_at: datetime
    form: PhonePullForm
    photos: tuple[PhotoTaken, ...]


def read_pull(data: Any) -> SentPull:
    """Return what was sent. Raises BadPayload naming every field that won't do."""
    if not isinstance(data, dict):
        raise BadPayload({"": ["This is not a pull."]})
    form = PhonePullForm(data)
    errors = form.words_by_path
    photos = read_rows("photos", PhotoForm, PhotoTaken, data.get("photos") or [], errors)
    if len({photo.id for photo in photos}) < len(photos):
        errors["photos"] = ["One of these is given twice: give each once."]
    if errors:
        raise BadPayload(errors)
    given = form.cleaned_data
    return SentPull(
        id=given["id"],
        commitment_id=given["commitment"],
        signed_by=given["signed_by"],
        pulled_by_hand=data.get("pulled_by_hand") is True,
        pulled_at=given["pulled_at"],
        sent_at=given["sent_at"],
        form=form,
        photos=tuple(photos),
    )


def receive_pull(sent: SentPull, by: User, system: str) -> RecordedPullDone:
    """Record what was sent, at its own time.

    system: of units, which whoever signed reads. Raises BadPayload where it can't be.
    """
    made = Commitment.objects.filter(pk=sent.commitment_id).first()
    if made is None:
        words = "This commitment is not on record: look at the job again."
        raise BadPayload({"commitment": [words]})
    pulled_at, clock_words = sent.pulled_at, ""
    if not sent.pulled_by_hand:
        pulled_at, clock_words = put_right(sent.pulled_at, sent.sent_at, clock.now())
    done: PullDone = sent.form.done(pulled_at=pulled_at, clock_words=clock_words)
    try:
        return record_pull_with_photos(
            photos=sent.photos,
            submission_id=sent.id,
            commitment=made,
            done=done,
            by=by,
            are_doubts_known=sent.form.cleaned_data["are_doubts_known"],
        )
    except ValidationError as refusal:
        errors = words_by_field(refusal, system)
        if NON_FIELD_ERRORS in errors:
            errors[""] = errors.pop(NON_FIELD_ERRORS)
        if isinstance(refusal, PullDoubted):
            errors["are_doubts_known"] = ["Read it again. Where it is right, sign it once more."]
        raise BadPayload(errors) from None


def pull_words(pull: PullRecord, system: str) -> str:
    """Return what to tell whoever recorded a pull."""
    words = f"Pile {pull.pile_mark}: {pull.outcome}."
    if pull.measured_lbf is None or pull.expected_lbf is None:
        return words
    more = "more than " if pull.is_lower_bound else ""
    measured, expected = (
        Quantity.FORCE.words(each, system) for each in (pull.measured_lbf, pull.expected_lbf)
    )
    return f"{words} The ground held with {more}{measured}; {expected} was calculated."
