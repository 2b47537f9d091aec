from __future__ import annotations

from typing import Any

from fleet.dates import day_words
from fleet.management.record_command import RecordCommand
from inspections.retention.kinds import KINDS, past, rules_by_kind
from inspections.retention.recording import still_there


class Command(RecordCommand):
    help = (
        "List the files that are past the time they are kept, and what keeps those that must stay. "
        "Lets nothing go: an equipment manager does that by name, on the page of each kind."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        rules = rules_by_kind()
        many = 0
        for kind in KINDS:
            for each in past(kind, rules.get(kind.key)):
                many += 1
                fate = f"must stay: {each.held}" if each.held else "may go"
                day = day_words(each.row.recorded_at)
                self.stdout.write(f"{kind.title}: {each.words}, of {day}: {fate}")
        self.stdout.write(f"{many} past their time.")
        for gone in still_there():
            self.stdout.write(f"Let go, and there all the same: {gone.words} ({gone.name})")
