"""A bench test as a program sends it, read by the forms of its page and recorded as that is."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError

from fleet.characters import without_hidden
from fleet.fields import NumberField, words_by_field
from fleet.models import PadLot
from inspections.field.payload import BadPayload
from ratings.bench.forms import BenchTestForm, PadFormSet, ReadingFormSet
from ratings.bench.recording import RecordedTest, record_bench_test
from ratings.bench.tested_pads import PadError
from ratings.mechanics.bench import ReadingError
from ratings.remarks import refused_sentence

# In the units the records are kept in, as is all that programs read and send.
SYSTEM = "us"
LISTS = ("pads", "readings")
# What a form shows beforehand, and whoever fills it in leaves so.
_DEFAULTS = {
    name: str(field.initial)
    for name, field in BenchTestForm.base_fields.items()
    if isinstance(field, NumberField) and field.initial is not None
}


def record_sent_test(sent: dict[str, Any], key: uuid.UUID, by: User) -> RecordedTest:
    """Record a bench test that was sent. Raises BadPayload where it can’t be, by field."""
    lot = PadLot.objects.filter(pk=sent["lot"]).first()
    if lot is None:
        raise BadPayload({"lot": ["This lot is not on record."]})
    plain = {name: value for name, value in sent.items() if name not in LISTS}
    in_system = {"system": SYSTEM}
    form = BenchTestForm({"submission_id": str(key), **_DEFAULTS, **_typed(plain)}, **in_system)
    pads: Any = PadFormSet(_rows(sent["pads"], "p"), prefix="p", form_kwargs=in_system)
    readings: Any = ReadingFormSet(_rows(sent["readings"], "r"), prefix="r", form_kwargs=in_system)
    # All are asked, so that all that is wrong is told at once.
    if not all([form.is_valid(), pads.is_valid(), readings.is_valid()]):
        raise BadPayload(_wrong(form, pads=pads, readings=readings))
    if not pads.can_be(form.cleaned_data["pads_in_test"]):
        raise BadPayload(_wrong(form, pads=pads, readings=readings))
    try:
        return record_bench_test(
            submission_id=key,
            lot=lot,
            set_up=form.set_up(pads.tested()),
            readings=[row.reading for row in readings.filled()],
            by=by,
            **form.read_again,
        )
    except ValidationError as refusal:
        raise BadPayload(words_by_field(refusal, SYSTEM)) from None
    except PadError as error:
        raise BadPayload({f"pads.{error.number - 1}.{error.field}": [error.trouble]}) from None
    except ReadingError as error:
        words = refused_sentence(error, SYSTEM)
        raise BadPayload({f"readings.{error.index}.{error.field}": [words]}) from None
    except ValueError as error:
        raise BadPayload({"readings": [refused_sentence(error, SYSTEM)]}) from None


def _typed(row: dict[str, Any]) -> dict[str, Any]:
    """Return values as a person would have typed them, for a form; those not given left out."""
    return {name: _as_typed(value) for name, value in row.items() if value is not None}


def _as_typed(value: Any) -> Any:
    if isinstance(value, float):
        return format(Decimal(repr(value)), "f")
    if isinstance(value, bool):
        return value
    return without_hidden(str(value))


def _rows(rows: list[dict[str, Any]], prefix: str) -> dict[str, Any]:
    """Return the rows of a list as a set of forms takes them."""
    data: dict[str, Any] = {f"{prefix}-TOTAL_FORMS": len(rows), f"{prefix}-INITIAL_FORMS": 0}
    for place, row in enumerate(rows):
        data |= {f"{prefix}-{place}-{name}": value for name, value in _typed(row).items()}
    return data


def _wrong(form: BenchTestForm, **sets: Any) -> dict[str, list[str]]:
    """Return what is wrong, by field as the program named it."""
    errors = dict(_by_path("", form.errors))
    for name, found in sets.items():
        if trouble := [str(each) for each in found.non_form_errors()]:
            errors[name] = trouble
        for place, row in enumerate(found.forms):
            errors |= dict(_by_path(f"{name}.{place}.", row.errors))
    return errors


def _by_path(path: str, errors: Any) -> Iterable[tuple[str, list[str]]]:
    for name, words in errors.items():
        yield path + ("" if name == NON_FIELD_ERRORS else name), [str(each) for each in words]
