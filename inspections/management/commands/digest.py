from __future__ import annotations

from typing import Any

from django.core.management.base import CommandError, CommandParser

from fleet.management.record_command import RecordCommand
from inspections.schedule.commitment_letters import send_commitment_letters
from inspections.waiting.digest import NobodyToTell, NotSent, send_digest
from ratings.record.daily import seal_and_verify


class Command(RecordCommand):
    help = (
        "Verify and seal the record, and e-mail every equipment manager what is due and the seal, "
        "and who committed a unit what became of it. Ends with 1 where the record does not hold. "
        "Run it daily."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--site", default="", help="address of this site, such as https://ledger.example"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        site = options["site"].rstrip("/")
        if site and not site.startswith(("https://", "http://")):
            raise CommandError("--site is no address: give one such as https://ledger.example.")
        planners = send_commitment_letters(site)
        if planners:
            self.stdout.write(f"Told {', '.join(dict.fromkeys(planners))} of their commitments.")
        day = seal_and_verify()
        if day.faults:
            # Here too, since a letter may reach nobody.
            self.stderr.write("\n".join([day.summary, *day.faults]))
        try:
            addresses = send_digest(site, day)
        except NobodyToTell:
            raise CommandError(
                "Something is due, or the record does not hold, and nobody was told: no person in "
                "the group “equipment manager” has an e-mail address. Give them one under Set-up, "
                "People."
            ) from None
        except NotSent as unsent:
            raise CommandError(
                f"Not sent to {unsent}: what the mail server answered stands above. "
                "Look at EMAIL_HOST and what goes with it, then run this again."
            ) from None
        if addresses:
            self.stdout.write(f"Sent to {', '.join(addresses)}.")
        if day.faults:
            raise CommandError(f"{day.summary} What it is stands above.")
