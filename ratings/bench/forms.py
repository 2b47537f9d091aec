from __future__ import annotations

import re
from collections.abc import Sequence
from functools import partial
from typing import Any

from django import forms
from django.utils import timezone

from fleet.dates import day_words
from fleet.fields import FactForm, InstrumentField, MeasuredForm, MomentField, field_of
from fleet.models import SuppressorHousing
from fleet.models.retirable import refuse_out_of_use
from fleet.numbers import quoted
from fleet.picture import NoPicture
from ratings.bench.comparison import refuse_copies
from ratings.bench.recording import TestSetUp, kept_photo
from ratings.bench.reduction import Reduction, reduce_test
from ratings.bench.tested_pads import PadError, TestedPad, check_pads
from ratings.mechanics.bench import Branch, CycleReading, ReadingError
from ratings.models import BenchPad, BenchReading, BenchTest, Gauge, Tape, TestStand, Thermometer
from ratings.models.bench import MOST_PADS_IN_TEST
from ratings.models.choices import CYLINDER_END_CHOICES, NO_CYLINDER_END
from ratings.read_again import ReadAgainForm
from ratings.remarks import refused_sentence

MOST_READINGS = 200
MOST_PHOTO_BYTES = 10_000_000


class GaugeField(InstrumentField):
    """A gauge, with a word on its calibration: a test on one out of date rates nothing."""

    def words(self, instrument: Gauge) -> str:
        if instrument.due_on is None:
            return f"{instrument}, never calibrated"
        overdue = ", OVERDUE" if instrument.due_on < timezone.localdate() else ""
        return f"{instrument}, calibration due {day_words(instrument.due_on)}{overdue}"


class BenchTestForm(ReadAgainForm, FactForm):
    """How the pads were held when they were tested."""

    stand = InstrumentField(
        label="Test stand", queryset=TestStand.objects.all(), empty_label="choose a stand"
    )
    gauge = GaugeField(label="Gauge", queryset=Gauge.objects.all(), empty_label="choose a gauge")
    tape = InstrumentField(label="Tape", queryset=Tape.objects.all(), empty_label="choose a tape")
    thermometer = InstrumentField(
        label="Thermometer",
        queryset=Thermometer.objects.all(),
        required=False,
        empty_label="none named",
    )
    end = forms.ChoiceField(
        label="Pressure acts on", choices=CYLINDER_END_CHOICES, error_messages=NO_CYLINDER_END
    )
    tested_at = MomentField(label="Tested at", initial=timezone.now)
    photo = forms.FileField(
        label="Photo of the set-up",
        required=False,
        widget=forms.ClearableFileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
        help_text="JPEG, PNG or WebP, 10 MB at the most. It is made smaller, and what it tells of "
        "where it was taken is left out.",
    )
    note = forms.CharField(
        label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}), max_length=2000
    )

    class Meta:
        model = BenchTest
        fields = [
            "stand",
            "gauge",
            "tape",
            "end",
            "pads_in_test",
            "tape_datum_in",
            "gauge_zero_psi",
            "tested_at",
            "conditioning_cycles",
            "rubber_temperature_f",
            "thermometer",
            "tape_after_in",
            "arrangement",
            "witness",
            "photo",
            "note",
        ]

    def set_up(self, pads: Sequence[TestedPad] = ()) -> TestSetUp:
        """Return how these pads were set up; the form must be valid."""
        given = {name: self.cleaned_data[name] for name in self.Meta.fields}
        own = {name: value for name, value in given.items() if value is not None}
        return TestSetUp(**own, pads=tuple(pads))

    def clean_photo(self) -> Any:
        photo = self.cleaned_data["photo"]
        if photo and photo.size > MOST_PHOTO_BYTES:
            raise forms.ValidationError("This is larger than 10 MB: send a smaller picture.")
        try:
            kept_photo(photo)
        except NoPicture as refusal:
            raise forms.ValidationError(str(refusal)) from None
        return photo

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if tested_at := cleaned.get("tested_at"):
            used = {name: cleaned.get(name) for name in ("stand", "gauge", "tape", "thermometer")}
            self.hold_to(partial(refuse_out_of_use, timezone.localdate(tested_at), **used))
        if stand := cleaned.get("stand"):
            self.hold_to(partial(stand.refuse_rod_end_without_rod, cleaned.get("end", "")))
        after_in, datum_in = cleaned.get("tape_after_in"), cleaned.get("tape_datum_in")
        if after_in is not None and datum_in is not None and after_in < datum_in:
            self.add_error(
                "tape_after_in",
                "This is below the tape at rest: read it again or correct the datum.",
            )
        return cleaned


