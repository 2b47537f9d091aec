"""Post entries to the ledgers of housings, inside the transaction of whatever caused them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import prefetch_related_objects

from fleet import clock
from fleet.housings import lock_every_housing
from fleet.models import SuppressorHousing
from fleet.questions import Question, among
from ratings.ledger.ahead import (
    NOTHING_AHEAD,
    Ahead,
    AllAhead,
    given_ahead,
    may_work_ahead,
    trial_under_way,
    work_ahead,
    work_out,
)
from ratings.ledger.canonical import canonical_text, digest, is_same, text_of_parts, time_text
from ratings.ledger.facts import Facts, PositionsOf, gather, sources
from ratings.mechanics.record import FORMAT, results_of_format
from ratings.models import CurrentRating, LedgerEntry
from ratings.models.ledger import GENESIS_HASH

# Results that stand in columns of their own as well, so that they can be searched.
COLUMN_RESULTS = (
    "standing",
    "pull_lbf",
    "working_capacity_lbf",
    "listed_lbf",
    "usable_travel_in",
    "sound_pads",
    "positions",
)


@dataclass(frozen=True)
class Cause:
    """Why an entry is posted: its kind, the record behind it, and a sentence for people."""

    kind: str
    words: str
    record: int | None = None

    # Kinds. An entry that corrects another has the kind of the record that corrects it.
    PAD_COUNT = "pad count"
    PAD_REPLACEMENT = "pad replacement"
    SECOND_LOOK = "second look"
    LOT_RATED = "lot rated"
    RATE_WITHDRAWN = "rate withdrawn"
    RATE_STALE = "rate gone stale"
    LOT_CORRECTED = "lot corrected"
    LISTING = "listing"
    POLICY = "policy"
    MOUNTING = "mounting"
    GUIDE = "guide of the housing"
    METHOD = "rating method changed"
    PROOF_PULL = "proof pull"
    PROOF_PULL_SET_ASIDE = "proof pull set aside"


def post(
    housings: Sequence[SuppressorHousing],
    *,
    cause: Cause,
    occurred_at: datetime,
    by: User,
    corrects: Mapping[int, LedgerEntry] | None = None,
    ahead: AllAhead = NOTHING_AHEAD,
    positions: PositionsOf | None = None,
) -> list[LedgerEntry]:
    """Post an entry for each housing whose facts changed, and move its head on.

    The caller holds the locks on the housings. A housing whose facts are those of its last
    entry gets none, unless this is a correction of one of its entries (`corrects`, by housing).
    ahead: what was worked out before the locks were taken, for units that did not change since;
    what was given to all that is posted now, unless it is said. On trial nothing is posted.
    positions: as `gather` takes them, of a caller who has just brought them to the newest facts.
    """
    trial, given = trial_under_way(), given_ahead()
    if trial is not None:
        trial.meet(housings)
        return []
    if given is not None:
        ahead = ahead or given.ahead
    recorded_at = clock.now()
    facts = gather(housings, positions=positions)
    heads = _heads(housings, facts, ahead)
    posted: list[LedgerEntry] = []
    for housing in housings:
        corrected = (corrects or {}).get(housing.pk)
        found = facts[housing.pk]
        head = heads.get(housing.pk)
        known = _still_so(ahead.get(housing.pk), found, head)
        if corrected is None and head is not None and _is_said(head, found, known):
            continue
        posted.append(
            _entry(housing, found, known, head, cause, occurred_at, recorded_at, by, corrected)
        )
    LedgerEntry.objects.bulk_create(posted)
    _move_heads(heads, posted)
    if given is not None:
        given.posted += len(posted)
    return posted


# By no order: that of their model joins the housings.
_HEADS = Question(
    lambda housings: (
        CurrentRating.objects.order_by().filter(among("housing", housings)).select_related("head")
    )
)


def _heads(
    housings: Sequence[SuppressorHousing], facts: Mapping[int, Facts], ahead: AllAhead
) -> dict[int, CurrentRating]:
    """Return where the ledgers end, with those entries that nobody looked at ahead."""
    keys = [each.pk for each in housings]
    if not ahead:
        return {head.housing_id: head for head in _HEADS.ask(housings=keys)}
    heads = CurrentRating.objects.order_by().filter(housing__in=keys)
    found = {head.housing_id: head for head in heads}
    moved = [
        head for key, head in found.items() if _still_so(ahead.get(key), facts[key], head) is None
    ]
    prefetch_related_objects(moved, "head")
    return found


def _still_so(ahead: Ahead | None, facts: Facts, head: CurrentRating | None) -> Ahead | None:
    """Return what was worked out ahead where neither facts nor ledger moved since, else None."""
    head_hash = head.head_hash if head else GENESIS_HASH
    return ahead if ahead is not None and ahead.is_of(facts, head_hash) else None


def _is_said(head: CurrentRating, facts: Facts, known: Ahead | None) -> bool:
    return known.says(facts) if known else says(head.head, facts)


def entries_caused_by(kind: str, record: int, housing_ids: Iterable[int]) -> dict[int, LedgerEntry]:
    """Return, by housing, the entry that one record caused there, where it caused one."""
    entries = LedgerEntry.objects.filter(
        housing__in=list(housing_ids), cause=kind, cause_record=record
    )
    return {entry.housing_id: entry for entry in entries}


def says(entry: LedgerEntry, facts: Facts) -> bool:
    """Say whether an entry, by today's method, rests on these very facts."""
    if entry.contents["format"] != FORMAT:
        return False
    return is_same(facts.inputs_record, entry.inputs) and is_same(
        sources(facts.provenance), sources(entry.contents["provenance"])
    )


