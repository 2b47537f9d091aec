from __future__ import annotations

import gzip
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.test import Client

from tests.builders import rated_unit

APPS = ("fleet", "ratings", "inspections")
MOST_OWN_BYTES = 100_000
MOST_FIRST_PAGE_BYTES = 200_000


def test_all_script_and_style_of_our_own_is_under_100_kb_gzipped() -> None:
    files = [
        file
        for app in APPS
        for file in Path(app).glob("static/**/*")
        if file.suffix in (".js", ".css")
    ]
    assert len(files) > 5
    assert sum(len(gzip.compress(file.read_bytes())) for file in files) < MOST_OWN_BYTES


@pytest.mark.django_db
def test_the_first_page_and_all_it_asks_for_is_under_200_kb(auditor_client: Client) -> None:
    for _ in range(3):
        rated_unit()
    page = auditor_client.get("/").content
    asked = {
        part.split('"')[0].removeprefix("/static/")
        for part in page.decode().split('="')[1:]
        if part.startswith("/static/")
    }
    assert len(asked) >= 4
    found = [finders.find(name) for name in asked]
    weight = len(page) + sum(Path(str(path)).stat().st_size for path in found if path)
    assert all(found)
    assert weight < MOST_FIRST_PAGE_BYTES
