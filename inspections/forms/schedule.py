from __future__ import annotations

from typing import Any

from django import forms

from fleet.forms.measured import NumberField
from inspections.models import ServiceSchedule
from inspections.schedule.rows import Row
from ratings.forms.submission import SubmissionForm

SCHEDULED = ("each shift", "monthly", "yearly", "pad count", "after repair", "before extraction")


class ScheduleForm(SubmissionForm):
    """How often each kind is due; a kind with neither days nor hours is not scheduled."""

    reason = forms.CharField(label="Why it changes", max_length=200)

    def __init__(self, *args: Any, in_force: tuple[Row, ...], **kwargs: Any) -> None:
        self.in_force = {row.kind: row for row in in_force}
        super().__init__(*args, **kwargs)
        for kind in SCHEDULED:
            self._add(kind, self.in_force.get(kind))

    def _add(self, kind: str, row: Row | None) -> None:
        name = _name(kind)
        self.fields[f"{name}_days"] = NumberField(
            label=f"{kind.capitalize()}: days between",
            least=1,
            most=3650,
            whole=True,
            required=False,
            example="31",
            initial="" if row is None or row.days is None else str(row.days),
        )
        self.fields[f"{name}_hours"] = NumberField(
            label="or running hours between",
            least=1,
            most=100_000,
            required=False,
            example="250",
            initial="" if row is None or row.hours is None else f"{row.hours:g}",
        )
        self.fields[f"{name}_by_whom"] = forms.CharField(
            label="by whom", max_length=80, required=False, initial=row.by_whom if row else ""
        )
        self.fields[f"{name}_basis"] = forms.CharField(
            label="what it follows",
            max_length=200,
            required=False,
            initial=row.basis if row else "",
        )
        self.fields[f"{name}_keep"] = NumberField(
            label="months its records must be kept",
            least=1,
            most=1200,
            whole=True,
            required=False,
            example="12",
            initial="" if row is None or row.keep_months is None else str(row.keep_months),
        )

    @property
    def groups(self) -> list[tuple[str, list[Any]]]:
        """The fields of each kind, for the page."""
        ends = ("days", "hours", "by_whom", "basis", "keep")
        return [(kind, [self[f"{_name(kind)}_{end}"] for end in ends]) for kind in SCHEDULED]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if self.errors:
            return cleaned
        if not self.rows:
            raise forms.ValidationError("Nothing would be scheduled: give days or hours of a kind.")
        before = tuple(self.in_force[kind] for kind in SCHEDULED if kind in self.in_force)
        if self.rows == before and not self.is_on_record(ServiceSchedule):
            raise forms.ValidationError("Nothing differs from the schedule in force.")
        return cleaned

    @property
    def rows(self) -> tuple[Row, ...]:
        """The schedule entered."""
        read = (self._row(kind) for kind in SCHEDULED)
        return tuple(row for row in read if row is not None)

    def _row(self, kind: str) -> Row | None:
        name, cleaned = _name(kind), self.cleaned_data
        days, hours = cleaned.get(f"{name}_days"), cleaned.get(f"{name}_hours")
        if days is None and hours is None:
            return None
        before = self.in_force.get(kind)
        return Row(
            kind=kind,
            days=days,
            hours=hours,
            by_whom=cleaned.get(f"{name}_by_whom", ""),
            basis=cleaned.get(f"{name}_basis", ""),
            keep_months=cleaned.get(f"{name}_keep"),
            in_use_only=before.in_use_only if before else kind == "each shift",
        )


def _name(kind: str) -> str:
    return kind.replace(" ", "_")
