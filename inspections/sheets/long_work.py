"""Long sheets are rehearsed and taken beside the page, so that no request waits for minutes."""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import datetime, timedelta
from threading import Thread
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import connection
from django.utils import timezone

from fleet.aside import NoRoom
from inspections.exchange.incoming import Refused
from inspections.models import SheetDraft
from inspections.sheets.recording import rehearse_sheet, take_sheet

logger = logging.getLogger(__name__)

REHEARSE, TAKE = "rehearsed", "taken in"
# A sheet of so many rows is done while its person waits.
MOST_AT_ONCE = 300
# What a row takes at the most, so that work which died with its server is not waited for.
ROW_SECONDS = 2.0
LEAST_SECONDS = 120.0


def start(work: Callable[[], None]) -> None:
    """Do work beside the request that asked for it."""

    def run() -> None:
        try:
            work()
        finally:
            connection.close()

    Thread(target=run, name="sheet", daemon=True).start()


def is_long(rows: int) -> bool:
    """Whether a sheet of so many rows is worked on beside the page."""
    return rows > MOST_AT_ONCE


def begin(draft: SheetDraft, by: User, what: str, rows: int) -> None:
    """Begin to rehearse or take a long sheet; its page tells how that goes."""
    tried = {} if what == REHEARSE else draft.rehearsal
    working = {"what": what, "since": timezone.now().isoformat(), "rows": rows, "tried": tried}
    draft.rehearsal = {"working": working}
    draft.save(update_fields=["rehearsal", "changed_at"])
    start(lambda: _work(draft.pk, by, what, tried))


def _work(draft_id: int, by: User, what: str, tried: dict[str, Any]) -> None:
    draft = SheetDraft.objects.filter(pk=draft_id).first()
    if draft is None:
        return
    try:
        if what == REHEARSE:
            rehearse_sheet(draft=draft, by=by)
            return
        draft.rehearsal = tried
        draft.save(update_fields=["rehearsal", "changed_at"])
        news = take_sheet(draft=draft, by=by, keeps_draft=True)
        result: dict[str, Any] = {"taken": news}
    except (ValidationError, Refused) as refusal:
        result = {"trouble": f"Nothing was taken: {' '.join(getattr(refusal, 'messages', []))}"}
    except NoRoom as full:
        result = {"trouble": str(full)}
    except Exception:
        # Whatever went wrong, the page must not wait for it for ever.
        logger.exception("sheet %s of “%s” not %s", draft_id, by, what)
        result = {"trouble": "Something went wrong on our side, and nothing was taken."}
    SheetDraft.objects.filter(pk=draft_id).update(rehearsal=result)


def working_on(draft: SheetDraft) -> dict[str, Any] | None:
    """Return what is being done with a draft, None where nothing is, or it died."""
    working: dict[str, Any] | None = draft.rehearsal.get("working")
    if working is None:
        return None
    since = datetime.fromisoformat(working["since"])
    longest = timedelta(seconds=max(LEAST_SECONDS, ROW_SECONDS * working["rows"]))
    return working | {"began": since} if timezone.now() < since + longest else None
