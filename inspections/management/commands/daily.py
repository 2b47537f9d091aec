from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management import call_command
from django.core.management.base import CommandError

from fleet.management.record_command import RecordCommand, manager_who_signs


class Command(RecordCommand):
    help = (
        "Do all that is to be done each day: post rates that went stale, keep forecasts, list "
        "files past their time, clear pieces of photos that never came whole and files that nobody "
        "came for, verify and seal the record and send the letters, back up. What fails keeps "
        "nothing else from being done, and is told at the end; so is a record that does not hold."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--as", dest="username", required=True, help="who signs what is posted")
        parser.add_argument("--site", default="", help="address of this site, for the letters")
        parser.add_argument("--backup", metavar="FOLDER", help="back up into this folder, last")
        parser.add_argument("--passphrase-file", metavar="FILE", help="encrypt the backup by it")

    def handle(self, *args: Any, **options: Any) -> None:
        # Before any letter goes out: they go out anew with each run.
        manager_who_signs(options["username"])
        steps: list[tuple[Any, ...]] = [
            ("ledger", "refresh", "--as", options["username"]),
            ("forecasts", "--as", options["username"]),
            ("retention",),
            ("photo_pieces",),
            ("left_files",),
            ("digest", "--site", options["site"]),
        ]
        if options["backup"]:
            word = options["passphrase_file"]
            how = ("--passphrase-file", word) if word else ()
            steps.append(("backup", options["backup"], *how))
        failed = [name for name, *more in steps if not self._is_done(name, more)]
        if failed:
            raise CommandError(f"Not done, or amiss: {', '.join(failed)}. Why stands above.")

    def _is_done(self, name: str, more: list[str]) -> bool:
        self.stdout.write(f"== {name} {' '.join(more)}".rstrip())
        try:
            call_command(name, *more, stdout=self.stdout, stderr=self.stderr)
        except Exception as trouble:
            self.stderr.write(f"{name}: {type(trouble).__name__}: {trouble}")
            return False
        return True
