from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from fleet.fields import MeasuredForm, MomentField, SubmissionForm, field_of, words_by_field
from fleet.picture import MOST_BYTES
from ratings.models import PullRecord
from ratings.pulls.recording import PullDone, PullDoubted

OUTCOMES = PullRecord.Outcome.choices
METHODS = PullRecord.Method.choices
SOURCES = PullRecord.LoadSource.choices


class SeenPullForm(MeasuredForm):
    """What somebody saw of a pull: asked on the phone and on the plain form alike."""

    pile_mark = field_of(
        PullRecord,
        "pile_mark",
        error_messages={"required": "This is blank: give the number or mark of the pile."},
    )
    hook_load_lbf = field_of(PullRecord, "hook_load_lbf")
    tare_lbf = field_of(PullRecord, "tare_lbf")
    stretch_in = field_of(PullRecord, "stretch_in")
    minutes = field_of(PullRecord, "minutes")
    toe_depth_ft = field_of(PullRecord, "toe_depth_ft")
    in_the_way = field_of(PullRecord, "in_the_way")
    # Not asked of a phone that signed before it was: what it holds must still be taken.
    watched_by = field_of(PullRecord, "watched_by")
    are_doubts_known = forms.BooleanField(
        label="I read again what is doubted above, and it is right", required=False
    )

    def done(self, **more: Any) -> PullDone:
        """Return what was seen; the form must be valid. more: what stands otherwise in it."""
        given = self.cleaned_data | more
        return PullDone(
            **{
                name: given[name]
                for name in (
                    "pile_group",
                    "pile_mark",
                    "pulled_at",
                    "outcome",
                    "method",
                    "load_source",
                    "hook_load_lbf",
                    "tare_lbf",
                    "stretch_in",
                    "minutes",
                    "toe_depth_ft",
                    "in_the_way",
                    "watched_by",
                )
            },
            clock_words=more.get("clock_words", ""),
        )


class PullForm(SeenPullForm, SubmissionForm):
    """A pull, entered on a page that keeps nothing on the phone."""

    pile_group = forms.TypedChoiceField(label="Which piles", coerce=int)
    outcome = forms.ChoiceField(label="Did it come", choices=OUTCOMES, widget=forms.RadioSelect)
    method = forms.ChoiceField(label="How it was pulled", choices=METHODS, widget=forms.RadioSelect)
    load_source = forms.ChoiceField(
        label="Hook load read from", choices=SOURCES, widget=forms.RadioSelect
    )
    pulled_at = MomentField(label="Pulled at", initial=timezone.now)
    photo = forms.FileField(
        label="Photo",
        required=False,
        help_text="JPEG, PNG or WebP, 12 MB at the most.",
    )
    correction_reason = field_of(PullRecord, "correction_reason", required=False)

    field_order = (
        "pile_group",
        "pile_mark",
        "pulled_at",
        "outcome",
        "method",
        "load_source",
        "hook_load_lbf",
        "tare_lbf",
        "stretch_in",
        "minutes",
        "toe_depth_ft",
        "watched_by",
        "in_the_way",
        "photo",
        "correction_reason",
    )

    is_doubted = False

    def __init__(
        self, *args: Any, groups: list[tuple[int, str]], is_correction: bool, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        watched_by = self.fields["watched_by"]
        # Who corrects a record of before can't be made to know.
        watched_by.required = not is_correction
        watched_by.error_messages["required"] = "This is blank: give the name of who watched it."
        group: Any = self.fields["pile_group"]
        group.choices = groups
        if len(groups) == 1:
            group.widget = forms.HiddenInput()
            self.initial.setdefault("pile_group", groups[0][0])
        if not is_correction:
            del self.fields["correction_reason"]

    def clean_photo(self) -> Any:
        photo = self.cleaned_data["photo"]
        if photo and photo.size > MOST_BYTES:
            raise forms.ValidationError("This is larger than 12 MB: send a smaller picture.")
        return photo

    def take(self, refusal: forms.ValidationError) -> None:
        """Show what the recording refused: at its field, else above the form."""
        self.is_doubted = isinstance(refusal, PullDoubted)
        for name, words in words_by_field(refusal, self.system).items():
            for each in words:
                self.add_error(name if name in self.fields else None, each)
