from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from ratings.backup.passphrases import add_passphrase_arguments, passphrase_given


class Command(BaseCommand):
    help = (
        "Put a backup into the database and the folder of files that the settings name, then "
        "verify the record and hold it to the seal the backup was made under. Stop the site first."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", help="a file that backup wrote")
        add_passphrase_arguments(parser)
        parser.add_argument(
            "--check", action="store_true", help="read it to its end, and put nothing anywhere"
        )
        parser.add_argument(
            "--replace",
            action="store_true",
            help="put it in the place of the records that are here (SQLite)",
        )
        parser.add_argument(
            "--seal",
            action="append",
            default=[],
            metavar="FILE",
            help="hold the record to this seal too, kept elsewhere; may be given several times",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        # Imported on need: no other command waits for the library of ciphers.
        from ratings.backup.restoring import NotRestored, check, restore
        from ratings.backup.writing import seal_words

        path, passphrase = Path(options["file"]), passphrase_given(options, is_new=False)
        try:
            if options["check"]:
                contents = check(path, passphrase)
            else:
                contents = restore(
                    path,
                    passphrase=passphrase,
                    may_replace=options["replace"],
                    say=self.stdout.write,
                )
        except NotRestored as trouble:
            raise CommandError(str(trouble)) from trouble
        for name in contents.missing:
            self.stderr.write(f"{name} was missing already when the backup was made.")
        self.stdout.write(f"Backed up {contents.made_at}. {seal_words(contents.seal)}.")
        if options["check"]:
            self.stdout.write(f"{path} is whole. Nothing was restored.")
        else:
            self._verify(contents.seal, options["seal"])

    def _verify(self, seal: str, given: list[str]) -> None:
        with NamedTemporaryFile("w", encoding="utf-8", suffix=".seal") as file:
            file.write(seal)
            file.flush()
            seals = [*([file.name] if seal else []), *given]
            try:
                call_command("ledger", "verify", seal=seals, stdout=self.stdout, stderr=self.stderr)
            except CommandError as broken:
                raise CommandError(f"It is restored, and does not hold. {broken}") from broken
        self.stdout.write("Restored, and all of it holds.")
