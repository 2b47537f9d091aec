"""Recording: what a program sends, by the forms that read it and the functions that pages call.

Each request carries an Idempotency-Key, which is the id that forms and phones make for what they
send: the same request again is answered as the first time and records nothing.
"""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Model
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from ninja import Schema
from ninja.params.functions import Body as SentBody
from ninja.params.functions import Header
from pydantic import AfterValidator, Field, WithJsonSchema

from fleet import clock
from fleet.dates import moment_words
from fleet.fields import words_by_field
from fleet.hours import record_hours
from fleet.models import ApiScope, ApiWrite, HourReading, MachineSort
from fleet.models.machine import column_of, sort_of
from fleet.outages import capital, named
from fleet.quantities import plain_number
from fleet.roles import signed_in
from fleet.units import MODELS
from inspections.api import bodies
from inspections.api.access import Token
from inspections.api.bench_sent import SYSTEM, record_sent_test
from inspections.api.problems import Refused, Wrong, may_refuse, refused_fields
from inspections.api.reading import refuse_unknown, router, sign_view
from inspections.field.payload import BadPayload, read_payload
from inspections.field.pulls import pull_words, read_pull, receive_pull
from inspections.field.receive import receive, signed_words
from inspections.machines.forms import HoursForm
from inspections.models import Inspection
from ratings.hours import correct_hours
from ratings.models import BenchTest, PullRecord
from ratings.proposals.acts import SecondPersonNeeded


class Recorded(Schema):
    """What was recorded."""

    id: int
    url: str = Field(description="Where a program reads it.")
    page: str = Field(description="Where a person reads it.")
    words: str = Field(description="What it came to, in words for whoever answers for it.")


@dataclass(frozen=True)
class Act:
    """Something programs may record: where, by which scope, what they send, and who records it.

    record: takes what was sent, the id it came with and whose it is, and returns the record with
    words for whoever answers for it. Raises BadPayload where it can't be.
    """

    name: str
    scope: ApiScope
    body: type[bodies.Body]
    model: type[Model]
    page: str
    record: Callable[[dict[str, Any], uuid.UUID, User], tuple[Model, str]]


def _inspection(sent: dict[str, Any], key: uuid.UUID, by: User) -> tuple[Model, str]:
    signed = receive(read_payload(_as_from_a_phone(sent, key, by, "seen_by_hand")), by, SYSTEM)
    return signed.inspection, signed_words(signed, SYSTEM)


def _pull(sent: dict[str, Any], key: uuid.UUID, by: User) -> tuple[Model, str]:
    read = read_pull(_as_from_a_phone(sent, key, by, "pulled_by_hand"))
    pull = receive_pull(read, by, SYSTEM).pull
    return pull, pull_words(pull, SYSTEM)


def _as_from_a_phone(
    sent: dict[str, Any], key: uuid.UUID, by: User, by_hand: str
) -> dict[str, Any]:
    """Return what was sent with what a phone adds: whose it is, and that its time is as given."""
    now = clock.now().isoformat()
    return {**sent, "id": str(key), "signed_by": by.pk, "sent_at": now, by_hand: True}


def _bench_test(sent: dict[str, Any], key: uuid.UUID, by: User) -> tuple[Model, str]:
    recorded = record_sent_test(sent, key, by)
    if recorded.draft is None:
        return recorded.test, "Recorded, not for rating: no test of its lot may rate."
    return recorded.test, (
        f"Rating {recorded.draft.pk} is drafted: it rates no unit until a second person approves "
        "it."
    )


def _hours(sent: dict[str, Any], key: uuid.UUID, by: User) -> tuple[Model, str]:
    sort = MachineSort(sent["sort"])
    machine = MODELS[sort].objects.filter(pk=sent["machine"]).first()
    if machine is None:
        raise BadPayload({"machine": [f"No {sort} of this id is on record."]})
    typed = {"hours": repr(sent["hours"]), "read_at": sent["read_at"], "submission_id": str(key)}
    form = HoursForm(typed, machine=machine)
    if not form.is_valid():
        raise BadPayload({name: [str(each) for each in form.errors[name]] for name in form.errors})
    try:
        if sent["corrects"] is None:
            reading = record_hours(machine=machine, by=by, **form.cleaned_data)
        else:
            wrong = _wrong_reading(machine, sent["corrects"])
            reading = correct_hours(corrects=wrong, by=by, **form.cleaned_data)
    except SecondPersonNeeded:
        raise
    except ValidationError as refusal:
        raise BadPayload(words_by_field(refusal, SYSTEM)) from None
    hours = plain_number(reading.hours, 1)
    return reading, f"{capital(named(machine))}: {hours} h is on record."


def _wrong_reading(machine: Any, key: int) -> HourReading:
    """Return a reading that may be put right: of this meter, and read by itself."""
    alone = {"inspection": None, "inspection_of_pack": None, **column_of(machine)}
    found = HourReading.objects.filter(pk=key, **alone).first()
    if found is None:
        raise BadPayload(
            {
                "corrects": [
                    f"No reading of this id was read by itself off {sort_of(machine)} {machine}: "
                    "one of an inspection is put right by correcting that."
                ]
            }
        )
    return found


