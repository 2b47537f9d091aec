from __future__ import annotations

import uuid
from dataclasses import replace

import pytest
from django.db import DatabaseError, transaction

from ratings.jobs.rules import change_rules, rules_in_force, rules_of
from ratings.mechanics.extraction.rules import BelowListing, ExtractionPolicy
from ratings.mechanics.extraction.soils import SoilResponse
from ratings.models import ExtractionRules
from tests.factories import ManagerFactory

pytestmark = pytest.mark.django_db

SILT = SoilResponse("river silt", 0.22, "Our own pulls, 2026", 0.18, "Our own pulls, 2026")
STRICT = replace(
    ExtractionPolicy(),
    care_margin=1.5,
    low_factor=0.6,
    high_factor=1.8,
    jaw_friction=0.25,
    steel_share=0.5,
    inspection_days=14,
    below_listing=BelowListing.CARE,
    soils=(SILT,),
)


def change(policy: ExtractionPolicy = STRICT, sent: uuid.UUID | None = None) -> ExtractionRules:
    return change_rules(
        submission_id=sent or uuid.uuid4(),
        policy=policy,
        reason="A slip in May.",
        by=ManagerFactory(),
    )


def test_the_rules_are_the_defaults_until_somebody_changes_them() -> None:
    assert rules_in_force() == ExtractionPolicy()


def test_the_rules_recorded_last_are_in_force_and_the_others_stay_readable() -> None:
    first = change()
    change(replace(STRICT, care_margin=2.0))
    assert rules_in_force().care_margin == 2.0
    assert rules_of(ExtractionRules.objects.get(pk=first.pk)) == STRICT


def test_a_second_copy_of_a_change_changes_nothing() -> None:
    sent = uuid.uuid4()
    first = change(sent=sent)
    assert change(replace(STRICT, care_margin=2.0), sent) == first
    assert rules_in_force() == STRICT


def test_the_database_refuses_to_change_rules_on_record() -> None:
    change()
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        ExtractionRules.objects.update(care_margin=1.0)


def test_the_database_refuses_to_delete_rules_on_record() -> None:
    row = change()
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        ExtractionRules.objects.filter(pk=row.pk).delete()
