"""The files of the page that opens without signal, and the version they make together."""

from __future__ import annotations

import hashlib
import json
import uuid
from functools import cache
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from fleet.models.housing import TRAVEL_ROUNDING_IN, Condition
from fleet.quantities import Quantity
from inspections.field.payload import AnswerForm, FindingForm, PhoneForm, PhotoForm
from inspections.field.pulls import PhonePullForm, pull_bounds
from ratings.mechanics.standing import Standing

FOLDER = "inspections/field"
WORKER = "inspections/fieldworker.js"
SHARED = ("fleet/site.css", "fleet/icon.svg")


def shell_files() -> list[str]:
    """Return the names of all static files the page is made of."""
    folder = _found(FOLDER)
    own = sorted(path.name for path in folder.iterdir() if path.suffix in (".js", ".css"))
    return [*SHARED, *(f"{FOLDER}/{name}" for name in own)]


def shell_page() -> str:
    """Return the page. It says nothing of whoever asks, so that a phone may keep it."""
    context = {
        "modules": [name for name in shell_files() if name.endswith(".js")],
        "conditions": Condition.values,
        "standings": list(Standing),
        "places": places(),
        "keep_place": settings.KEEP_PHOTO_PLACE,
        "bounds": json.dumps(_bounds()),
        "quantities": json.dumps(_quantities()),
    }
    return render_to_string("field/field.html", context)


def _bounds() -> dict[str, Any]:
    """What the phone holds numbers and texts to: the bounds of the forms that read what it sends.

    longest: by the phone's names of its texts, how many characters each may have.
    """
    fields: dict[str, Any] = {}
    # An answer's text is the checklist's own; the one that is typed is a finding's.
    for form in (AnswerForm, FindingForm, PhotoForm, PhonePullForm, PhoneForm):
        fields |= form.base_fields
    return {
        "travel_in": [fields["travel_in"].least, fields["travel_in"].most],
        "travel_rounding_in": TRAVEL_ROUNDING_IN,
        "hours": [fields["hours"].least, fields["hours"].most],
        "pull": pull_bounds(),
        "longest": {
            name: field.max_length
            for name, field in fields.items()
            if getattr(field, "max_length", None)
        },
    }


def _quantities() -> dict[str, Any]:
    """How the phone shows what is measured in either system: by what factor, with what symbol."""
    shown = {
        "length": Quantity.LENGTH,
        "pull": Quantity.PULL,
        "force": Quantity.FORCE,
        "weight": Quantity.WEIGHT,
        "depth": Quantity.DEPTH,
    }
    return {
        name: {
            system: {"factor": scale.factor, "symbol": scale.symbol}
            for system, scale in ((each, quantity.scale(each)) for each in ("us", "si"))
        }
        for name, quantity in shown.items()
    }


def places() -> dict[str, str]:
    """Return where the phone fetches and sends; photos go to their id below their folder."""
    one = uuid.UUID(int=0)
    return {
        "pack": reverse("field-pack"),
        "inspections": reverse("field-inspections"),
        "pulls": reverse("field-pulls"),
        "photos": reverse("field-photo", args=[one]).removesuffix(f"{one}/"),
    }


def worker_script() -> str:
    """Return the service worker as written, without what the view puts before it."""
    return _found(WORKER).read_text()


def version() -> str:
    """Return a name for the page, its files and its worker that changes with any of them."""
    return _hash() if settings.DEBUG else _hash_once()


def _hash() -> str:
    made = hashlib.sha256(shell_page().encode())
    for name in [WORKER, *shell_files()]:
        made.update(_found(name).read_bytes())
    return made.hexdigest()[:16]


_hash_once = cache(_hash)


def _found(name: str) -> Path:
    path = finders.find(name)
    assert isinstance(path, str), f"{name} is not among the static files"
    return Path(path)


# Open to all: somebody signed out must still come to what waits on their phone.
@login_not_required
@never_cache
@require_GET
def shell(request: HttpRequest) -> HttpResponse:
    """Send the page; what it shows comes from the phone's own store."""
    return HttpResponse(shell_page(), headers={"X-Field-Version": version()})


@login_not_required
@require_GET
def manifest(request: HttpRequest) -> JsonResponse:
    """Say how a phone puts the page on its home screen (W3C Web Application Manifest)."""
    shell = reverse("field")
    given = {
        "name": "Inspect, Line-Pull Ledger",
        "short_name": "Inspect",
        "id": shell,
        "start_url": shell,
        "scope": shell,
        "display": "minimal-ui",
        "background_color": "#fbfaf6",
        "theme_color": "#0b5c63",
        "icons": [{"src": static("fleet/icon.svg"), "sizes": "any", "type": "image/svg+xml"}],
    }
    return JsonResponse(given, content_type="application/manifest+json")


@login_not_required
@require_GET
def worker(request: HttpRequest) -> HttpResponse:
    """Send the service worker; one of another version is another file, so a change is noticed."""
    given = {
        "version": version(),
        "shell": reverse("field"),
        "files": [static(name) for name in shell_files()],
        "places": places(),
    }
    sending = static(f"{FOLDER}/sending.js")
    lines = [
        "" if "plain" in request.GET else f"import {{ sendAll }} from {json.dumps(sending)};",
        f"const FIELD = {json.dumps(given)};",
        worker_script(),
    ]
    return HttpResponse(
        "\n".join(lines),
        content_type="text/javascript; charset=utf-8",
        headers={"Service-Worker-Allowed": reverse("field"), "Cache-Control": "no-cache"},
    )
