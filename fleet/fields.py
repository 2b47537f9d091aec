"""Form fields and forms: measured numbers, moments, days, texts nobody can hide anything in.

Clear words for bad input, in either system of units."""

from __future__ import annotations

import math
import re
import uuid
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from dataclasses import field as filled
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS
from django.db.models import F, Model, Q
from django.http import QueryDict
from django.utils import timezone

from fleet import numbers, written_units
from fleet.characters import without_hidden
from fleet.dates import day_words, moment_words
from fleet.numbers import NotANumber, quoted
from fleet.quantities import Measured, Quantity, plain_number

# Names are refused with words instead, where they are checked: two must never look the same.
# A password is what was typed, as it was.
NAMES = ("mark", "name", "username", "password")
TOO_LONG = "This has %(show_value)d characters: %(limit_value)d at the most."


class PlainText(forms.BaseForm):
    """Leaves hidden characters out of all that is sent but names, before any of it is checked."""

    def __init__(self, data: Any = None, *args: Any, **kwargs: Any) -> None:
        super().__init__(_plain(data), *args, **kwargs)

    def full_clean(self) -> None:
        # Here, since a form may add fields of its own once it is made.
        for field in self.fields.values():
            field.error_messages["max_length"] = TOO_LONG
        super().full_clean()

    def add_error(self, field: Any, error: Any) -> None:
        """Add what won't do, and note it, so that a refusal can be put on record."""
        super().add_error(field, error)
        _note(self, field, error)


@dataclass
class Noted:
    """What forms would not take while a request was answered, and whether it was refused for sure.

    fields: by their labels. is_final: said by who refused, whatever page came of it.
    """

    fields: list[str] = filled(default_factory=list)
    words: list[str] = filled(default_factory=list)
    is_final: bool = False


MOST_NOTED = 20
_noted: ContextVar[Noted | None] = ContextVar("noted", default=None)


@contextmanager
def refusals_noted() -> Iterator[Noted]:
    """Note in the block what forms would not take."""
    noted = Noted()
    token = _noted.set(noted)
    try:
        yield noted
    finally:
        _noted.reset(token)


def note_refusal(*words: str, fields: Iterable[str] = ()) -> None:
    """Note that what was asked is refused, where no form says so, and which fields are to blame."""
    noted = _noted.get()
    if noted is not None:
        noted.is_final = True
        noted.words += [each for each in words if each not in noted.words]
        noted.fields += [each for each in fields if each not in noted.fields]


def _note(form: forms.BaseForm, name: str | None, error: Any) -> None:
    noted = _noted.get()
    if noted is None or len(noted.fields) + len(noted.words) >= MOST_NOTED:
        return
    errors = {name: error} if not hasattr(error, "error_dict") else error.error_dict
    has_secret = any(isinstance(f.widget, forms.PasswordInput) for f in form.fields.values())
    for at in errors:
        given = form.fields.get(at or "")
        label = str(given.label or at) if given else ""
        if label and label not in noted.fields:
            noted.fields.append(label)
        if not has_secret:
            told = form.errors.get(at or NON_FIELD_ERRORS, ())
            noted.words += [str(each) for each in told if str(each) not in noted.words]


def _plain(data: Any) -> Any:
    if not isinstance(data, QueryDict):
        return data
    plain = data.copy()
    for key in data:
        if key.rsplit("-", 1)[-1] not in NAMES:
            plain.setlist(key, [without_hidden(each) for each in data.getlist(key)])
    return plain


FRACTION = re.compile(
    r"(?:(?P<whole>\d{1,4})[\s-]+)?(?P<over>\d{1,4})\s*/\s*(?P<under>\d{1,4})", re.ASCII
)
# A figure with something behind it that may be meant for a unit.
WITH_WORDS = re.compile(r"\d\s*[^\W\d]")
INCHES = re.compile(r"\s*(?:\"|″|in)$")


def read_number(
    text: str,
    example: str,
    least: float = -math.inf,
    most: float = math.inf,
    *,
    whole: bool = False,
    near: Callable[[], Iterable[float]] = tuple,
) -> float:
    """Read a number as `fleet.numbers` does. Raises ValidationError saying what would do."""
    try:
        return numbers.read_number(text, example, least=least, most=most, whole=whole, near=near)
    except NotANumber as error:
        raise forms.ValidationError(f"{error}.") from error


def read_inches(text: str, example: str, least: float = -math.inf, most: float = math.inf) -> float:
    """Read inches as a tape has them: a decimal number, or a fraction such as 5 1/2.

    Raises ValidationError saying what would do.
    """
    plain = INCHES.sub("", text.strip())
    taped = FRACTION.fullmatch(plain)
    if taped is None or int(taped["under"]) == 0:
        return read_number(plain, example, least, most)
    return int(taped["whole"] or 0) + int(taped["over"]) / int(taped["under"])


