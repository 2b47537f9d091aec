from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from ratings.ledger.verify import BrokenLedger, verify_all


class Command(BaseCommand):
    help = "Verify the ledger: every hash, and every result from its inputs."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("action", choices=["verify"])

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            verified = verify_all()
        except BrokenLedger as broken:
            raise CommandError(f"The ledger does not hold: {broken}.", returncode=1) from broken
        self.stdout.write(
            f"{verified.entries} entries of {verified.housings} housings hold: "
            "every hash and every result."
        )