class ReadingForm(MeasuredForm):
    """One reading of tape and gauge. A row left blank is no reading."""

    tape_in = field_of(BenchReading, "tape_in", required=False)
    gauge_psi = field_of(BenchReading, "gauge_psi", required=False)
    run = field_of(BenchReading, "run")
    branch = field_of(BenchReading, "branch", required=False)

    def has_changed(self) -> bool:
        """A row whose tape and gauge are blank is no reading, whatever its run and branch."""
        return any(name in self.changed_data for name in ("tape_in", "gauge_psi"))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for field, other in (("tape_in", "gauge_psi"), ("gauge_psi", "tape_in")):
            if field in self.errors or other in self.errors:
                continue
            if cleaned.get(field) is None and cleaned.get(other) is not None:
                self.add_error(field, "This is blank: give both tape and gauge, or neither.")
        return cleaned

    @property
    def is_blank(self) -> bool:
        return self.cleaned_data.get("tape_in") is None

    @property
    def reading(self) -> CycleReading:
        return CycleReading(
            tape_in=self.cleaned_data["tape_in"],
            gauge_psi=self.cleaned_data["gauge_psi"],
            run=self.cleaned_data.get("run") or 1,
            branch=Branch(self.cleaned_data.get("branch") or "loading"),
        )


class BaseReadingFormSet(forms.BaseFormSet):  # type: ignore[type-arg]  # takes none at run time
    """The readings of a test, in the order they were entered."""

    def filled(self) -> list[ReadingForm]:
        """Return the rows that hold a reading; the formset must be valid."""
        return [form for form in self.forms if not form.is_blank]

    def reduce(
        self, test: BenchTest, linearity_limit_pct: float, *, is_sent_again: bool = False
    ) -> Reduction | None:
        """Return what the readings come to, or None with the trouble shown at its row.

        is_sent_again: this very form made a test already, which holds the same readings.
        """
        rows = self.filled()
        try:
            if len(rows) < 2:
                raise ValueError(
                    f"{len(rows) or 'No'} reading{'' if len(rows) == 1 else 's'} given: "
                    "give two or more."
                )
            measured = [row.reading for row in rows]
            reduction = reduce_test(test, measured, linearity_limit_pct)
            if not is_sent_again:
                refuse_copies(test, measured)
            return reduction
        except ReadingError as error:
            rows[error.index].add_error(error.field, refused_sentence(error, rows[0].system))
        except ValueError as error:
            # As Django itself does for what concerns the set of rows and no one of them.
            system = self.form_kwargs["system"]
            self.non_form_errors().append(refused_sentence(error, system))
        return None

    @property
    def is_troubled(self) -> bool:
        return bool(self.non_form_errors()) or any(form.errors for form in self.forms)


ReadingFormSet = forms.formset_factory(
    ReadingForm, formset=BaseReadingFormSet, extra=8, max_num=MOST_READINGS, validate_max=True
)


PLACE = re.compile(r"\s*([ABab])\s*(\d{1,3})\s*", re.ASCII)


class PadForm(MeasuredForm):
    """What is known of one pad of a test. Nothing need be said of it."""

    mark = field_of(BenchPad, "mark", label="Mark", help_text="")
    origin = forms.ChoiceField(
        label="Where from", required=False, choices=[("", "not said"), *BenchPad.Origin.choices]
    )
    housing = forms.ModelChoiceField(
        label="Out of housing",
        queryset=SuppressorHousing.objects.all(),
        required=False,
        empty_label="not known",
    )
    position = forms.CharField(label="Position", required=False, max_length=12)
    hours = field_of(BenchPad, "hours", label="Hours worked")
    fate = forms.ChoiceField(
        label="After the test", required=False, choices=[("", "not said"), *BenchPad.Fate.choices]
    )

    served = ("housing", "position", "hours")

    def clean_position(self) -> tuple[str, int] | None:
        """Return side and number of a position such as A3, None where it was left blank."""
        text = self.cleaned_data["position"]
        if not text:
            return None
        read = PLACE.fullmatch(text)
        if read is None:
            raise forms.ValidationError(
                f"{quoted(text)} is not a position: give side and number, such as A3."
            )
        return read[1].upper(), int(read[2])

    def tested(self, number: int) -> TestedPad:
        """Return what was said of the pad; the form must be valid."""
        given = self.cleaned_data
        side, position = given.get("position") or ("", None)
        return TestedPad(
            number=number,
            mark=given.get("mark", ""),
            origin=given.get("origin", ""),
            housing=given.get("housing"),
            side=side,
            position=position,
            hours=given.get("hours"),
            fate=given.get("fate", ""),
        )


class BasePadFormSet(forms.BaseFormSet):  # type: ignore[type-arg]  # takes none at run time
    """The pads that shared the load, a row each."""

    def tested(self) -> list[TestedPad]:
        """Return the pads of which something was said; the formset must be valid."""
        pads = [form.tested(number) for number, form in enumerate(self.forms, start=1)]
        return [pad for pad in pads if not pad.is_silent]

    def can_be(self, pads_in_test: int) -> bool:
        """Say whether there can be such pads, with the trouble shown at its row where not."""
        try:
            check_pads(self.tested(), pads_in_test)
        except PadError as error:
            self.forms[error.number - 1].add_error(error.field, _sentence(error.trouble))
            return False
        return True

    @property
    def is_troubled(self) -> bool:
        return bool(self.non_form_errors()) or any(form.errors for form in self.forms)


PadFormSet = forms.formset_factory(
    PadForm, formset=BasePadFormSet, extra=0, max_num=MOST_PADS_IN_TEST, validate_max=True
)


def _sentence(text: str) -> str:
    return text[0].upper() + text[1:] + ("" if text.endswith(".") else ".")
