"""Files that wait to be fetched or taken are cleared once nobody came for them for long.

An export waits for whoever asked for it; a register, and a unit's record from another site, for
being taken. Each can be written or sent again.
"""

from __future__ import annotations

from contextlib import suppress

from django.core.files.storage import default_storage

from fleet import clock
from fleet.long_work.queue import KEPT_FOR, forget_old
from fleet.models import LongWork
from inspections.exchange import long_register

FOLDERS = ("exports", "imports")


def clear_left() -> int:
    """Clear the files that waited for longer than what is said of them, and return how many."""
    forget_old()
    cleared, needed = 0, _needed()
    for name in _waiting():
        if name in needed:
            continue
        # Whoever comes for it at this moment lets go of it too.
        with suppress(FileNotFoundError):
            if clock.now() - default_storage.get_modified_time(name) >= KEPT_FOR:
                default_storage.delete(name)
                cleared += 1
    return cleared


def _needed() -> set[str]:
    """Return what registers are being tried or taken from, or will be."""
    works = LongWork.objects.filter(what=long_register.WHAT, ended_at=None)
    return {long_register.WAITING.format(work.asked_by_id) for work in works}


def _waiting() -> list[str]:
    found = []
    for folder in FOLDERS:
        with suppress(FileNotFoundError):
            _, files = default_storage.listdir(folder)
            found += [f"{folder}/{name}" for name in sorted(files)]
    return found
