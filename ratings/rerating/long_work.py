"""Acts that rate many units again are done beside their page, which tells how that goes.

They are tried first, as whoever asks waits: what would be refused is refused then. What is done
later is the same recording function, given the same. It looks again at who asks, at their yards,
and at what the act rests on, rates the units ahead, and records all of it at once or nothing.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType
from typing import Any, TypeVar

from django import forms
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Model
from django.utils import timezone

from fleet.dates import moment_words
from fleet.fields import words_by_field
from fleet.housings import lock_every_housing
from fleet.long_work.acts import Tell
from fleet.long_work.queue import ask
from fleet.models import LongWork, PadLot, SuppressorHousing
from fleet.refusals import keep_refusal
from fleet.roles import refuse_without_role
from fleet.signers import signer_words
from ratings.ledger.ahead import ahead_of, as_if_of, giving, only_tried
from ratings.models import RatingPolicy
from ratings.payload import (
    CannotBeKept,
    CannotBeRead,
    differences,
    facts_of,
    is_refusal,
    named,
    read,
    refusals_of,
    written,
)

logger = logging.getLogger(__name__)

R = TypeVar("R")
WHAT = "rerating"
# So many units are rated again while whoever asks waits: a second or two.
MOST_AT_ONCE = 300
GONE = "Something it names is on record no more: open its page, and enter it again."
AGAIN = "Look at its page, and enter it again where it still holds."


class UnderWay(ValidationError):
    """Something else of the same lot, or of the policy, is being done."""


def record_or_begin(
    record: Callable[..., R],
    given: Mapping[str, Any],
    *,
    by: User,
    title: str,
    about: Model,
    page: str,
    form: forms.BaseForm,
    system: str,
    form_names: Mapping[str, str] = MappingProxyType({}),
) -> R | LongWork:
    """Record something at once, or begin to where it rates many units again.

    given: the arguments of the recording function, its submission's id among them, but `by`. title:
    what is recorded, in words. about: the record it is of; of a lot or the policy one such work
    alone is under way, and the same submission leads to it. page: where what comes of it is looked
    at. form, system: whose fields, and in which units, a refusal names. form_names: fields of the
    form by what the record calls them, where it calls them otherwise. Raises what the recording
    function raises, and UnderWay where another is.
    """
    key, submission = key_of(about), str(given["submission_id"])
    if (same := _under_way(key, submission)) is not None:
        return same
    if SuppressorHousing.objects.count() <= MOST_AT_ONCE:
        return record(**given, by=by)
    try:
        payload = written(given)
    except CannotBeKept:
        # Such as a photo, whose file no trial undoes.
        return record(**given, by=by)
    with only_tried() as trial:
        record(**given, by=by)
    if len(trial.housings) <= MOST_AT_ONCE:
        return record(**given, by=by)
    facts = facts_of(record)
    arguments = {
        "record": f"{record.__module__}:{record.__qualname__}",
        "given": payload,
        "submission": submission,
        "facts": facts(given) if facts else {},
        "title": title,
        "page": page,
        "units": len(trial.housings),
        "labels": _labels(form, form_names),
        "system": system,
    }
    try:
        with transaction.atomic():
            return ask(WHAT, arguments, by=by, about=key)
    except IntegrityError:
        # Somebody else began at the same moment.
        same = _under_way(key, submission)
        if same is None:
            raise
        return same


def _labels(form: forms.BaseForm, form_names: Mapping[str, str]) -> dict[str, str]:
    """Return the label of each field, by its name on the form and by what the record calls it."""
    own = {name: str(field.label or "") for name, field in form.fields.items()}
    return own | {name: own[on_form] for name, on_form in form_names.items()}


def key_of(about: Model) -> str:
    """Return what re-ratings are kept by: the lot that something is of, the policy, or itself."""
    if isinstance(about, RatingPolicy):
        return about._meta.label_lower
    lot = getattr(about, "lot_id", None)
    return (
        f"{PadLot._meta.label_lower}:{lot}"
        if lot is not None
        else f"{about._meta.label_lower}:{about.pk}"
    )


def _under_way(key: str, submission: str) -> LongWork | None:
    """Return the work of a submission that is under way. Raises UnderWay for another."""
    going = LongWork.objects.filter(what=WHAT, about=key, ended_at=None)
    # What came of one stands already, and only that it is over could not be told.
    going.exclude(result={}).update(ended_at=timezone.now())
    found = going.select_related("asked_by").first()
    if found is None or found.arguments["submission"] == submission:
        return found
    raise UnderWay(
        f"{found.arguments['title']}, asked for by {signer_words(found, 'asked_by', 'asked_at')} "
        f"on {moment_words(found.asked_at)}, is under way and rates the same units again, as "
        "shown above: wait until it is over, and look at what came of it first."
    )


def do(arguments: dict[str, Any], tell: Tell) -> None:
    """Record what was asked for; how many units it changed is kept with it, in one transaction."""
    work = LongWork.objects.select_related("asked_by").get(pk=arguments["work"])
    if work.result:
        return
    record = named(arguments["record"])
    facts = facts_of(record)

    def recorded() -> None:
        # As they are at this moment: what they may do, and in which yards.
        by = User.objects.get(pk=work.asked_by_id)
        refuse_without_role(by, "ask for it")
        given = read(arguments["given"])
        if facts is not None:
            # So that no fact changes between the look at it and the record.
            lock_every_housing()
            if changes := differences(arguments["facts"], facts(given)):
                raise ValidationError(f"Since it was asked for, {'; '.join(changes)}. {AGAIN}")
        record(**given, by=by)

    try:
        ahead = ahead_of(recorded, as_if_of(record, read(arguments["given"])), tell)
        with transaction.atomic(), giving(ahead) as out:
            if LongWork.objects.select_for_update().get(pk=work.pk).result:
                # Whoever began it, and was taken for dead, did it after all.
                return
            recorded()
            _keep(work.pk, {"rated": out.posted})
    except CannotBeRead:
        _refused(work, [["", GONE]])
    except ValidationError as refusal:
        _refused(work, list(_words(refusal, arguments)))
    except Exception as fault:
        if not is_refusal(fault, refusals_of(record)):
            raise
        if type(fault) is ValueError:
            logger.exception("%s: not recorded", arguments["title"])
        _refused(work, [["", f"{fault} {AGAIN}"]])


def _refused(work: LongWork, told: list[list[str]]) -> None:
    """Keep why nothing was recorded: for the page, and beside all else that was refused."""
    if not _keep(work.pk, {"refused": told}):
        return
    keep_refusal(
        work.asked_by,
        page=WHAT,
        path=work.arguments["page"],
        fields=[label for label, _ in told if label],
        words=[work.arguments["title"], *(words for _, words in told)],
    )


def give_up(arguments: dict[str, Any], words: str) -> bool:
    """Let the pages say why nothing came of it, unless something did."""
    return _keep(arguments["work"], {"trouble": words})


def _keep(work: int, result: dict[str, Any]) -> bool:
    """Keep what came of a work, and say whether nothing had come of it before."""
    # What is on record tells of itself; what is not waits until somebody has seen it.
    is_told = "rated" in result
    found = LongWork.objects.filter(pk=work, result={})
    return bool(found.update(result=result, is_told=is_told))


def _words(refusal: ValidationError, arguments: Mapping[str, Any]) -> Iterable[list[str]]:
    """Give what was refused in words, each beside the label of the field it is of, or ""."""
    for name, words in words_by_field(refusal, arguments["system"]).items():
        yield [arguments["labels"].get(name, ""), " ".join(words)]
