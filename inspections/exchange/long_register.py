"""A long register is tried and taken beside its page, which tells how that goes.

What waits to be taken lies in a file of the person who sent it, and what came of it with the work.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import transaction

from fleet.aside import NoRoom
from fleet.long_work.acts import Tell
from fleet.long_work.queue import ask, look_after
from fleet.models import LongWork
from fleet.numbers import Decimals
from fleet.people.yards import in_every_yard
from fleet.roles import refuse_without_role
from inspections.exchange.incoming import Fate, Refused, Trial, try_register
from inspections.exchange.moves import Figures, Moved
from inspections.exchange.reading import Lines
from inspections.exchange.rows import parsed
from inspections.exchange.taken import take_and_keep

WHAT = "register"
TRY, TAKE = "tried", "taken in"
# A register of so many rows is done while its person waits.
MOST_AT_ONCE = 300
# What was tried waits here, by the person who tried it, until it is taken or tried again.
WAITING = "imports/{}.json"
ANOTHER = "Another file was tried since, or none waits: try this one again."


# What waits


def keep(by: User, lines: Lines) -> str:
    """Let what is tried wait, and return a name for it: what is taken is what was looked at."""
    told = json.dumps(lines).encode("utf-8")
    throw_away(by)
    default_storage.save(WAITING.format(by.pk), ContentFile(told))
    return _name_of(told)


def throw_away(by: User) -> None:
    """Let nothing of a person wait, and tell nothing more of what did."""
    default_storage.delete(WAITING.format(by.pk))
    LongWork.objects.filter(what=WHAT, asked_by=by).update(is_told=True)


def waiting(by: User, name: str) -> Lines | None:
    """Return what of a person waits by a name; None where another does, or nothing."""
    place = WAITING.format(by.pk)
    if not default_storage.exists(place):
        return None
    with default_storage.open(place) as file:
        told = bytes(file.read())
    if _name_of(told) != name:
        return None
    return {
        table: [(line, cells, Decimals(decimals)) for line, cells, decimals in rows]
        for table, rows in json.loads(told).items()
    }


def _name_of(told: bytes) -> str:
    return hashlib.sha256(told).hexdigest()


# What is done


def take(lines: Lines, by: User) -> Trial:
    """Take a register whole, or nothing of it. Raises as take_register does."""
    return take_and_keep(
        name="Register",
        rows=parsed(lines),
        by=by,
        place_of=lambda fate: f"{fate.table}, line {fate.line}",
    )


def is_long(lines: Lines) -> bool:
    """Whether a register is worked on beside the page."""
    return _rows(lines) > MOST_AT_ONCE


def _rows(lines: Lines) -> int:
    return sum(map(len, lines.values()))


@in_every_yard
def begin(by: User, what: str, name: str, lines: Lines) -> None:
    """Begin to try or take what waits by a name; the page tells how that goes."""
    ask(WHAT, {"by": by.pk, "what": what, "name": name, "rows": _rows(lines)}, by=by)


def do(arguments: dict[str, Any], _tell: Tell) -> None:
    """Try or take a register; what came of it is kept with the work, in one transaction."""
    work = LongWork.objects.get(pk=arguments["work"])
    if work.result:
        return
    by = User.objects.get(pk=arguments["by"])
    lines = waiting(by, arguments["name"])
    try:
        # As they are at this moment: it may have waited since they were allowed to ask for it.
        refuse_without_role(by, "send it")
        if lines is None:
            work.result = {"trouble": ANOTHER}
        elif arguments["what"] == TRY:
            work.result = {"trial": asdict(try_register(parsed(lines), by))}
        else:
            _take(work, lines, by)
            return
    except NoRoom as full:
        work.result = {"trouble": str(full)}
    except ValidationError as refusal:
        work.result = {"trouble": f"Nothing was taken: {' '.join(refusal.messages)}"}
    except Refused as refused:
        work.result = {"trial": asdict(refused.trial), "is_refused": True}
    work.save(update_fields=["result"])


@transaction.atomic
def _take(work: LongWork, lines: Lines, by: User) -> None:
    work.result = {"taken": take(lines, by).news}
    work.save(update_fields=["result"])


def give_up(arguments: dict[str, Any], words: str) -> bool:
    """Let the page say why nothing came of it, unless something did."""
    work = LongWork.objects.filter(pk=arguments["work"], result={})
    return bool(work.update(result={"trouble": words}))


def work_of(by: User) -> LongWork | None:
    """Return the last long register of a person: being worked on, or over and not told yet."""
    work = LongWork.objects.filter(what=WHAT, asked_by=by).order_by("-pk").first()
    if work is None or work.is_told:
        return None
    look_after(work)
    return work


def told(work: LongWork) -> None:
    """Remember that its person was told what came of a work."""
    LongWork.objects.filter(pk=work.pk).update(is_told=True)


def trial_of(result: dict[str, Any]) -> Trial | None:
    """Return the trial that a result keeps, None where it keeps none."""
    kept = result.get("trial")
    if kept is None:
        return None
    return Trial(
        tuple(Fate(**each) for each in kept["fates"]),
        tuple(
            Moved(
                each["housing"],
                each["hammer"],
                Figures(**each["before"]),
                Figures(**each["after"]),
            )
            for each in kept["moves"]
        ),
    )
