"""Propose, confirm, turn down: what two people do where the policy asks for both."""

from __future__ import annotations

import logging
import uuid
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Model

from fleet.dates import moment_words
from fleet.housings import lock_all_housings
from fleet.people.yards import in_yard_of, lock_and_look_again, touches_of
from fleet.roles import keeps_records_now, refuse_without_role, who_words
from fleet.signers import signer_words
from ratings.ledger.ahead import rated_ahead
from ratings.models import LedgerEntry, Proposal, ProposalAnswer
from ratings.payload import CannotBeRead, differences, is_refusal, read
from ratings.proposals.acts import ACTS, confirmed, name_of

logger = logging.getLogger(__name__)

SYSTEMS = ("us", "si")
ANEW = "Turn this one down, and propose it anew."


def _touched(what: str, payload: str) -> Iterator[Any]:
    """What a proposal would touch; nothing where its arguments mean nothing any more."""
    try:
        arguments = read(payload)
    except CannotBeRead:
        return
    yield from touches_of(ACTS[what].record).of(arguments)


def _proposed(given: Mapping[str, Any]) -> Iterator[Any]:
    yield from _touched(given["what"], given["payload"])


def _waiting(given: Mapping[str, Any]) -> Iterator[Any]:
    proposal: Proposal = given["proposal"]
    yield from _touched(proposal.what, proposal.payload)


@in_yard_of(_proposed)
@transaction.atomic
def propose(*, submission_id: uuid.UUID, what: str, payload: str, why: str, by: User) -> Proposal:
    """Put a proposal on record for another person to confirm.

    what, payload: the act and its arguments, as `payload.written` has them. A second copy, or one
    of the same that still waits, changes nothing. Raises ValidationError where no reason is given
    or the arguments mean nothing any more.
    """
    lock_and_look_again()
    same = Proposal.objects.open().filter(what=what, payload=payload).first()
    known = Proposal.objects.filter(submission_id=submission_id).first() or same
    if known is not None:
        return known
    if not why.strip():
        raise ValidationError({"why": "This is blank: say to whoever confirms it why it is right."})
    act = ACTS[what].act
    try:
        arguments = read(payload)
    except CannotBeRead:
        raise ValidationError(
            "What it is of has changed since: open its page and enter it again."
        ) from None
    return Proposal.objects.create(
        submission_id=submission_id,
        what=what,
        title=act.title(arguments)[:300],
        about=name_of(act.about(arguments)),
        payload=payload,
        facts=act.facts(arguments),
        details={system: act.details(arguments, system) for system in SYSTEMS},
        why=why.strip(),
        recorded_by=by,
    )


def about_of(proposal: Proposal) -> Model:
    """Return what a proposal is about; itself where its arguments mean nothing any more."""
    arguments = arguments_of(proposal)
    return proposal if arguments is None else ACTS[proposal.what].act.about(arguments)


def arguments_of(proposal: Proposal) -> dict[str, Any] | None:
    """Return what a proposal would be recorded with, None where that means nothing any more."""
    try:
        return read(proposal.payload)
    except CannotBeRead:
        return None


def details_of(proposal: Proposal, system: str) -> list[tuple[str, str]]:
    """Return what a proposal would record, in the words it was proposed with.

    Worked out from today's records for one proposed before the words were kept.
    """
    if proposal.details:
        return [(label, words) for label, words in proposal.details[system]]
    arguments = arguments_of(proposal)
    return [] if arguments is None else ACTS[proposal.what].act.details(arguments, system)


def changes_since(proposal: Proposal) -> list[str]:
    """Say what of the facts a proposal rests on has changed since it was made."""
    arguments = arguments_of(proposal)
    if arguments is None:
        return ["something it names is on record no more"]
    return differences(proposal.facts, ACTS[proposal.what].act.facts(arguments))


def rates_many(proposal: Proposal) -> bool:
    """Whether what is proposed may rate many units again."""
    return ACTS[proposal.what].act.rates_many


