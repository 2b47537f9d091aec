"""A sign-in holds for a month from the last day it was used."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.contrib.sessions.models import Session
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from tests.factories import ManagerFactory

pytestmark = pytest.mark.django_db


def test_the_month_counts_from_the_day_of_use(client: Client) -> None:
    client.force_login(ManagerFactory())
    session = client.session
    session["last_used_on"] = "2026-01-01"
    session.save()
    Session.objects.update(expire_date=timezone.now() + timedelta(days=2))
    client.get(reverse("board"))
    assert Session.objects.get().expire_date > timezone.now() + timedelta(days=29)


def test_a_page_on_the_day_of_the_sign_in_writes_nothing(client: Client) -> None:
    client.force_login(ManagerFactory())
    with CaptureQueriesContext(connection) as asked:
        client.get(reverse("board"))
    assert not [each for each in asked if not each["sql"].startswith("SELECT")]


def test_who_is_not_signed_in_gets_no_session(client: Client) -> None:
    client.get(reverse("sign-in"))
    assert not Session.objects.exists()
