"""A note of 50,000 letters without a space breaks no page and no paper that shows it."""

from __future__ import annotations

from typing import Any

import pytest
from django.apps import apps
from django.db import connection, models
from django.test import Client
from django.urls import reverse

from inspections.models import Inspection
from tests.builders import ordered_repair, rated_unit
from tests.conftest import append_only_lifted
from tests.inspections.field.sent import finding_sent, payload, send, signed_in
from tests.job_builders import commit, extraction_job, figured_unit

pytestmark = pytest.mark.django_db

LETTERS = "x" * 50_000
# Texts that people write as they please, by the names of their columns.
WRITTEN = ("note", "text", "source", "what", "reason", "release_reason", "rigging_note")


def written_long() -> None:
    """Make every note on record as long as none should be."""
    for app in ("fleet", "ratings", "inspections"):
        for model in apps.get_app_config(app).get_models():
            fields: list[Any] = [
                field
                for field in model._meta.concrete_fields
                if field.name in WRITTEN
                and isinstance(field, models.CharField | models.TextField)
                and not field.choices
            ]
            for field in fields:
                rows = model._base_manager.exclude(**{field.name: ""})
                # PostgreSQL itself holds a short column to its length.
                is_held = connection.vendor == "postgresql" and isinstance(field, models.CharField)
                most = field.max_length if is_held else None
                rows.update(**{field.name: LETTERS[:most]})
    Inspection._base_manager.update(note=LETTERS)


def test_no_page_and_no_paper_breaks(manager_client: Client) -> None:
    unit = rated_unit()
    finding = finding_sent()
    assert send(signed_in(unit.manager), payload(unit, findings=[finding])).status_code == 201
    order, job, made = ordered_repair(unit.hammer), extraction_job(), commit(figured_unit())
    with append_only_lifted():
        written_long()
    housing, hammer = unit.housing.pk, unit.hammer.pk
    pages = [
        reverse("board"),
        reverse("waiting"),
        reverse("due"),
        reverse("unit", args=[housing]),
        *(
            reverse("unit-records", args=[housing, what])
            for what in ("ledger", "findings", "inspections", "service")
        ),
        reverse("inspection", args=[Inspection.objects.latest("pk").pk]),
        reverse("machine-page", args=["hammer", hammer]),
        reverse("lot", args=[unit.lot.pk]),
        reverse("listings"),
        reverse("repair-order", args=[order.pk]),
        reverse("work-list"),
        reverse("job", args=[job.pk]),
        reverse("job", args=[made.job_id]),
        reverse("commitment", args=[made.pk]),
        reverse("search") + "?q=x",
        reverse("who-did-what") + "?search=x",
        # Papers.
        reverse("history-report", args=[housing]),
        reverse("pull-sheet", args=[made.pk]),
        reverse("fleet-summary") + "?first=2025-01-01&last=2026-03-01",
    ]
    answered = {page: manager_client.get(page).status_code for page in pages}
    # A sheet whose job was altered behind the site has none to print, and says so.
    assert {page: status for page, status in answered.items() if status not in (200, 409)} == {}
