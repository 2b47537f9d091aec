"""Where the interface answers. It is made when a program first asks: that takes a second or two.

Every command and every page would wait for that else.
"""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import ResolverMatch, get_resolver, path
from django.views.decorators.csrf import csrf_exempt

MADE = "inspections.api.site"


@csrf_exempt
def answer(request: HttpRequest, rest: str) -> HttpResponse:
    """Let the interface answer what is asked at one of its addresses."""
    found = get_resolver(MADE).resolve(f"/{rest}")
    request.resolver_match = ResolverMatch(
        found.func,
        found.args,
        found.kwargs,
        found.url_name,
        app_names=[app_name],
        namespaces=[app_name],
        route=f"api/v1/{found.route}",
    )
    response: HttpResponse = found.func(request, *found.args, **found.kwargs)
    return response


# A token opens it, and no session.
answer.login_required = False  # type: ignore[attr-defined]

app_name = "api"
urlpatterns = [
    path("", answer, {"rest": ""}, name="api-root"),
    path("openapi.json", answer, {"rest": "openapi.json"}, name="openapi-json"),
    path("<path:rest>", answer),
]
