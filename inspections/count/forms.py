"""The forms of an inspection and of a pad replacement: the pad map, and what is signed with it."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, cast

from django import forms
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.http import QueryDict
from django.utils import timezone

from fleet.dates import moment_words
from fleet.fields import MeasuredForm, MomentField, SubmissionForm, field_of, words_by_field
from fleet.hours import stand_near
from fleet.models import Hammer, HourReading, PadLot, PowerPack, SuppressorHousing
from fleet.models.housing import UNSOUND, Condition
from fleet.roles import managers_but, who_words
from inspections.count.signing import PadSeen, Seen, reason_trouble
from inspections.count.submission import Submission, not_on_housing, position_name
from inspections.models import Inspection, PadReplacement
from ratings.models import CurrentRating


@dataclass
class PadCell:
    """One position of the map: what was chosen, and what is wrong with it."""

    name: str
    side: str
    number: int
    condition: str = ""
    lot: str = ""
    errors: list[str] = field(default_factory=list)


class PadMap:
    """Reads the cells of a map from a request, and keeps what was chosen for showing again."""

    def __init__(self, housing: SuppressorHousing, lots: Iterable[PadLot]) -> None:
        self.housing = housing
        self.lots = list(lots)
        self.cells = [PadCell(position_name(key), *key) for key in housing.position_keys]
        self.errors: list[str] = []

    @property
    def sides(self) -> dict[str, list[PadCell]]:
        return {side: [cell for cell in self.cells if cell.side == side] for side in ("A", "B")}

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

    def read(self, data: QueryDict) -> None:
        """Take the cells from a form; what is wrong with a choice stands at its cell."""
        marks = {str(lot.pk) for lot in self.lots}
        names = [cell.name for cell in self.cells]
        for key in data:
            kind, _, name = key.partition("-")
            if kind in ("condition", "lot") and name not in names:
                self.errors.append(not_on_housing(self.housing, name))
        rest = data.get("rest", "")
        unsound = self._unsound() if rest else set()
        for cell in self.cells:
            conditions, lots = (
                data.getlist(f"{kind}-{cell.name}") for kind in ("condition", "lot")
            )
            if max(len(conditions), len(lots)) > 1:
                cell.errors.append(f"{cell.name} is given twice: give each position once.")
            # One tick stands for a choice at every sound pad, and never for one found unsound.
            is_unsound = (cell.side, cell.number) in unsound
            cell.condition = "".join(conditions[:1]) or ("" if is_unsound else rest)
            cell.lot = "".join(lots[:1])
            if cell.lot and cell.lot not in marks:
                cell.errors.append(f"“{cell.lot}” is no lot on record: choose one from the list.")
                cell.lot = ""

    def _unsound(self) -> set[tuple[str, int]]:
        positions = self.housing.positions.filter(condition__in=UNSOUND)
        return set(positions.order_by().values_list("side", "number"))

    @property
    def pads_seen(self) -> list[PadSeen]:
        """What was seen at each position; at none, where all of them were left open.

        A missing pad is of no lot, whatever was chosen before it was.
        """
        counted = [cell for cell in self.cells if cell.condition]
        return [
            PadSeen(
                cell.side,
                cell.number,
                cell.condition,
                int(cell.lot) if cell.lot and cell.condition != Condition.MISSING else None,
            )
            for cell in counted
        ]

    def take(self, refused: Iterable[ValidationError]) -> None:
        """Show at its cell what a signing refused of a position."""
        for error in (each for errors in refused for each in errors.error_list):
            name = (error.params or {}).get("position")
            at = next((cell.errors for cell in self.cells if cell.name == name), self.errors)
            at.extend(error.messages)


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

    def take(self, trouble: ValidationError, pad_map: PadMap) -> None:
        """Show what a signing refused: at its field or position, else above the form."""
        refused: dict[str, list[ValidationError]] = trouble.update_error_dict({})
        pad_map.take(refused.pop("pads", []))
        for name, words in words_by_field(ValidationError(refused), self.system).items():
            for each in words:
                self.add_error(name if name in self.fields else None, each)

    def submission(self) -> Submission:
        """Return the signing's identity; the form must be valid."""
        submission_id: uuid.UUID = self.cleaned_data["submission_id"]
        return Submission(submission_id, self.cleaned_data["based_on"])