ACTS = (
    Act(
        "inspections",
        ApiScope.INSPECTIONS,
        bodies.INSPECTION,
        Inspection,
        "inspection",
        _inspection,
    ),
    Act("bench-tests", ApiScope.TESTS, bodies.BENCH_TEST, BenchTest, "bench-test", _bench_test),
    Act("hour-readings", ApiScope.HOURS, bodies.HOURS, HourReading, "", _hours),
    Act("pulls", ApiScope.PULLS, bodies.PULL, PullRecord, "pull-record", _pull),
)


def _uuid(given: str) -> uuid.UUID:
    try:
        return uuid.UUID(given.strip('"'))
    except ValueError:
        raise ValueError("This is no UUID: make one for each thing that is recorded.") from None


IdempotencyKey = Annotated[
    str,
    AfterValidator(_uuid),
    WithJsonSchema({"type": "string", "format": "uuid"}),
]
KEY_WORDS = (
    "A UUID made for what is recorded: the same request again, with the same key, is answered as "
    "the first time and records nothing."
)
REFUSALS = (400, 401, 403, 409, 413, 415, 422, 429)


def add_act(act: Act) -> None:
    """Let programs record something, at the address where they read it."""

    def recorded(request: HttpRequest, sent: Any, key: Any) -> HttpResponse:
        refuse_unknown(request, ())
        return _answer(request, act, sent.model_dump(), key)

    sign_view(
        recorded,
        sent=Annotated[act.body, SentBody()],
        key=Annotated[IdempotencyKey, Header(alias="Idempotency-Key", description=KEY_WORDS)],
    )
    router.post(
        f"/{act.name}",
        auth=Token(act.scope),
        response={201: Recorded},
        openapi_extra=may_refuse(*REFUSALS),
        operation_id=f"record-{act.name}",
        summary=act.body.__doc__,
        url_name=f"record-{act.name}",
        tags=["record"],
    )(recorded)


def _answer(request: HttpRequest, act: Act, sent: dict[str, Any], key: uuid.UUID) -> HttpResponse:
    """Record what was sent, once, and answer. Raises Refused where it can't be."""
    write = ApiWrite(
        submission_id=key,
        token=request.auth,  # type: ignore[attr-defined]
        recorded_by=signed_in(request),
        path=act.name,
        body_hash=_hash_of(sent),
        record_model=act.model._meta.label_lower,
    )
    try:
        with transaction.atomic():
            return _known(write) or _record(act, sent, write)
    except IntegrityError:
        # The same key came at the same moment, and the other was first.
        known = _known(write)
        if known is None:
            raise
        return known
    except SecondPersonNeeded as refusal:
        raise Refused(409, refusal.messages[0]) from None
    except BadPayload as bad:
        raise refused_fields(bad.errors, sent) from None


def _hash_of(sent: dict[str, Any]) -> str:
    """Return by what a request is known again, however its JSON was spaced or ordered."""
    return hashlib.sha256(json.dumps(sent, sort_keys=True).encode()).hexdigest()


def _record(act: Act, sent: dict[str, Any], write: ApiWrite) -> HttpResponse:
    key, by = write.submission_id, write.recorded_by
    if act.model._default_manager.filter(submission_id=key).exists():
        raise Refused(
            409, "Something was recorded by this Idempotency-Key otherwise: make another."
        )
    row, words = act.record(sent, key, by)
    write.record_key = row.pk
    write.answer = json.dumps(
        {
            "id": row.pk,
            "url": f"{reverse('api:api-root')}{act.name}/{row.pk}",
            "page": _page_of(act, row),
            "words": words,
        },
        ensure_ascii=False,
    )
    write.save(force_insert=True)
    return _response(write)


def _page_of(act: Act, row: Any) -> str:
    if act.page:
        return reverse(act.page, args=[row.pk])
    return reverse("machine-page", args=[sort_of(row.machine).slug, row.machine.pk])


def _known(write: ApiWrite) -> HttpResponse | None:
    """Return the answer of the first time, None where there was none.

    Raises Refused where it was another request, or somebody else’s.
    """
    known = ApiWrite.objects.filter(submission_id=write.submission_id).first()
    if known is None:
        return None
    same = ("recorded_by_id", "path", "body_hash")
    if any(getattr(known, name) != getattr(write, name) for name in same):
        when = moment_words(known.recorded_at)
        words = f"This key came with another request on {when}: make one for each record."
        raise Refused(409, words, [Wrong("Idempotency-Key", str(write.submission_id), words)])
    return _response(known, is_again=True)


def _response(write: ApiWrite, *, is_again: bool = False) -> HttpResponse:
    response = HttpResponse(write.answer, status=201, content_type="application/json")
    response["Location"] = json.loads(write.answer)["url"]
    if is_again:
        response["Idempotent-Replayed"] = "true"
    return response


for each in ACTS:
    add_act(each)

__all__ = ["ACTS", "Act", "router"]
