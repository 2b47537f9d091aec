"""The register of a large yard is written beside its page, and waits there to be fetched."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from django.contrib.auth.models import User
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.utils import timezone

from fleet.cells import WORKBOOK
from fleet.long_work.acts import Tell
from fleet.long_work.queue import ask, look_after
from fleet.models import LongWork
from inspections.exchange.outgoing import register_rows, write_csvs, write_workbook
from inspections.models import Inspection

WHAT = "export"
# So many inspections are written, with all that goes with them, while whoever asked waits.
MOST_AT_ONCE = 5_000
Write = Callable[[Mapping[str, Sequence[Sequence[object]]]], bytes]
# By form: what writes it, its type of content, and how its name ends.
FORMATS: dict[str, tuple[Write, str, str]] = {
    "xlsx": (write_workbook, WORKBOOK, "xlsx"),
    "csv": (write_csvs, "application/zip", "zip"),
}


def is_long() -> bool:
    """Whether the register is so large that it is written beside its page."""
    return Inspection.objects.count() > MOST_AT_ONCE


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


def do(arguments: dict[str, Any], _tell: Tell) -> None:
    """Write the register, and keep it where it waits."""
    write, _, ending = FORMATS[arguments["form"]]
    name = f"register-{timezone.localdate():%Y-%m-%d}.{ending}"
    place = f"exports/{arguments['work']}.{ending}"
    default_storage.delete(place)
    kept = default_storage.save(place, ContentFile(write(register_rows())))
    LongWork.objects.filter(pk=arguments["work"]).update(result={"file": kept, "name": name})


def give_up(arguments: dict[str, Any], words: str) -> None:
    """Let the page say why there is none."""
    LongWork.objects.filter(pk=arguments["work"]).update(result={"trouble": words})
