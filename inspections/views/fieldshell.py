"""The page beside the hammer and its service worker: neither says anything of who asks."""

from __future__ import annotations

import json

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from inspections.field import shellfiles


# Open to all: somebody signed out must still come to what waits on their phone.
@login_not_required
@never_cache
@require_GET
def shell(request: HttpRequest) -> HttpResponse:
    """Send the page; what it shows comes from the phone's own store."""
    return HttpResponse(shellfiles.shell_page(), headers={"X-Field-Version": shellfiles.version()})


@login_not_required
@require_GET
def manifest(request: HttpRequest) -> JsonResponse:
    """Say how a phone puts the page on its home screen (W3C Web Application Manifest)."""
    shell = reverse("field")
    given = {
        "name": "At the hammer, Line-Pull Ledger",
        "short_name": "At the hammer",
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
        "version": shellfiles.version(),
        "shell": reverse("field"),
        "files": [static(name) for name in shellfiles.shell_files()],
        "places": shellfiles.places(),
    }
    sending = static(f"{shellfiles.FOLDER}/sending.js")
    lines = [
        "" if "plain" in request.GET else f"import {{ sendAll }} from {json.dumps(sending)};",
        f"const FIELD = {json.dumps(given)};",
        shellfiles.worker_script(),
    ]
    return HttpResponse(
        "\n".join(lines),
        content_type="text/javascript; charset=utf-8",
        headers={"Service-Worker-Allowed": reverse("field"), "Cache-Control": "no-cache"},
    )
