from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.site.html_form import words

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("name", ["set-up", "first-steps"])
def test_the_clock_of_the_site_is_shown_with_what_to_do_where_it_is_another(
    name: str, manager_client: Client, settings: Any
) -> None:
    settings.TIME_ZONE = "Europe/Oslo"
    page = words(manager_client.get(reverse(name)))
    now = timezone.localtime(timezone=ZoneInfo("Europe/Oslo"))
    assert f"Times here are those of Europe/Oslo , where it is now {now:%a %-d %b %Y}" in page
    assert "set TIME_ZONE" in page
