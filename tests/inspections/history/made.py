"""Long histories, made and being made."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User
from django.core.files.base import ContentFile
from django.utils import timezone

from fleet.models import LongWork
from inspections.models import HistoryRun


def made_history(by: User, **changes: Any) -> HistoryRun:
    now = timezone.now()
    plain: dict[str, Any] = {
        "asked_by": by,
        "of": "fleet",
        "words": "the fleet",
        "today": timezone.localdate(),
        "system": "us",
        "total": 3,
        "ended_at": now,
        "pages": 2,
        "file": ContentFile(b"%PDF-1.7", "history.pdf"),
    }
    return HistoryRun.objects.create(**plain | changes)


def history_being_made(by: User, done: int = 0, **changes: Any) -> HistoryRun:
    """One of which so many entries and inspections are written."""
    work = LongWork.objects.create(what="history", arguments={}, asked_by=by, done=done)
    return made_history(by, ended_at=None, file="", pages=None, work=work, **changes)