def words_by_field(refusal: forms.ValidationError, system: str) -> dict[str, list[str]]:
    """Return a refusal's messages by field, what they measured in the reader's system.

    What belongs to no field stands under NON_FIELD_ERRORS.
    """
    errors: dict[str, list[forms.ValidationError]] = refusal.update_error_dict({})
    return {
        name: [_in_system(each, system) for error in given for each in error.error_list]
        for name, given in errors.items()
    }


def show_refusal(form: Any, refusal: forms.ValidationError, system: str) -> None:
    """Show what a recording function refused: at its field, else above the form."""
    for name, words in words_by_field(refusal, system).items():
        form.add_error(name if name in form.fields else None, words)


def submission_of(sent: Mapping[str, Any]) -> uuid.UUID:
    """Return the id that a page without a form class sent; a new one where it sent none."""
    try:
        return uuid.UUID(sent.get("submission_id", ""))
    except ValueError:
        return uuid.uuid4()


def _in_system(error: forms.ValidationError, system: str) -> str:
    if not error.params:
        return str(error.message)
    return str(error.message) % {
        name: value.words(system) if isinstance(value, Measured) else value
        for name, value in error.params.items()
    }


class NumberField(forms.CharField):
    """A number without a unit, between two bounds."""

    def __init__(
        self,
        *,
        least: float,
        most: float,
        above_least: bool = False,
        whole: bool = False,
        example: str = "5",
        **kwargs: Any,
    ) -> None:
        self.least, self.most = least, most
        self.above_least, self.whole, self.example = above_least, whole, example
        # What a figure of two readings should be near, such as the last of a meter.
        self.near: Callable[[], Iterable[float]] = tuple
        kwargs.setdefault(
            "widget",
            forms.TextInput(
                attrs={"inputmode": "numeric" if whole else "decimal", "autocomplete": "off"}
            ),
        )
        super().__init__(**kwargs)
        self.error_messages["required"] = f"This is blank: give a number such as {example}."

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        bounds = self.least, self.most
        number = read_number(text, self.example, *bounds, whole=self.whole, near=self.near)
        if self.whole and number != int(number):
            raise forms.ValidationError(f"{quoted(text)} is not a whole number.")
        self.check_range(text, number)
        return int(number) if self.whole else number

    def prepare_value(self, value: Any) -> Any:
        return f"{value:.10g}" if isinstance(value, float) else value

    def check_range(self, text: str, number: float) -> None:
        """Raise ValidationError, quoting what was given, for a number beyond the bounds."""
        if not is_within(number, self.least, self.most, above_least=self.above_least):
            least, most = self._bounds()
            raise out_of_bounds(quoted(text), least, most, above_least=self.above_least)

    def _bounds(self) -> tuple[str, str]:
        return f"{self.least:g}", plain_number(self.most, 2)


class HundredthsField(NumberField):
    """A number of at most two decimals, such as money, read as all numbers are."""

    def clean(self, value: Any) -> Decimal | None:
        number = super().clean(value)
        if number is None:
            return None
        exact = Decimal(str(number))
        hundredths = exact.quantize(Decimal("0.01"))
        if hundredths != exact:
            raise forms.ValidationError(f"{quoted(str(value))} has more than two decimals.")
        return hundredths


def is_within(number: float, least: float, most: float, *, above_least: bool = False) -> bool:
    """Whether a number is between two bounds; one that is no number is not."""
    return (number > least if above_least else number >= least) and number <= most


def out_of_bounds(
    given: object, least: object, most: object, *, above_least: bool = False
) -> forms.ValidationError:
    """Return the refusal of a number beyond its bounds.

    Where these are Measured, `words_by_field` writes them in the reader's system.
    """
    lower = "more than %(least)s" if above_least else "%(least)s or more"
    return forms.ValidationError(
        f"%(given)s won’t do: give {lower}, up to %(most)s.",
        code="out of bounds",
        params={"given": given, "least": least, "most": most},
    )


