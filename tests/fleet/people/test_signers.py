"""Who signed, by the name of that moment."""

from __future__ import annotations

import re
from datetime import timedelta
from io import BytesIO
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.db import IntegrityError
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from fleet import clock
from fleet.models import PersonName
from fleet.signers import name_then, names_read_once, signer_words
from inspections.models import Inspection
from tests.builders import MONDAY, rated_unit
from tests.factories import UserFactory
from tests.site.html_form import words

pytestmark = pytest.mark.django_db
ROOT = Path(__file__).parents[3]


def rename(user: User, last_name: str) -> None:
    user.last_name = last_name
    user.save()


def test_a_rename_leaves_the_name_on_what_was_signed_before() -> None:
    with clock.set_to(MONDAY):
        user = UserFactory(first_name="Runa", last_name="Vik")
    with clock.set_to(MONDAY + timedelta(days=10)):
        rename(user, "Dahl")
    assert name_then(user, MONDAY + timedelta(days=1)) == "Runa Vik (now Runa Dahl)"
    assert name_then(user, MONDAY + timedelta(days=11)) == "Runa Dahl"


def test_of_what_was_signed_before_the_first_name_on_record_the_first_stands() -> None:
    with clock.set_to(MONDAY):
        user = UserFactory(first_name="Runa", last_name="Vik")
    assert name_then(user, MONDAY - timedelta(days=400)) == "Runa Vik"


def test_a_name_changed_behind_the_site_renames_nobody() -> None:
    user = UserFactory(first_name="Runa", last_name="Vik")
    User.objects.filter(pk=user.pk).update(last_name="Moe")
    user.refresh_from_db()
    assert name_then(user, clock.now()) == "Runa Vik (now Runa Moe)"


def test_what_else_is_saved_of_a_person_makes_no_name() -> None:
    user = UserFactory()
    user.save()
    user.save(update_fields=["last_login"])
    assert user.names.count() == 1


def test_names_are_read_once_for_a_page_and_again_after_a_change() -> None:
    user = UserFactory(first_name="Runa", last_name="Vik")
    signed_at = clock.now()
    with names_read_once():
        assert name_then(user, signed_at) == "Runa Vik"
        rename(user, "Dahl")
        assert name_then(user, signed_at) == "Runa Vik (now Runa Dahl)"


def test_the_database_keeps_names_as_they_were() -> None:
    user = UserFactory()
    with pytest.raises(IntegrityError, match="append-only"):
        PersonName.objects.filter(user=user).update(name="Somebody Else")


@pytest.mark.parametrize("page", ["inspection", "unit", "history-report"])
def test_pages_and_papers_have_the_name_of_the_moment(auditor_client: Client, page: str) -> None:
    unit = rated_unit()
    User.objects.filter(pk=unit.manager.pk).update(first_name="Somebody", last_name="Else")
    was = unit.manager.get_full_name()
    inspection = Inspection.objects.get()
    assert signer_words(inspection) == f"{was} (now Somebody Else)"
    record = inspection.pk if page == "inspection" else unit.housing.pk
    answer = auditor_client.get(reverse(page, args=[record]))
    text = pdf_words(answer.content) if page == "history-report" else words(answer)
    assert f"{was} (now Somebody Else)" in text


def pdf_words(paper: bytes) -> str:
    pages = PdfReader(BytesIO(paper)).pages
    return " ".join(" ".join(each.extract_text() for each in pages).split())


def test_no_page_writes_the_name_of_today_of_who_signed() -> None:
    """One function writes who signed: no template asks a record for a person's name itself."""
    found = [
        f"{path.relative_to(ROOT)}: {line.strip()}"
        for app in ("fleet", "ratings", "inspections")
        for path in (ROOT / app).rglob("*")
        if path.suffix in (".html", ".py")
        for line in path.read_text().splitlines()
        if re.search(r"(recorded|released|ended)_by\.(get_full_name|username)", line)
        or re.search(r"who_words\([\w.]*\b(recorded|released|ended)_by\)", line)
    ]
    assert found == []
