from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from ratings.upkeep.checks import State, examine

FRESH = (
    "On a machine where nothing is set up yet much is wrong below, and each line says what to do. "
    "How a site is put in service is told in the site itself: How this site works, A real "
    "deployment.\n"
)


class Command(BaseCommand):
    help = (
        "Look at everything a site in service must have, on the live site with its own settings, "
        "and say what is wrong and what to do. Ends with 1 where anything is wrong."
    )
    # It is what looks, also where the tables are not there yet.
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        found = list(examine())
        wrong = [each for _, each in found if each.state is State.WRONG]
        if any(name == "tables" and each.state is State.WRONG for name, each in found):
            self.stdout.write(FRESH)
        for name, each in found:
            self.stdout.write(f"{each.state:5}  {name}: {each.words}.")
            if each.what_to_do:
                self.stdout.write(f"       → {each.what_to_do}.")
        if wrong:
            many = "1 of these is" if len(wrong) == 1 else f"{len(wrong)} of these are"
            raise CommandError(f"{many} wrong: see → below each.")
        self.stdout.write("Nothing is wrong.")
