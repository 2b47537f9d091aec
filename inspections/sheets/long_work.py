"""Long sheets are rehearsed and taken beside the page, so that no request waits for minutes."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.aside import NoRoom
from fleet.long_work.acts import Tell
from fleet.long_work.queue import ask, look_after
from fleet.models import LongWork
from fleet.people.yards import in_every_yard
from fleet.roles import refuse_without_role
from inspections.exchange.incoming import Refused
from inspections.models import SheetDraft
from inspections.sheets.recording import rehearse_sheet, take_sheet

REHEARSE, TAKE = "rehearsed", "taken in"
# A sheet of so many rows is done while its person waits.
MOST_AT_ONCE = 300


def is_long(rows: int) -> bool:
    """Whether a sheet of so many rows is worked on beside the page."""
    return rows > MOST_AT_ONCE


@in_every_yard
def begin(draft: SheetDraft, by: User, what: str, rows: int) -> None:
    """Begin to rehearse or take a long sheet; its page tells how that goes."""
    tried = {} if what == REHEARSE else draft.rehearsal
    with transaction.atomic():
        work = ask("sheet", {"draft": draft.pk, "by": by.pk, "what": what}, by=by)
        working = {"what": what, "rows": rows, "tried": tried, "work": work.pk}
        draft.rehearsal = {"working": working}
        draft.save(update_fields=["rehearsal", "changed_at"])


def do(arguments: dict[str, Any], _tell: Tell) -> None:
    """Rehearse a sheet or take it; what came of it is kept with it, in one transaction."""
    draft = SheetDraft.objects.filter(pk=arguments["draft"]).first()
    if draft is None or "working" not in draft.rehearsal:
        return
    by, what = User.objects.get(pk=arguments["by"]), arguments["what"]
    try:
        # As they are at this moment: it may have waited since they were allowed to ask for it.
        refuse_without_role(by, "send it")
        if what == REHEARSE:
            rehearse_sheet(draft=draft, by=by)
        else:
            _take(draft, by)
    except (ValidationError, Refused) as refusal:
        words = f"Nothing was taken: {' '.join(getattr(refusal, 'messages', []))}"
        give_up(arguments, words)
    except NoRoom as full:
        give_up(arguments, str(full))


@transaction.atomic
def _take(draft: SheetDraft, by: User) -> None:
    draft.rehearsal = draft.rehearsal["working"]["tried"]
    draft.save(update_fields=["rehearsal", "changed_at"])
    news = take_sheet(draft=draft, by=by, keeps_draft=True)
    SheetDraft.objects.filter(pk=draft.pk).update(rehearsal={"taken": news})


def give_up(arguments: dict[str, Any], words: str) -> bool:
    """Let the page of the sheet say why nothing came of it, unless something did."""
    draft = SheetDraft.objects.filter(pk=arguments["draft"], rehearsal__has_key="working")
    return bool(draft.update(rehearsal={"trouble": words}))


def working_on(draft: SheetDraft) -> dict[str, Any] | None:
    """Return what is being done with a draft, None where nothing is, or it was given up."""
    working: dict[str, Any] | None = draft.rehearsal.get("working")
    if working is None:
        return None
    work = LongWork.objects.filter(pk=working.get("work", 0), ended_at=None).first()
    if work is None:
        return None
    look_after(work)
    return working | {"began": work.asked_at}