@rated_ahead(unless=lambda given: not rates_many(given["proposal"]))
@in_yard_of(_waiting)
@transaction.atomic
def confirm_proposal(*, submission_id: uuid.UUID, proposal: Proposal, by: User) -> ProposalAnswer:
    """Record what was proposed, by whoever proposed it, and who confirmed it, all or nothing.

    A second copy of a submission changes nothing. Raises ValidationError where it is answered
    already, where who confirms it proposed it or may keep no records, where who proposed it may
    keep none any more, where facts under it have changed, and where its recording function
    refuses it.
    """
    found = _to_be_answered(proposal, submission_id)
    if isinstance(found, ProposalAnswer):
        return found
    proposal, proposer = found, found.recorded_by
    if proposer.pk == by.pk:
        raise ValidationError("You proposed this: another equipment manager must confirm it.")
    refuse_without_role(by, "confirm it")
    if not keeps_records_now(proposer):
        raise ValidationError(
            f"{who_words(proposer)}, who proposed it, keeps records no more. {ANEW}"
        )
    # So that no fact changes between the look at it and the record.
    lock_all_housings()
    if changes := changes_since(proposal):
        raise ValidationError(f"Since it was proposed, {'; '.join(changes)}. {ANEW}")
    registered = ACTS[proposal.what]
    try:
        with confirmed():
            recorded = registered.record(**read(proposal.payload), by=proposer)
    except ValidationError as refusal:
        raise ValidationError(
            f"It can’t be recorded any more: {' '.join(refusal.messages)} {ANEW}"
        ) from None
    except Exception as fault:
        if not is_refusal(fault, registered.act.refusals):
            raise
        if type(fault) is ValueError:
            logger.exception("%s: not recorded", proposal.title)
        raise ValidationError(f"It can’t be recorded any more: {fault} {ANEW}") from None
    return ProposalAnswer.objects.create(
        submission_id=submission_id,
        proposal=proposal,
        proposed_by=proposer,
        is_confirmed=True,
        cause=registered.act.cause,
        record=registered.act.outcome(recorded),
        recorded_by=by,
    )


@in_yard_of(_waiting)
@transaction.atomic
def turn_down(
    *, submission_id: uuid.UUID, proposal: Proposal, reason: str, by: User
) -> ProposalAnswer:
    """Say that a proposal is not recorded, and why; whoever proposed it may too.

    A second copy of a submission changes nothing. Raises ValidationError where it is answered
    already, where no reason is given, and where they may keep no records.
    """
    found = _to_be_answered(proposal, submission_id)
    if isinstance(found, ProposalAnswer):
        return found
    lock_and_look_again()
    refuse_without_role(by, "turn it down")
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say why it is not to be recorded."})
    return ProposalAnswer.objects.create(
        submission_id=submission_id,
        proposal=found,
        proposed_by=found.recorded_by,
        is_confirmed=False,
        reason=reason.strip(),
        recorded_by=by,
    )


def _to_be_answered(proposal: Proposal, submission_id: uuid.UUID) -> Proposal | ProposalAnswer:
    """Lock a proposal and return it, or the answer this very submission gave it before."""
    found = Proposal.objects.select_for_update().get(pk=proposal.pk)
    known = ProposalAnswer.objects.filter(proposal=found).select_related("recorded_by").first()
    if known is None:
        return found
    if known.submission_id == submission_id:
        return known
    done = "confirmed it" if known.is_confirmed else "turned it down"
    raise ValidationError(
        f"{signer_words(known)} {done} on {moment_words(known.recorded_at)}: that stands."
    )


def confirmers(cause: str, records: Iterable[int]) -> dict[int, ProposalAnswer]:
    """Return how records of one cause were confirmed, by their keys, where somebody did."""
    answers = ProposalAnswer.objects.filter(
        is_confirmed=True, cause=cause, record__in=list(records)
    ).select_related("recorded_by")
    return {each.record: each for each in answers if each.record is not None}


def confirmers_of(entries: Iterable[LedgerEntry]) -> dict[int, ProposalAnswer]:
    """Return how what caused ledger entries was confirmed, by their keys, where somebody did."""
    entries = list(entries)
    answers = ProposalAnswer.objects.filter(
        is_confirmed=True,
        record__in={each.cause_record for each in entries if each.cause_record is not None},
    ).select_related("recorded_by")
    by_cause = {(each.cause, each.record): each for each in answers}
    return {
        each.pk: by_cause[each.cause, each.cause_record]
        for each in entries
        if (each.cause, each.cause_record) in by_cause
    }
