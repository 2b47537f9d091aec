from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError

from fleet.management.record_command import RecordCommand
from ratings.backup.passphrases import add_passphrase_arguments, passphrase_given


class Command(RecordCommand):
    help = (
        "Back up the database and every kept file into one file, also while the site is in use. "
        "The record is sealed first; the file is read back before it gets its name. "
        "The site’s secret key is not in it."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("to", help="the file to be, or a folder, where it is named by the time")
        add_passphrase_arguments(parser)

    def handle(self, *args: Any, **options: Any) -> None:
        # Imported on need: no other command waits for the library of ciphers.
        from ratings.backup.writing import NotBackedUp, back_up, seal_words

        passphrase = passphrase_given(options, is_new=True)
        try:
            made = back_up(Path(options["to"]), passphrase)
        except NotBackedUp as trouble:
            raise CommandError(str(trouble)) from trouble
        sort = "encrypted" if passphrase else "not encrypted: whoever has it reads everything"
        self.stdout.write(
            f"{made.path}: {made.size / 1e6:.1f} MB, {sort}. Read back and whole: the database, "
            f"and {len(made.contents.files)} files."
        )
        self.stdout.write(f"{seal_words(made.contents.seal)}. Keep that apart from the backup.")
        for name in made.contents.missing:
            self.stderr.write(f"{name} is on record and not where it was kept: it is not in it.")
