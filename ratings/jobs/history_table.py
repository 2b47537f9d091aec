"""The versions of a job as a table."""

from __future__ import annotations

from typing import Any

from fleet.tables import Column, MomentColumn, PersonColumn, RecordsTable, TemplateColumn
from ratings.jobs.history import differences
from ratings.models import JobVersion


class HistoryTable(RecordsTable):
    """A row for each save that changed anything."""

    caption = "Versions"
    empty_words = "None kept: it was saved before versions were, and not changed since."
    dated_by = ("recorded_at",)

    number = Column("Version")
    recorded_at = MomentColumn("Saved")
    by = PersonColumn("By")
    changes = TemplateColumn("jobs/version_changes.html", "What it changed", orderable=False)

    def load_page(self, records: list[JobVersion]) -> None:
        before = {}
        if records:
            numbers = {each.number - 1 for each in records}
            of_job = JobVersion.objects.filter(job=records[0].job_id, number__in=numbers)
            before = {each.number: each.contents for each in of_job}
        self.changed = {
            each.number: differences(before[each.number - 1], each.contents, self.system)
            for each in records
            if each.number - 1 in before
        }

    def cell_context(self, record: Any) -> dict[str, Any]:
        return super().cell_context(record) | {"changes": self.changed.get(record.number)}
