from __future__ import annotations

import shutil
from argparse import ArgumentParser
from hashlib import file_digest
from pathlib import Path
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.core.files import File
from django.core.management.base import CommandError
from django.utils import timezone

from fleet.aside import NoRoom
from fleet.context import system_of_person
from fleet.management.record_command import RecordCommand
from fleet.models import SuppressorHousing, Yard
from fleet.roles import RECORD
from inspections.archive.making import Options, archive_name, make_archive
from inspections.exchange.incoming import Refused
from inspections.receiving.as_register import Told
from inspections.receiving.reading import NotTaken, check
from inspections.receiving.recording import (
    Coming,
    known_by,
    read,
    receive_unit,
    refuse_one_that_is_here,
    rehearse,
)
from ratings.record.packing import TooMuch


class Command(RecordCommand):
    help = (
        "give: write the record of a unit as one file, its ledger alone with --chain. "
        "try: check an archive of another site, and say what would become of it. "
        "take: take the unit in, its machines, lots and tests; it comes unrated and out of service."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("action", choices=["give", "try", "take"])
        parser.add_argument("what", help="mark of the housing to give, or the archive to take")
        parser.add_argument("--as", dest="username", required=True, help="who answers for it")
        parser.add_argument("--to", default=".", help="folder to write the archive into")
        parser.add_argument("--chain", action="store_true", help="the ledger alone")
        parser.add_argument("--no-files", action="store_true", help="without photos and files")
        parser.add_argument("--pull-sheet", action="store_true", help="with the last pull sheet")
        parser.add_argument("--seal", metavar="FILE", help="a seal of that site")
        parser.add_argument("--yard", help="name of the yard the unit comes to")
        parser.add_argument(
            "--mark",
            action="append",
            default=[],
            metavar="THERE=HERE",
            help="what one is called here, such as “lot L-12=BP-12”; may be given several times",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        by = User.objects.filter(username=options["username"], is_active=True).first()
        if by is None:
            raise CommandError(
                f"--as is {options['username']!r}: give the username of who answers for it."
            )
        if options["action"] == "give":
            self._give(by, options)
        elif not by.has_perm(RECORD):
            raise CommandError(f"--as is {by.username!r}: only an equipment manager takes a unit.")
        else:
            self._take(by, options)

    def _give(self, by: User, options: dict[str, Any]) -> None:
        housing = SuppressorHousing.objects.filter(mark=options["what"]).first()
        if housing is None:
            raise CommandError(f"No housing is called {options['what']!r}: give its mark.")
        chosen = Options(
            is_chain=options["chain"],
            with_files=not options["no_files"],
            with_pull_sheet=options["pull_sheet"],
            system=system_of_person(by),
        )
        try:
            seal, opened = make_archive(housing, maker=by, options=chosen)
            with opened:
                path = Path(options["to"]) / archive_name(housing, seal, chosen)
                with path.open("xb") as file:
                    shutil.copyfileobj(opened, file)
        except TooMuch as trouble:
            raise CommandError(f"{trouble} Give --no-files.") from trouble
        except OSError as trouble:
            raise CommandError(f"--to can’t be written into: {trouble.strerror}.") from trouble
        self.stdout.write(f"{path}, under seal {seal.number}: send that seal another way.")

    def _take(self, by: User, options: dict[str, Any]) -> None:
        path = Path(options["what"])
        try:
            seal = Path(options["seal"]).read_text(encoding="utf-8") if options["seal"] else ""
            with path.open("rb") as opened:
                size, sha256 = path.stat().st_size, file_digest(opened, "sha256").hexdigest()
                known = known_by(sha256)
                if known is not None:
                    self.stdout.write(f"It was taken already, as {known.housing}: nothing changed.")
                    return
                checked = check(opened, size, seal)
                told = read(checked)
                refuse_one_that_is_here(checked, told)
                for line in checked.told:
                    self.stdout.write(f"✓ {line}.")
                coming = Coming(
                    checked,
                    told,
                    sha256,
                    size,
                    self._yard(options["yard"]),
                    timezone.now(),
                    _marks(told, options["mark"]),
                )
                if options["action"] == "take":
                    received = receive_unit(coming, file=File(opened), by=by)
                    self.stdout.write(
                        f"{received} is here, as {received.housing}: unrated and out of service."
                    )
                else:
                    self._rehearse(coming, by)
        except (OSError, UnicodeDecodeError) as trouble:
            raise CommandError(f"A file can’t be read: {trouble}.") from trouble
        except ValidationError as refusal:
            told_by_field = getattr(refusal, "message_dict", {"": refusal.messages})
            words = " ".join(each for messages in told_by_field.values() for each in messages)
            raise CommandError(f"Not taken. {words} Give --mark THERE=HERE.") from refusal
        except (NotTaken, NoRoom) as refusal:
            raise CommandError(f"Not taken. {refusal}") from refusal
        except Refused as refused:
            fate = refused.trial.refused[0]
            raise CommandError(f"Not taken. A row of {fate.table}: {fate.words}.") from refused

    def _rehearse(self, coming: Coming, by: User) -> None:
        trial = rehearse(coming, by)
        for fate in trial.runs:
            self.stdout.write(f"{fate.table}: {fate.outcome} {fate.words}".rstrip())
        if trial.refused:
            raise CommandError("It can’t be taken: see what is refused.")
        self.stdout.write("Nothing was kept. Give take in place of try to take it.")

    def _yard(self, name: str | None) -> Yard:
        yard = Yard.objects.filter(name=name or "", retired_on__isnull=True).first()
        if yard is None:
            raise CommandError(f"--yard is {name!r}: give the name of the yard it comes to.")
        return yard


def _marks(told: Told, given: list[str]) -> dict[str, str]:
    """Return what each is called here. Raises CommandError for one that is not in the archive."""
    by_words = {each.words: each for each in told.called}
    marks = {each.field: each.mark for each in told.called}
    for pair in given:
        there, _, here = pair.partition("=")
        if there not in by_words or not here.strip():
            raise CommandError(
                f"--mark is {pair!r}: give one of {', '.join(sorted(by_words))}, an equals sign, "
                "and what it is called here."
            )
        marks[by_words[there].field] = here.strip()
    return marks
