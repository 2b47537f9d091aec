"""Send a form as a browser would, and look at what came of it."""

from __future__ import annotations

from typing import Any

from django.test import Client
from django.urls import reverse

from ratings.models import CurrentRating, LedgerEntry
from tests.all_tables import changed, everything
from tests.builders import Unit
from tests.site.html_form import Fields, words


def head(unit: Unit) -> LedgerEntry:
    return CurrentRating.objects.get(housing=unit.housing).head


def page(name: str, *keys: int) -> str:
    return reverse(name, args=keys)


def sent(client: Client, url: str, fields: Fields) -> Any:
    """Send a form that must be taken, and return the page it leads to."""
    response = client.post(url, fields, follow=True)
    assert response.redirect_chain, words(response)
    return response


def sent_twice(client: Client, url: str, fields: Fields) -> None:
    """Send a form as a doubled tap does: the second copy must change nothing."""
    sent(client, url, fields)
    before = everything()
    assert client.post(url, fields, follow=True).status_code == 200
    assert changed(before) == set()
