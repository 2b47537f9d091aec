"""The register of a large yard is written beside its page, and waits there to be fetched."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from tempfile import TemporaryFile
from typing import IO, Any

from django.contrib.auth.models import User
from django.core.files.base import File
from django.core.files.storage import default_storage
from django.utils import timezone

from fleet.cells import WORKBOOK
from fleet.journal.snapshot import one_moment
from fleet.long_work.acts import Tell
from fleet.long_work.queue import ask, look_after
from fleet.models import LongWork
from inspections.exchange.outgoing import (
    Tables,
    csvs_into,
    register_tables,
    workbook_into,
)
from inspections.exchange.reading import MOST_BYTES, MOST_ROWS
from inspections.models import Inspection, PadCount

WHAT = "export"
# So many inspections are written, with all that goes with them, while whoever asked waits.
MOST_AT_ONCE = 5_000
MOST_PADS_AT_ONCE = 60_000
Write = Callable[[Tables, IO[bytes]], None]
# By form: what writes it, its type of content, and how its name ends.
FORMATS: dict[str, tuple[Write, str, str]] = {
    "xlsx": (workbook_into, WORKBOOK, "xlsx"),
    "csv": (csvs_into, "application/zip", "zip"),
}


def is_long() -> bool:
    """Whether the register is so large that it is written beside its page."""
    return Inspection.objects.count() > MOST_AT_ONCE or PadCount.objects.count() > MOST_PADS_AT_ONCE


def work_of(by: User, form: str) -> LongWork | None:
    """Return the last export of a form that somebody asked for and that is not let go."""
    works = LongWork.objects.filter(what=WHAT, asked_by=by, arguments__form=form, is_told=False)
    work = works.order_by("-pk").first()
    if work is not None:
        look_after(work)
    return work


def begin(by: User, form: str) -> LongWork:
    """Begin to write the register, in place of what was written for somebody in this form."""
    for old in LongWork.objects.filter(what=WHAT, asked_by=by, arguments__form=form):
        if "file" in old.result:
            default_storage.delete(old.result["file"])
    LongWork.objects.filter(what=WHAT, asked_by=by, arguments__form=form).update(is_told=True)
    return ask(WHAT, {"form": form}, by=by)


def do(arguments: dict[str, Any], tell: Tell) -> None:
    """Write the register as it stands at one moment, and keep it where it waits."""
    if LongWork.objects.get(pk=arguments["work"]).result:
        return
    _, _, ending = FORMATS[arguments["form"]]
    name = f"register-{timezone.localdate():%Y-%m-%d}.{ending}"
    place = f"exports/{arguments['work']}.{ending}"
    default_storage.delete(place)
    with TemporaryFile() as file:
        many = write(arguments["form"], file, tell)
        size = file.tell()
        kept = default_storage.save(place, File(file, name=place))
    result = {"file": kept, "name": name, "rows": many, "too_large": too_large(many, size)}
    LongWork.objects.filter(pk=arguments["work"]).update(result=result)


def write(form: str, file: IO[bytes], tell: Tell | None = None) -> int:
    """Write the register of one moment into a file, and return how many rows it has.

    tell: told of rows as they are written.
    """
    counted = [0]

    def told(rows: Iterable[Sequence[object]]) -> Iterator[Sequence[object]]:
        for row in rows:
            counted[0] += 1
            if tell is not None:
                tell(1)
            yield row

    with one_moment():
        FORMATS[form][0]({name: told(rows) for name, rows in register_tables().items()}, file)
    return counted[0]


def too_large(rows: int, size_bytes: int) -> str:
    """Say why no import takes a register whole, and what would do; "" where one does."""
    if rows > MOST_ROWS:
        words = f"It has {rows:,} rows, and an import takes {MOST_ROWS:,} at a time"
    elif size_bytes > MOST_BYTES:
        words = (
            f"It has {size_bytes / 1024**2:,.0f} MB, and an import takes {MOST_BYTES // 1024**2} "
            "at a time"
        )
    else:
        return ""
    return (
        f"{words}. Elsewhere, take in what the yard owns and what hung on it first, then the "
        "tables counts and pads by their days, the oldest first, with the pads of each count in "
        "the file of that count; rows sent twice change nothing. The whole record at once is moved "
        "by “manage.py backup” and “restore”."
    )


def give_up(arguments: dict[str, Any], words: str) -> bool:
    """Let the page say why there is none, unless there is one."""
    work = LongWork.objects.filter(pk=arguments["work"], result={})
    return bool(work.update(result={"trouble": words}))