class SeenForm(MeasuredForm):
    """What was seen at a housing besides its pads, as the plain form and the phone send it."""

    travel_in = field_of(Inspection, "travel_in")
    travel_reason = field_of(Inspection, "travel_reason")
    hours = field_of(HourReading, "hours", required=False)
    pack_hours = field_of(
        HourReading, "hours", required=False, label="Hours of the power pack, by its meter"
    )
    note = field_of(Inspection, "note", widget=forms.Textarea(attrs={"rows": 3}))
    sound_again_reason = field_of(Inspection, "sound_again_reason")

    def seen(self, pads: Sequence[PadSeen], **more: Any) -> Seen:
        """Return what was seen, with these pads; the form must be valid and say when."""
        given = self.cleaned_data
        named = (
            "seen_at",
            "travel_in",
            "travel_reason",
            "hours",
            "note",
            "sound_again_reason",
            "second_look_by",
        )
        return Seen(
            pads=pads,
            pack_hours=given.get("pack_hours"),
            **{name: given[name] for name in named},
            **more,
        )


def moment_typed(text: Any) -> datetime:
    """Return when something was seen by what is typed, now where that is no moment yet."""
    try:
        moment: datetime | None = MomentField().clean(text)
    except ValidationError:
        moment = None
    return moment or timezone.now()


class InspectionForm(SeenForm, SigningForm):
    """The plain form of an inspection: what was seen, and when."""

    seen_at = MomentField(label="Seen at", initial=timezone.now)
    late_record = forms.BooleanField(
        label="Enter it late, at its own time",
        required=False,
        help_text="It goes into the history at its own time and changes no newer fact.",
    )
    correction_reason = field_of(
        Inspection, "correction_reason", label="What was wrong", required=True
    )

    weather = field_of(Inspection, "weather")
    second_look_by = forms.TypedChoiceField(
        label="Who else looks at them",
        required=False,
        coerce=int,
        empty_value=None,
        help_text="Signs it on their own account; until then the pads count as before.",
    )

    def __init__(
        self,
        *args: Any,
        housing: SuppressorHousing,
        by: User,
        is_correction: bool,
        hammer: Hammer | None = None,
        power_pack: PowerPack | None = None,
        **kwargs: Any,
    ) -> None:
        self.housing = housing
        super().__init__(*args, **kwargs)
        stand_near(self.fields["hours"], hammer)
        stand_near(self.fields["pack_hours"], power_pack)
        # What was typed is kept where the pack hung elsewhere then, for signing to refuse.
        if power_pack is None and not self.data.get("pack_hours"):
            del self.fields["pack_hours"]
        self.fields["second_look_by"].choices = [  # type: ignore[attr-defined]
            ("", "nobody yet"),
            *((person.pk, who_words(person)) for person in managers_but(by)),
        ]
        # Shown only where there is something to say why of, so the label must not say optional.
        self.fields["travel_reason"].is_asked_for = True  # type: ignore[attr-defined]
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
    def travel_typed_in(self) -> float | None:
        """The travel as far as it can be read, in; signing says what is wrong with it."""
        try:
            travel_in: float | None = self.fields["travel_in"].clean(self["travel_in"].value())
        except ValidationError:
            return None
        return travel_in

    @property
    def moment_typed(self) -> datetime:
        """When it was seen by what is typed so far, now where that is no moment yet."""
        return moment_typed(self["seen_at"].value())

    @property
    def travel_troubles(self) -> list[str]:
        """What signing would refuse of the travel as it is typed, in the reader's units."""
        try:
            travel_in = self.fields["travel_in"].clean(self["travel_in"].value())
        except ValidationError as trouble:
            return trouble.messages
        refused = reason_trouble(self.housing, travel_in, self["travel_reason"].value() or "")
        if refused is None:
            return []
        name = "travel_reason"
        return words_by_field(ValidationError({name: refused}), self.system)[name]

    @property
    def needs_travel_reason(self) -> bool:
        """Whether the page must ask why the travel is what it is."""
        typed, travel_in = self["travel_reason"].value(), self.travel_typed_in
        is_beyond = travel_in is not None and self.housing.is_beyond_design(travel_in)
        return bool(typed) or "travel_reason" in self.errors or is_beyond

    @property
    def asks_why_sound(self) -> bool:
        """Whether the page must ask why pads are sound again, whatever it shows of them."""
        asked = ("sound_again_reason", "second_look_by")
        return any(self[name].value() or self[name].errors for name in asked)

    def _check_newer(self, cleaned: dict[str, Any]) -> None:
        seen_at = cleaned.get("seen_at")
        if seen_at is None or "late_record" not in self.fields or cleaned.get("late_record"):
            return
        newer = Inspection.objects.filter(housing=self.housing, seen_at__gt=seen_at).first()
        if newer is not None:
            self.add_error(
                "seen_at",
                f"A newer inspection, of {moment_words(newer.seen_at)}, is "
                "on record: correct the time, or tick “Enter it late”.",
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
    note = field_of(PadReplacement, "note", widget=forms.Textarea(attrs={"rows": 3}))
