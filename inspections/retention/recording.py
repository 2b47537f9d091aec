"""How long files are kept, changed on record; and files past their time let go, by name."""

from __future__ import annotations

import logging
import uuid
from functools import partial
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.core.files.storage import Storage
from django.db import transaction
from django.urls import reverse

from fleet.dates import day_words
from fleet.housings import lock_all_housings
from fleet.journal.adoption import newest_rows
from fleet.journal.spelling import file_hash
from fleet.models import FileLetGo, LettingGo, RetentionRule
from fleet.models.retention import LEAST_YEARS, MOST_YEARS
from fleet.people.yards import in_every_yard
from inspections.retention.kinds import BY_KEY, Kind, Past, rule_of, told
from ratings.models import What
from ratings.proposals.acts import Act, Arguments, second_person

logger = logging.getLogger(__name__)

# Let go at once: more would hold up everybody who signs meanwhile.
MOST_AT_ONCE = 200
CHANGED = "Somebody changed what is on this page since: load it again."


@in_every_yard
@transaction.atomic
def set_rule(
    *,
    submission_id: uuid.UUID,
    kind: Kind,
    years: int | None,
    needs_second_person: bool,
    reason: str,
    by: User,
) -> RetentionRule:
    """Say for how long the files of a kind are kept; None for ever. Lets nothing go.

    A second copy of a submission changes nothing. Raises ValidationError naming the field.
    """
    known = RetentionRule.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    if years is not None and not LEAST_YEARS <= years <= MOST_YEARS:
        raise ValidationError(
            {"years": f"{years} won’t do: give {LEAST_YEARS} to {MOST_YEARS}, or nothing."}
        )
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say why."})
    before = rule_of(kind)
    then = (before.years, before.needs_second_person) if before else (None, True)
    if then == (years, needs_second_person):
        raise ValidationError("Nothing differs from the rule in force: change one.")
    return RetentionRule.objects.create(
        submission_id=submission_id,
        kind=kind.key,
        years=years,
        needs_second_person=needs_second_person,
        reason=reason.strip(),
        recorded_by=by,
    )


def _named(given: Arguments) -> list[Past]:
    kind = BY_KEY[given["kind"]]
    rows = kind.model._base_manager.filter(pk__in=given["keys"]).select_related(*kind.related)
    return list(told(kind, list(rows.order_by("recorded_at", "pk"))))


def _facts(given: Arguments) -> dict[str, str]:
    return {
        f"{each.words} ({each.row.pk})": each.held or "nothing keeps it" for each in _named(given)
    }


def _details(given: Arguments, system: str) -> list[tuple[str, str]]:
    files = [(day_words(each.row.recorded_at), each.words) for each in _named(given)]
    return [("Why", given["reason"]), *files]


def _asks(given: Arguments) -> bool:
    rule = rule_of(BY_KEY[given["kind"]])
    # Else one person could waive the second, let go, and ask for one again.
    return rule is None or rule.needs_second_person or rule.recorded_by_id == given["by"].pk


def _rule(given: Arguments) -> RetentionRule:
    found = rule_of(BY_KEY[given["kind"]])
    # Without a rule nothing is past its time, and what is not is refused before it is proposed.
    assert found is not None
    return found


LETTING_GO = Act(
    What.LETTING_GO,
    asks=_asks,
    title=lambda given: f"Letting go of {len(given['keys'])}: {BY_KEY[given['kind']].title}",
    about=_rule,
    facts=_facts,
    details=_details,
    page=lambda given: reverse("retention-kind", args=[given["kind"]]),
    known=LettingGo,
    cause=What.LETTING_GO.value,
)


@second_person(LETTING_GO)
@in_every_yard
@transaction.atomic
def let_go(
    *, submission_id: uuid.UUID, kind: str, keys: list[str], reason: str, by: User
) -> LettingGo:
    """Let the bytes of files go that are past their time; their rows, leaves and sums stay.

    kind, keys: which, by kind and the keys of their rows. A second copy of a submission changes
    nothing. Raises ValidationError where none is named, one is not past its time, something rests
    on one, or the bytes of one are not those on record: letting go must hide nothing.
    """
    # What holds a file must not change between the look at it and its going.
    lock_all_housings()
    known = LettingGo.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    of = BY_KEY[kind]
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say why, since it stays on record."})
    if not keys:
        raise ValidationError({"keys": "None is ticked: tick what may go."})
    if len(keys) > MOST_AT_ONCE:
        raise ValidationError({"keys": f"{len(keys)} are ticked: {MOST_AT_ONCE} at the most."})
    try:
        due = of.past_its_time(rule_of(of)).filter(pk__in=set(keys)).select_related(*of.related)
        rows = list(due)
    except (ValidationError, ValueError, OverflowError):
        raise ValidationError({"keys": CHANGED}) from None
    if {str(row.pk) for row in rows} != set(keys):
        raise ValidationError(
            {"keys": "One is not past its time, or was let go already: load the page again."}
        )
    named = list(told(of, rows))
    for each in named:
        if each.held:
            raise ValidationError({"keys": f"{each.words} must stay: {each.held}."})
    sums = _sums_on_record(of, named)
    made = LettingGo.objects.create(
        submission_id=submission_id, kind=of.key, reason=reason.strip(), recorded_by=by
    )
    FileLetGo.objects.bulk_create(
        FileLetGo(
            letting_go=made,
            model=of.label,
            row_key=str(each.row.pk),
            column=of.column,
            name=getattr(each.row, of.column).name,
            sha256=sums[str(each.row.pk)],
            words=each.words[:300],
        )
        for each in named
    )
    for each in named:
        file = getattr(each.row, of.column)
        # Only once it is on record: what goes without a record of it counts as lost.
        transaction.on_commit(partial(_remove, file.storage, file.name))
    return made


def _sums_on_record(kind: Kind, named: list[Past]) -> dict[str, str]:
    """Return the sum of each file as the journal has it. Raises ValidationError where it differs
    from that of the bytes kept, or there are none.
    """
    leaves = newest_rows(kind.label, [str(each.row.pk) for each in named])
    sums = {}
    for each in named:
        key, file = str(each.row.pk), getattr(each.row, kind.column)
        told_of: Any = ((leaves.get(key) or {}).get(kind.column)) or {}
        on_record = told_of.get("sha256")
        if on_record is None or file_hash(file.storage, file.name) != on_record:
            raise ValidationError(
                {
                    "keys": f"{each.words}: its bytes are missing, or not those on record. It "
                    "can’t be let go: verify the record, and ask whoever keeps the backup."
                }
            )
        sums[key] = on_record
    return sums


def _remove(storage: Storage, name: str) -> None:
    try:
        storage.delete(name)
    except OSError:
        logger.exception("a file let go could not be removed: remove %s by hand", name)


def still_there() -> list[FileLetGo]:
    """Return files let go whose bytes lie there all the same, such as after a backup came back."""
    found = []
    for each in FileLetGo.objects.select_related("letting_go").iterator(500):
        kind = BY_KEY.get(each.letting_go.kind)
        if kind is not None:
            field: Any = kind.model._meta.get_field(kind.column)
            if field.storage.exists(each.name):
                found.append(each)
    return found
