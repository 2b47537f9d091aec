"""What the yard owns: entered once, and the same whenever it is sent again."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import models

from fleet.models import Hammer, PadLot, SuppressorHousing, Yard
from fleet.register import enter_housing
from inspections.exchange.acts.lookup import KNOWN, NEW, one, submission_id
from inspections.exchange.cells import written
from inspections.exchange.rows import Row
from inspections.kinds import new_name
from inspections.models import OwnKind
from inspections.recording.rules import add_kind, retire_kind
from ratings.models import Gauge, Tape, TestStand


def _entered(
    row: Row, model: type[models.Model], key: str, save: Callable[[Any], Any] | None = None
) -> str:
    """Enter what the yard owns; what is there already stays as it is, and must be the same."""
    values = {name: value for name, value in row.values.items() if value is not None}
    if "yard" in values:
        values["yard"] = one(Yard, "name", values["yard"], "yard")
    known = model._default_manager.filter(**{f"{key}__iexact": values[key]}).first()
    if known is not None and getattr(known, key) != values[key]:
        raise ValidationError(
            f"{key} “{values[key]}” is on record as “{getattr(known, key)}”: write it the same, or "
            "give it one of its own"
        )
    if known is not None:
        _refuse_other(row, known, values)
        return KNOWN
    record = model(**values)
    record.full_clean(exclude=[])
    (save or (lambda made: made.save()))(record)
    return NEW


def _refuse_other(row: Row, known: Any, values: dict[str, Any]) -> None:
    for name, value in values.items():
        there = getattr(known, name)
        if there != value and value != "":
            raise ValidationError(
                f"{name} is “{written(value)}” here and “{written(there)}” on record: make them "
                "the same, or change it on the site."
            )


def yard(row: Row, by: User) -> str:
    """Enter a yard."""
    return _entered(row, Yard, "name")


def hammer(row: Row, by: User) -> str:
    """Enter a hammer."""
    return _entered(row, Hammer, "mark")


def housing(row: Row, by: User) -> str:
    """Enter a housing with its pad positions."""
    return _entered(row, SuppressorHousing, "mark", enter_housing)


def lot(row: Row, by: User) -> str:
    """Enter a pad lot."""
    return _entered(row, PadLot, "mark")


def stand(row: Row, by: User) -> str:
    """Enter a test stand."""
    return _entered(row, TestStand, "name")


def gauge(row: Row, by: User) -> str:
    """Enter a pressure gauge."""
    return _entered(row, Gauge, "mark")


def tape(row: Row, by: User) -> str:
    """Enter a tape."""
    return _entered(row, Tape, "mark")


def kind(row: Row, by: User) -> str:
    """Add a kind of inspection of the yard's own, retired where it is."""
    name, retired_at = row.values["name"].lower(), row.values["retired_at"]
    known = OwnKind.objects.filter(name=name).select_related("retirement").first()
    if known is not None and (retired_at is None or hasattr(known, "retirement")):
        return KNOWN
    made = known or add_kind(submission_id=submission_id(row), name=new_name(name), by=by)
    if retired_at is not None:
        retire_kind(submission_id=uuid.uuid4(), kind=made, at=retired_at, by=by)
    return NEW
