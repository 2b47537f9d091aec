from __future__ import annotations

import uuid
from argparse import ArgumentParser
from typing import Any

from fleet import clock
from fleet.management.record_command import RecordCommand, manager_who_signs
from inspections.forecast.recording import keep_monthly
from inspections.forecast.replay import keep_replay


class Command(RecordCommand):
    help = (
        "Keep the forecast of every unit that has none of this month yet, and once a month make "
        "those of past months again, held to what came. Run it daily."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--as", dest="username", required=True, help="who signs what is kept")

    def handle(self, *args: Any, **options: Any) -> None:
        signer = manager_who_signs(options["username"])
        kept = keep_monthly(by=signer)
        if kept:
            self.stdout.write(f"{len(kept)} forecast{'' if len(kept) == 1 else 's'} kept.")
        month = clock.today().replace(day=1)
        keep_replay(submission_id=uuid.uuid5(uuid.NAMESPACE_OID, f"replay {month}"), by=signer)
