from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from inspections.demo.load import PASSWORD, Found, load_demo, look, read_scenario
from inspections.units.board import board_units, standing_line, with_outages


class Command(BaseCommand):
    help = "Set up the database, load the demo yard, say how its units stand, and serve the site."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="stop before serving")
        parser.add_argument("--port", type=int, default=8000, help="port to serve on")

    def handle(self, *args: Any, **options: Any) -> None:
        if not 1 <= options["port"] <= 65535:
            raise CommandError(f"--port is {options['port']}: give one from 1 to 65535.")
        self.stdout.write("Setting up the tables …")
        self.stdout.flush()
        call_command("migrate", verbosity=0)
        self._load()
        for housing in with_outages(board_units()):
            self.stdout.write(standing_line(housing))
        self.stdout.write("")
        self.stdout.write(f"The site: http://127.0.0.1:{options['port']}/")
        for person in read_scenario()["people"]:
            self.stdout.write(
                f"  sign in as {person['username']:<8} password {PASSWORD}  ({person['role']})"
            )
        if not options["no_serve"]:
            call_command("runserver", f"127.0.0.1:{options['port']}", use_reloader=False)

    def _load(self) -> None:
        found = look()
        if found is Found.REAL_WORK:
            raise CommandError(
                "This database holds work that is not the demo's, so nothing was touched. "
                "Name another by DATABASE_URL, or serve this one with manage.py runserver."
            )
        if found is Found.DEMO:
            self.stdout.write("The demo is there already.")
        else:
            self.stdout.write("Loading the demo yard, which takes a minute or two …")
            self.stdout.flush()
            load_demo()
            self.stdout.write("The demo yard is loaded.")
        self.stdout.write("")
