from __future__ import annotations

from typing import Any

from fleet.long_work.queue import KEPT_FOR
from fleet.management.record_command import RecordCommand
from inspections.exchange.left import clear_left


class Command(RecordCommand):
    help = (
        f"Clear exports that nobody fetched, and what was sent and never taken in, {KEPT_FOR.days} "
        "days after. Each can be written or sent again. Run it daily."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write(f"Files that nobody came for, and were cleared: {clear_left()}.")