class MeasuredField(NumberField):
    """A measured number: entered in the reader's units or with its own, cleaned to the stored.

    `least` and `most` are in stored units. A form that has such fields tells them the
    reader's system through MeasuredForm.
    """

    def __init__(self, quantity: Quantity, **kwargs: Any) -> None:
        self.quantity = quantity
        self.system = "us"
        super().__init__(**kwargs)

    @property
    def unit(self) -> str:
        return self.quantity.symbol(self.system)

    def clean(self, value: Any) -> Any:
        example = plain_number(self.quantity.shown(float(self.example), self.system), 2)
        plain_example = example.replace(",", "")
        self.error_messages["required"] = f"This is blank: give a number such as {plain_example}."
        text = forms.CharField.clean(self, value)
        if not text:
            return None
        number = self._read(text, plain_example)
        self.check_range(text, number)
        return number

    def _read(self, text: str, example: str) -> float:
        """Return what was given as it is stored, by the unit behind it where there is one."""
        plain, unit = written_units.parted(self.quantity, text)
        per_unit = self._per_unit(text, unit) if unit else None
        if per_unit is not None and per_unit != 1.0:
            bounds = (each / per_unit for each in (self.least, self.most))
            return read_number(plain, example, *bounds) * per_unit
        system = "us" if unit else self.system
        is_taped = self.quantity in (Quantity.LENGTH, Quantity.DIAMETER) and system == "us"
        read = read_inches if is_taped else read_number
        least, most = (self.quantity.shown(each, system) for each in (self.least, self.most))
        try:
            return self.quantity.stored(read(plain, example, least, most), system)
        except forms.ValidationError as trouble:
            units = written_units.examples(self.quantity)
            if unit or not units or not WITH_WORDS.search(text):
                raise
            raise forms.ValidationError(
                f"{trouble.message} A unit may stand behind it: {', '.join(units)}."
            ) from trouble

    def _per_unit(self, text: str, unit: str) -> float | None:
        try:
            return written_units.factor_for(self.quantity, unit, self.system)
        except written_units.UnitOfTwoKinds:
            raise forms.ValidationError(
                f"{quoted(text)} reads two ways: write “US tons” or “tonnes” behind it, or give it "
                f"in {self.unit}."
            ) from None

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, int | float):
            return plain_number(self.quantity.shown(value, self.system), 4).replace(",", "")
        return value

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Whether it came back otherwise than it was shown."""
        shown = "" if initial is None else self.prepare_value(initial)
        return bool(shown != (data or "").strip())

    def _bounds(self) -> tuple[str, str]:
        least, most = (Measured(self.quantity, each) for each in (self.least, self.most))
        return least.words(self.system), most.words(self.system)


class InReadersSystem(PlainText):
    """Tells its measured fields in which system of units its reader types and reads."""

    system = "us"

    def __init__(self, *args: Any, system: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.system = system or self.system
        for field in self.fields.values():
            if isinstance(field, MeasuredField):
                field.system = self.system

    def clean(self) -> dict[str, Any]:
        """Keep every digit of a number that came back as it was shown, which is rounded."""
        cleaned: dict[str, Any] = super().clean() or {}
        for name, field in self.fields.items():
            stored = self.initial.get(name)
            if not isinstance(field, MeasuredField) or not isinstance(stored, int | float):
                continue
            if name in cleaned and name not in self.changed_data:
                cleaned[name] = float(stored)
        return cleaned


class MeasuredForm(InReadersSystem, forms.Form):
    """A form whose measured fields speak the reader's units."""


class MeasuredModelForm(InReadersSystem, forms.ModelForm):  # type: ignore[type-arg]  # takes none at run time
    """A form of a record of the yard, made or changed by it.

    What `class Meta` names in `fields` has label, bounds, help and example from the model, and
    measured fields speak the reader's units.
    """


EARLIEST = datetime(1950, 1, 1, tzinfo=UTC)
# A phone's clock may run a little ahead of the server's.
CLOCK_LEEWAY = timedelta(minutes=10)
FARTHEST_AHEAD = timedelta(days=3660)


class InstrumentField(forms.ModelChoiceField):  # type: ignore[type-arg]  # takes none at run time
    """A choice of what may be out of use: those go last and say so.

    They stay, since something of before may be put on record late; what records it refuses a day on
    which it was out of use.
    """

    def __init__(self, queryset: Any, **kwargs: Any) -> None:
        last = F("retired_on").asc(nulls_first=True)
        super().__init__(queryset.order_by(last, *queryset.model._meta.ordering), **kwargs)

    def label_from_instance(self, obj: Any) -> str:
        words = self.words(obj)
        if obj.retired_on is None:
            return words
        return f"{words}, OUT OF USE since {day_words(obj.retired_on)}"

    def words(self, instrument: Any) -> str:
        """Return what is said of one beside that."""
        return str(instrument)


# As large as a key in any of the databases.
LARGEST_KEY = 2**63 - 1


class RecordsField(forms.ModelMultipleChoiceField):  # type: ignore[type-arg]  # takes none at run time
    """Records to be ticked. A key that no database could hold is one of none of them."""

    def _check_values(self, value: Any) -> Any:
        for key in value:
            plain = str(key)
            if _is_beyond_any_key(plain):
                raise forms.ValidationError(
                    self.error_messages["invalid_choice"],
                    code="invalid_choice",
                    params={"value": quoted(plain)},
                )
        return super()._check_values(value)  # type: ignore[misc]  # the stubs leave it out


