"""The forms of an inspection and of a pad replacement: the pad map, and what is signed with it."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict
from django.utils import timezone

from fleet.dates import moment_words
from fleet.fields import MomentField, SubmissionForm, field_of, words_by_field
from fleet.models import HourReading, PadLot, SuppressorHousing
from fleet.models.housing import Condition
from inspections.count.submission import Submission
from inspections.models import Inspection
from ratings.models import CurrentRating

PREFIXES = ("condition-", "lot-")


@dataclass
class PadCell:
    """One position of the map: what was chosen, and what is wrong with it."""

    side: str
    number: int
    condition: str = ""
    lot: str = ""
    errors: list[str] = field(default_factory=list)

    @property
    def name(self) -> str:
        return f"{self.side}{self.number}"

    @property
    def lot_id(self) -> int | None:
        """The lot's key; None where the pad is missing, whatever was chosen before it was."""
        return int(self.lot) if self.lot and self.condition != Condition.MISSING else None


class PadMap:
    """Reads the cells of a map from a request, and keeps what was chosen for showing again."""

    def __init__(self, housing: SuppressorHousing, lots: Iterable[PadLot]) -> None:
        self.housing = housing
        self.lots = list(lots)
        self.cells = [PadCell(side, number) for side, number in housing.position_keys]
        self.errors: list[str] = []

    @property
    def sides(self) -> dict[str, list[PadCell]]:
        return {side: [cell for cell in self.cells if cell.side == side] for side in ("A", "B")}

    @property
    def is_counted(self) -> bool:
        """Whether any position was; one that only tapes or reads leaves all of them open."""
        return any(cell.condition for cell in self.cells)

    @property
    def left_open(self) -> list[PadCell]:
        """Positions that a count begun has said nothing of, once it was found wanting."""
        return [cell for cell in self.cells if cell.errors and not cell.condition]

    @property
    def is_valid(self) -> bool:
        return not self.errors and not any(cell.errors for cell in self.cells)

    def fill(self, known: Mapping[tuple[str, int], tuple[str, int | None]]) -> None:
        """Start from what is known of each position: its condition and its lot's key."""
        for cell in self.cells:
            condition, lot_id = known.get((cell.side, cell.number), ("", None))
            cell.condition, cell.lot = condition, str(lot_id or "")

    def read(self, data: QueryDict, *, conditions: bool) -> None:
        """Take the cells from a form; `conditions`: each must have one where any has."""
        self._refuse_strangers(data)
        marks = {str(lot.pk) for lot in self.lots}
        for cell in self.cells:
            # Where no script runs, one tick stands for a choice at every sound pad.
            cell.condition = self._only(data, cell, "condition-") or data.get("rest", "")
            cell.lot = self._only(data, cell, "lot-")
            if cell.lot and cell.lot not in marks:
                cell.errors.append(f"“{cell.lot}” is no lot on record: choose one from the list.")
                cell.lot = ""
        for cell in self.cells if conditions and self.is_counted else ():
            self._check_condition(cell)

    def _refuse_strangers(self, data: QueryDict) -> None:
        known = {prefix + cell.name for cell in self.cells for prefix in PREFIXES}
        for key in data:
            if key.startswith(PREFIXES) and key not in known:
                self.errors.append(
                    f"Position {key.split('-', 1)[1]} is not on housing {self.housing}: it has "
                    f"{self.housing.positions_per_side} on each side."
                )

    def _only(self, data: QueryDict, cell: PadCell, prefix: str) -> str:
        given = data.getlist(prefix + cell.name)
        if len(given) > 1:
            cell.errors.append(f"{cell.name} is given twice: give each position once.")
        return given[0] if given else ""

    def _check_condition(self, cell: PadCell) -> None:
        if not cell.condition:
            cell.errors.append(f"{cell.name} was not counted: say what is in it.")
        elif cell.condition not in Condition.values:
            cell.errors.append(
                f"“{cell.condition}” is no condition: choose {', '.join(Condition.values)}."
            )


def ledger_sequence(housing: SuppressorHousing) -> int:
    """Return the number of the unit's last ledger entry, 0 where there is none."""
    rating = CurrentRating.objects.filter(housing=housing).first()
    return rating.sequence if rating else 0


class SigningForm(SubmissionForm):
    """What a form signed at a unit carries: its id, and the ledger entry it was based on."""

    based_on = forms.IntegerField(widget=forms.HiddenInput, min_value=0, label="ledger entry")

    def rebase(self, housing: SuppressorHousing) -> None:
        """Keep what was typed, on the state of the unit that the person is now shown."""
        data = cast(QueryDict, self.data).copy()
        data["based_on"] = str(ledger_sequence(housing))
        self.data = data

    def take(self, trouble: ValidationError) -> None:
        """Show what a signing refused: at its field, or above the form where it has none."""
        for name, words in words_by_field(trouble, self.system).items():
            for each in words:
                self.add_error(name if name in self.fields else None, each)

    def submission(self) -> Submission:
        """Return the signing's identity; the form must be valid."""
        submission_id: uuid.UUID = self.cleaned_data["submission_id"]
        return Submission(submission_id, self.cleaned_data["based_on"])


class InspectionForm(SigningForm):
    """What was seen at a housing, besides its pads."""

    seen_at = MomentField(label="Seen at", initial=timezone.now)
    late_record = forms.BooleanField(
        label="Enter it late, at its own time",
        required=False,
        help_text="It goes into the history at its own time and changes no newer fact.",
    )
    travel_in = field_of(Inspection, "travel_in")
    travel_reason = field_of(Inspection, "travel_reason")
    hours = field_of(HourReading, "hours", required=False)
    note = forms.CharField(
        label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}), max_length=2000
    )
    correction_reason = forms.CharField(label="What was wrong", max_length=200)

    def __init__(
        self, *args: Any, housing: SuppressorHousing, is_correction: bool, **kwargs: Any
    ) -> None:
        self.housing = housing
        super().__init__(*args, **kwargs)
        if is_correction:
            # It puts right what was seen then, so it keeps that time.
            self.fields["seen_at"].disabled = True
            del self.fields["late_record"]
        else:
            del self.fields["correction_reason"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        self._check_newer(cleaned)
        return cleaned

    @property
    def needs_travel_reason(self) -> bool:
        """Whether the page must ask why the travel is what it is."""
        return bool(self["travel_reason"].value()) or "travel_reason" in self.errors

    def _check_newer(self, cleaned: dict[str, Any]) -> None:
        seen_at = cleaned.get("seen_at")
        if seen_at is None or "late_record" not in self.fields or cleaned.get("late_record"):
            return
        newer = Inspection.objects.filter(housing=self.housing, seen_at__gt=seen_at).first()
        if newer is not None:
            self.add_error(
                "seen_at",
                f"A newer inspection, of {moment_words(newer.seen_at)}, is "
                "on record: mend the time, or tick “Enter it late”.",
            )

    @property
    def needs_late_record(self) -> bool:
        """Whether the page must offer to enter the record late."""
        return "late_record" in self.fields and (
            bool(self["late_record"].value()) or "seen_at" in self.errors
        )


class ReplacementForm(SigningForm):
    """When pads were fitted."""

    fitted_at = MomentField(label="Fitted at", initial=timezone.now)
    note = forms.CharField(
        label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}), max_length=2000
    )
