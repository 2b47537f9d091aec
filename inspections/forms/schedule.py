from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django import forms

from fleet.forms.measured import NumberField
from inspections.kinds import Kind
from inspections.models import InspectionKind, ServiceSchedule
from inspections.schedule.rows import Row
from ratings.forms.submission import SubmissionForm

ENDS = ("days", "hours", "in_use", "by_whom", "basis", "keep")


@dataclass(frozen=True)
class Group:
    """The fields of one kind, and how it stands in words."""

    name: str
    words: str
    fields: list[Any]

    @property
    def has_errors(self) -> bool:
        return any(field.errors for field in self.fields)


class ScheduleForm(SubmissionForm):
    """How often each kind is due; a kind with neither days nor hours is not scheduled."""

    reason = forms.CharField(label="Why it changes", max_length=200)

    def __init__(
        self, *args: Any, kinds: Sequence[Kind], in_force: tuple[Row, ...], **kwargs: Any
    ) -> None:
        self.kinds = kinds
        self.in_force = {row.kind: row for row in in_force}
        super().__init__(*args, **kwargs)
        for kind in kinds:
            self._add(kind, self.in_force.get(kind.name))

    def _add(self, kind: Kind, row: Row | None) -> None:
        self.fields[f"{kind.key}_days"] = NumberField(
            label=f"{_capital(kind.name)}: days between",
            least=1,
            most=3650,
            whole=True,
            required=False,
            example="31",
            initial="" if row is None or row.days is None else str(row.days),
        )
        self.fields[f"{kind.key}_hours"] = NumberField(
            label="or running hours between",
            least=1,
            most=100_000,
            required=False,
            example="250",
            initial="" if row is None or row.hours is None else f"{row.hours:g}",
        )
        self.fields[f"{kind.key}_in_use"] = forms.BooleanField(
            label="only on days a job holds the unit",
            required=False,
            initial=row.in_use_only if row else kind.name == InspectionKind.SHIFT,
        )
        self.fields[f"{kind.key}_by_whom"] = forms.CharField(
            label="by whom", max_length=80, required=False, initial=row.by_whom if row else ""
        )
        self.fields[f"{kind.key}_basis"] = forms.CharField(
            label="what it follows",
            max_length=200,
            required=False,
            initial=row.basis if row else "",
        )
        self.fields[f"{kind.key}_keep"] = NumberField(
            label="months its records must be kept",
            least=1,
            most=1200,
            whole=True,
            required=False,
            example="12",
            initial="" if row is None or row.keep_months is None else str(row.keep_months),
        )

    @property
    def groups(self) -> list[Group]:
        """The kinds, for the page."""
        return [
            Group(
                kind.name,
                row.interval_words if (row := self.in_force.get(kind.name)) else "not scheduled",
                [self[f"{kind.key}_{end}"] for end in ENDS],
            )
            for kind in self.kinds
        ]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if self.errors:
            return cleaned
        if not self.rows:
            raise forms.ValidationError("Nothing would be scheduled: give days or hours of a kind.")
        before = [self.in_force[kind.name] for kind in self.kinds if kind.name in self.in_force]
        if list(self.rows) == before and not self.is_on_record(ServiceSchedule):
            raise forms.ValidationError("Nothing differs from the schedule in force.")
        return cleaned

    @property
    def rows(self) -> tuple[Row, ...]:
        """The schedule entered."""
        read = (self._row(kind) for kind in self.kinds)
        return tuple(row for row in read if row is not None)

    def _row(self, kind: Kind) -> Row | None:
        given = {end: self.cleaned_data.get(f"{kind.key}_{end}") for end in ENDS}
        if given["days"] is None and given["hours"] is None:
            return None
        return Row(
            kind=kind.name,
            days=given["days"],
            hours=given["hours"],
            by_whom=given["by_whom"] or "",
            basis=given["basis"] or "",
            keep_months=given["keep"],
            in_use_only=bool(given["in_use"]),
        )


def _capital(name: str) -> str:
    return name[:1].upper() + name[1:]