def _is_beyond_any_key(plain: str) -> bool:
    try:
        return abs(int(plain)) > LARGEST_KEY
    except ValueError:
        # More digits than Python reads, or no number, which is told as such.
        return len(plain) > 40


class MomentField(forms.DateTimeField):
    """A moment that is past and within the age of the trade."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault(
            "widget",
            forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        )
        super().__init__(**kwargs)
        self.error_messages["required"] = "This is blank: give the date and time."
        self.error_messages["invalid"] = (
            "This is not a date and time: give one such as 2026-03-14 09:30."
        )

    def clean(self, value: Any) -> Any:
        moment = super().clean(value)
        if moment is None:
            return None
        if moment > timezone.now() + CLOCK_LEEWAY:
            raise forms.ValidationError(
                f"{moment_words(moment)} is in the future: give when it happened."
            )
        if moment < EARLIEST:
            raise forms.ValidationError(
                f"{day_words(moment)} is too long ago: give when it happened."
            )
        return moment


class DayField(forms.DateField):
    """A day of the trade: none before its age, none beyond ten years from now."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
        super().__init__(**kwargs)
        self.error_messages["required"] = "This is blank: give the day."
        self.error_messages["invalid"] = "This is not a day: give one such as 2026-03-14."

    def clean(self, value: Any) -> date | None:
        day: date | None = super().clean(value)
        if day is not None and day < EARLIEST.date():
            raise forms.ValidationError(f"{day_words(day)} is too long ago for this trade.")
        if day is not None:
            self.refuse_too_late(day)
        return day

    def refuse_too_late(self, day: date) -> None:
        """Raise ValidationError where a day is later than may be asked."""
        if day > timezone.localdate() + FARTHEST_AHEAD:
            raise forms.ValidationError(
                f"{day_words(day)} is more than ten years ahead: give an earlier day."
            )


class PastDayField(DayField):
    """A day that is not in the future."""

    def refuse_too_late(self, day: date) -> None:
        """Raise ValidationError where a day has not been yet."""
        if day > timezone.localdate():
            raise forms.ValidationError(
                f"{day_words(day)} is in the future: give a day that has been."
            )


class FormIdField(forms.UUIDField):
    """What marks one form drawn by a page, so that sending it twice records it once."""

    widget = forms.HiddenInput
    default_error_messages: ClassVar[dict[str, Any]] = {
        "required": "It is missing: open the page again and send it from there.",
        "invalid": "It is not as the page gave it: open the page again and send it from there.",
    }

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"label": "form id", **kwargs})


class SubmissionForm(MeasuredForm):
    """A form that carries an id of its own, so that sending it twice records it once."""

    submission_id = FormIdField()

    def __init__(self, *args: Any, initial: dict[str, Any] | None = None, **kwargs: Any) -> None:
        given = {"submission_id": uuid.uuid4(), **(initial or {})}
        super().__init__(*args, initial=given, **kwargs)

    def hold_to(self, rule: Callable[[], None]) -> None:
        """Ask a rule that its recording function asks too, and show beside fields what it says."""
        try:
            rule()
        except forms.ValidationError as refusal:
            self.add_error(None, refusal)

    def is_on_record(self, model: type[Model]) -> bool:
        """Whether this very form was sent before, and so made a record of this kind."""
        sent = self.cleaned_data.get("submission_id")
        return sent is not None and model._default_manager.filter(submission_id=sent).exists()


class FactForm(SubmissionForm, forms.ModelForm):  # type: ignore[type-arg]  # takes none at run time
    """A form of a fact, with the fields that `class Meta` names in `model` and `fields`.

    It makes no record itself: what it read goes to the function that records the fact.
    """

    def _post_clean(self) -> None:
        """Leave alone the record that a form of a model fills and checks."""


def field_of(model: type[Model], name: str, **changes: Any) -> Any:
    """Return the form field of one of a model's fields, for a form of another shape.

    changes: what is other than the model says, such as `required` or `label`.
    """
    return model._meta.get_field(name).formfield(**changes)  # type: ignore[union-attr]


def open_to_correction(submission_id: str) -> Q:
    """Records that nothing corrects, unless it is this very submission that is sent again."""
    uncorrected = Q(corrected_by__isnull=True)
    try:
        return uncorrected | Q(corrected_by__submission_id=uuid.UUID(submission_id))
    except ValueError:
        return uncorrected


# No more digits than a database key can have.
WHOLE_NUMBER = re.compile(r"[0-9]{1,18}")


def whole_number(given: str) -> int | None:
    """Return a plain whole number, None for anything else."""
    return int(given) if WHOLE_NUMBER.fullmatch(given) else None
