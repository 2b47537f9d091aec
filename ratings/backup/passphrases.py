"""The passphrase of a backup: of a file, or asked for."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from getpass import getpass
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError

from ratings.backup.cipher import LEAST_LETTERS


def add_passphrase_arguments(parser: ArgumentParser) -> None:
    either = parser.add_mutually_exclusive_group()
    either.add_argument("--passphrase-file", metavar="FILE", help="holds the passphrase, in a line")
    either.add_argument("--ask-passphrase", action="store_true", help="ask for the passphrase")


def passphrase_given(options: dict[str, Any], *, is_new: bool) -> str:
    """Return the passphrase, "" where none is to be. Raises CommandError.

    is_new: one to encrypt with, which must be long, and is asked for twice.
    """
    if options["passphrase_file"]:
        where = f"--passphrase-file {options['passphrase_file']}"
        try:
            found = Path(options["passphrase_file"]).read_text(encoding="utf-8").strip("\r\n")
        except (OSError, UnicodeDecodeError) as trouble:
            raise CommandError(f"{where} can’t be read: {trouble}.") from trouble
    elif options["ask_passphrase"]:
        where, found = "The passphrase", _asked(is_new)
    else:
        return ""
    if not found or (is_new and len(found) < LEAST_LETTERS):
        raise CommandError(
            f"{where} is of {len(found)} letters: give at least {LEAST_LETTERS}, such as four "
            "words that nobody says together. Whoever loses it loses the backup."
        )
    return found


def _asked(is_new: bool) -> str:
    if not sys.stdin.isatty():
        raise CommandError("Nobody is there to be asked for a passphrase: give --passphrase-file.")
    found = getpass("Passphrase: ")
    if is_new and getpass("Once more: ") != found:
        raise CommandError("These were two different ones: nothing was backed up.")
    return found
