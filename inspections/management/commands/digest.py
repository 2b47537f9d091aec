from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from inspections.schedule.digest import send_digest


class Command(BaseCommand):
    help = "E-mail every equipment manager what is due; silent when nothing is. Run it daily."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--site", default="", help="address of this site, such as https://ledger.example"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        addresses = send_digest(options["site"].rstrip("/"))
        if addresses:
            self.stdout.write(f"Sent to {', '.join(addresses)}.")
