from __future__ import annotations

import sys
from getpass import getpass
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import CommandError, CommandParser

from fleet.management.record_command import RecordCommand
from fleet.people.recording import Particulars, link_of, make_first_manager


class Command(RecordCommand):
    help = (
        "Enter the equipment manager who sets the site up; asks for what is not given. Works only "
        "while no equipment manager may sign in: everybody else is entered on the site."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--username", help="the name to sign in by, such as kay")
        parser.add_argument("--name", help="first and last name, as papers are to bear it")
        parser.add_argument("--email", default="", help="where the daily letter goes")
        parser.add_argument(
            "--link",
            action="store_true",
            help="print the path of a page on which the password is chosen, in place of asking",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        username = options["username"] or self._ask("Sign-in name, such as kay: ")
        first, _, last = (options["name"] or self._ask("First and last name: ")).partition(" ")
        password = None if options["link"] else self._ask_password()
        try:
            made = make_first_manager(
                username=username.strip(),
                particulars=Particulars(first.strip(), last.strip(), options["email"].strip()),
                password=password,
            )
        except ValidationError as refusal:
            raise CommandError("\n".join(refusal.messages)) from None
        self.stdout.write(f"“{made.username}” is equipment manager, and enters everybody else.")
        if password is None:
            self.stdout.write(f"Once the site runs, the password is chosen at {link_of(made)}")

    def _ask(self, question: str) -> str:
        if not sys.stdin.isatty():
            raise CommandError("Nobody is here to ask: give --username, --name and --link.")
        return input(question)

    def _ask_password(self) -> str:
        if not sys.stdin.isatty():
            raise CommandError("Nobody is here to ask for a password: give --link as well.")
        password = getpass("Password: ")
        if getpass("Password again: ") != password:
            raise CommandError("The two are not the same: nothing was kept.")
        return password