def _entry(
    housing: SuppressorHousing,
    facts: Facts,
    ahead: Ahead | None,
    head: CurrentRating | None,
    cause: Cause,
    occurred_at: datetime,
    recorded_at: datetime,
    by: User,
    corrects: LedgerEntry | None,
) -> LedgerEntry:
    worked = ahead.worked if ahead else work_out(facts)
    sequence = head.sequence + 1 if head else 1
    previous_hash = head.head_hash if head else GENESIS_HASH
    contents = {
        "format": FORMAT,
        "housing": housing.mark,
        "sequence": sequence,
        "occurred_at": time_text(occurred_at),
        "recorded_at": time_text(recorded_at),
        # The key stays though a person may come to be called otherwise.
        "recorded_by": {"record": by.pk, "name": by.get_full_name() or by.get_username()},
        "cause": {"kind": cause.kind, "words": cause.words, "record": cause.record},
        "corrects": ({"sequence": corrects.sequence, "hash": corrects.hash} if corrects else None),
        "provenance": facts.provenance,
        "previous_hash": previous_hash,
    }
    spelled = {name: canonical_text(part) for name, part in contents.items()}
    document = text_of_parts(
        spelled | {"inputs": worked.inputs_text, "results": worked.results_text}
    )
    return LedgerEntry(
        housing=housing,
        sequence=sequence,
        occurred_at=occurred_at,
        recorded_at=recorded_at,
        recorded_by=by,
        cause=cause.kind,
        cause_record=cause.record,
        corrects=corrects,
        document=document,
        previous_hash=previous_hash,
        hash=digest(document),
        **{name: worked.results[name] for name in COLUMN_RESULTS},
    )


def entry_as_if_posted(
    housing: SuppressorHousing, facts: Facts, occurred_at: datetime
) -> LedgerEntry:
    """Return the entry that facts would come to by today's method: in no ledger, never saved."""
    results = results_of_format(FORMAT, facts.inputs)
    contents = {
        "format": FORMAT,
        "inputs": facts.inputs_record,
        "provenance": facts.provenance,
        "results": results,
    }
    return LedgerEntry(
        housing=housing,
        occurred_at=occurred_at,
        document=canonical_text(contents),
        **{name: results[name] for name in COLUMN_RESULTS},
    )


def _move_heads(heads: Mapping[int, CurrentRating], posted: Sequence[LedgerEntry]) -> None:
    """Let each housing's head be its new entry: one moves by itself, many in one statement."""
    moved = [
        CurrentRating(
            housing_id=entry.housing_id,
            head=entry,
            sequence=entry.sequence,
            head_hash=entry.hash,
        )
        for entry in posted
    ]
    if len(moved) == 1 and moved[0].housing_id in heads:
        (to,) = moved
        CurrentRating.objects.filter(pk=heads[to.housing_id].pk).update(
            head=to.head, sequence=to.sequence, head_hash=to.head_hash
        )
        return
    CurrentRating.objects.bulk_create(
        moved,
        update_conflicts=True,
        unique_fields=["housing"],
        update_fields=["head", "sequence", "head_hash"],
    )


def post_stale_rates(by: User) -> list[LedgerEntry]:
    """Rate every unit again and post an entry where a rate has gone stale since its last."""
    rated = SuppressorHousing.objects.filter(current_rating__isnull=False).order_by("pk")
    ahead = work_ahead(list(rated)) if may_work_ahead() else NOTHING_AHEAD
    with transaction.atomic():
        lock_every_housing()
        return post(
            list(rated.all()),
            cause=Cause(Cause.RATE_STALE, "A lot's rate went stale"),
            occurred_at=clock.now(),
            by=by,
            ahead=ahead,
        )
