from __future__ import annotations

import gzip
import html
import json
import re
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from fleet.models.hammer import MOST_HOURS
from fleet.models.housing import LARGEST_TRAVEL_IN, LEAST_TRAVEL_IN, TRAVEL_ROUNDING_IN
from inspections.field import shell as shell

pytestmark = pytest.mark.django_db

KILOBYTE = 1000
APPS = ("fleet", "ratings", "inspections")


def test_the_page_opens_for_all_and_says_nothing_of_who_asks(manager_client: Client) -> None:
    signed_out = Client().get(reverse("field"))
    assert signed_out.status_code == 200
    assert signed_out.content == manager_client.get(reverse("field")).content


def test_the_page_brings_the_bounds_of_what_is_typed_to_the_phone() -> None:
    page = Client().get(reverse("field")).text
    [given] = re.findall(r'data-bounds="([^"]*)"', page)
    bounds = json.loads(html.unescape(given))
    assert bounds["travel_in"] == [LEAST_TRAVEL_IN, LARGEST_TRAVEL_IN]
    assert bounds["travel_rounding_in"] == TRAVEL_ROUNDING_IN
    assert bounds["hours"] == [0, MOST_HOURS]
    assert (
        bounds["longest"].items()
        >= {
            "note": 2000,
            "weather": 80,
            "travel_reason": 200,
            "reason": 200,
            "text": 1000,
            "who_acts": 80,
            "caption": 200,
        }.items()
    )


def test_the_worker_may_be_asked_anew_at_any_time_and_names_every_file() -> None:
    answer = Client().get(reverse("field-worker"))
    assert answer["Content-Type"].startswith("text/javascript")
    assert answer["Cache-Control"] == "no-cache"
    assert answer["Service-Worker-Allowed"] == reverse("field")
    assert "/static/inspections/field/linepull.js" in answer.text
    assert f'"version": "{shell.version()}"' in answer.text
    assert Client().get(reverse("field"))["X-Field-Version"] == shell.version()


def test_a_plain_worker_imports_nothing() -> None:
    assert Client().get(reverse("field-worker")).text.startswith("import ")
    assert "import " not in Client().get(reverse("field-worker") + "?plain").text.split("const")[0]


def test_a_changed_file_makes_another_version(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    before = shell._hash()
    other = tmp_path / "site.css"
    other.write_text("body { color: red; }")
    found = shell._found
    monkeypatch.setattr(
        shell, "_found", lambda name: other if name.endswith("site.css") else found(name)
    )
    assert shell._hash() != before


def test_every_module_that_is_imported_is_kept_on_the_phone() -> None:
    kept = set(shell.shell_files())
    for name in kept:
        if name.endswith(".js"):
            imported = re.findall(r'from "\./([\w.]+)"', shell._found(name).read_text())
            assert {f"{shell.FOLDER}/{each}" for each in imported} <= kept, name


def test_all_script_and_style_of_our_own_weighs_less_than_100_kb_packed() -> None:
    files = [
        path
        for app in APPS
        for path in (Path(settings.BASE_DIR) / app / "static").rglob("*")
        if path.suffix in (".js", ".css")
    ]
    assert sum(len(gzip.compress(path.read_bytes())) for path in files) < 100 * KILOBYTE


def test_the_first_page_weighs_less_than_200_kb_as_sent() -> None:
    sizes = [len(shell._found(name).read_bytes()) for name in shell.shell_files()]
    assert sum(sizes) + len(shell.shell_page()) < 200 * KILOBYTE


def test_a_phone_may_put_the_page_on_its_home_screen(client: Client) -> None:
    page = client.get(reverse("field")).content.decode()
    address = re.search(r'rel="manifest" href="([^"]+)"', page)
    assert address is not None
    given = client.get(address[1])
    assert given["Content-Type"] == "application/manifest+json"
    assert given.json()["start_url"] == given.json()["scope"] == reverse("field")
