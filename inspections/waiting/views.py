from __future__ import annotations

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache

from fleet.roles import signed_in
from fleet.tables import ROWS_ON_A_PAGE
from inspections.waiting.providers import PROVIDERS, waiting_for
from inspections.waiting.sections import Line, Section, waiting

# Of a section on the page of all; the section's own page has the rest.
LINES_SHOWN = 5


@never_cache
def waits(request: HttpRequest) -> HttpResponse:
    """Show what waits for whoever reads it, each with what settles it beside it."""
    person = signed_in(request)
    found = waiting_for(person)
    sections = [(each, each.lines(many=LINES_SHOWN)) for each in found.sections]
    context = {
        "section": "waiting",
        "waiting": found,
        "sections": [(each, _with_actions(request, each, lines)) for each, lines in sections],
    }
    return render(request, "waiting/waiting.html", context)


@never_cache
def waits_of(request: HttpRequest, section: str) -> HttpResponse:
    """Show all that waits of one section, a page of it at a time."""
    provider = next((each for each in PROVIDERS if each.key == section), None)
    if provider is None:
        raise Http404(f"There is no section {section}.")
    found = waiting([provider], signed_in(request))
    asked = found.sections[0] if found.sections else None
    page = Paginator(range(asked.count if asked else 0), ROWS_ON_A_PAGE).get_page(
        request.GET.get("page")
    )
    lines = asked.lines(max(page.start_index() - 1, 0), ROWS_ON_A_PAGE) if asked else []
    context = {
        "section": "waiting",
        "provider": provider,
        "count": asked.count if asked else 0,
        "lines": _with_actions(request, asked, lines) if asked else [],
        "next": found.next,
        "page": page,
    }
    return render(request, "waiting/section.html", context)


def _with_actions(
    request: HttpRequest, section: Section, lines: list[Line]
) -> list[tuple[Line, bool]]:
    """Return each line with whether its reader may do what settles it."""
    person = signed_in(request)
    return [
        (line, bool(line.form) and person.has_perm(line.settled_by or section.provider.settled_by))
        for line in lines
    ]
