from __future__ import annotations

from typing import Any

from fleet.management.record_command import RecordCommand
from inspections.photos.recording import DAYS_OF_PIECES, clear_pieces


class Command(RecordCommand):
    help = (
        f"Clear the pieces of photos that never came whole, {DAYS_OF_PIECES} days after the last. "
        "A phone keeps a photo until it is here whole, and sends it anew. Run it daily."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        photos = clear_pieces()
        self.stdout.write(f"Photos that never came whole, and were cleared: {photos}.")
