"""An outage found to begin earlier says since when it was so, and since when that is known."""

from __future__ import annotations

import re
import uuid
from datetime import datetime, timedelta
from io import BytesIO

import pytest
from django.db import IntegrityError
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from fleet import clock
from fleet.dates import moment_words
from fleet.models import OutageReach, OutOfService
from inspections.count.findings import out_of_service_for
from tests.builders import MONDAY, Unit, rated_unit

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def found(unit: Unit, seen_at: datetime, known_at: datetime) -> OutOfService:
    """A finding that takes a housing out, seen at one time and signed at another."""
    with clock.set_to(known_at):
        return out_of_service_for(unit.housing, seen_at, "Cracked lug", uuid.uuid4(), unit.manager)


def reached_back() -> tuple[Unit, OutOfService]:
    unit = rated_unit()
    found(unit, MONDAY + 5 * DAY, MONDAY + 5 * DAY)
    return unit, found(unit, MONDAY + 3 * DAY, MONDAY + 7 * DAY)


def test_when_it_was_so_and_when_that_was_known_both_stay() -> None:
    _unit, outage = reached_back()
    assert outage.since == MONDAY + 3 * DAY
    known = [outage.since_known_at(MONDAY + days * DAY) for days in (4, 5, 6, 7)]
    assert known == [None, MONDAY + 5 * DAY, MONDAY + 5 * DAY, MONDAY + 3 * DAY]


def test_a_later_finding_reaches_nowhere() -> None:
    unit, outage = reached_back()
    found(unit, MONDAY + 4 * DAY, MONDAY + 8 * DAY)
    assert outage.reaches.count() == 1


def test_unit_page_and_history_say_both(auditor_client: Client) -> None:
    unit, outage = reached_back()
    said = (
        f"known since {moment_words(MONDAY + 7 * DAY)}, until then from "
        f"{moment_words(MONDAY + 5 * DAY)} on"
    )
    assert outage.reached_back_words == said
    assert said in auditor_client.get(reverse("unit", args=[unit.housing.pk])).content.decode()
    paper = auditor_client.get(reverse("history-report", args=[unit.housing.pk])).content
    text = " ".join(page.extract_text() for page in PdfReader(BytesIO(paper)).pages)
    assert said in re.sub(r"\s+", " ", text)


def test_the_database_keeps_it() -> None:
    reached_back()
    with pytest.raises(IntegrityError, match="append-only"):
        OutageReach.objects.update(because="Nothing")
