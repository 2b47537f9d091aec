"""One box that finds whatever the yard has on record."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from fleet.tables import ROWS_ON_A_PAGE
from inspections.search.sources import LONGEST_ASKED, SOURCES, words_asked

# Of each sort; the sort's own page has the rest.
HITS_SHOWN = 5


def search(request: HttpRequest) -> HttpResponse:
    """Show where words stand on record: of every sort the newest, or of one sort all.

    In a fixed number of queries, each of which brings no more rows than are shown.
    """
    asked = request.GET.get("q", "").strip()
    words = words_asked(asked)
    context = {
        "section": "search",
        "asked": asked[:LONGEST_ASKED],
        "words": words,
        "longest_asked": LONGEST_ASKED,
    }
    sort = next((each for each in SOURCES if each.key == request.GET.get("sort")), None)
    if sort is not None and words:
        page = Paginator(sort.found(words), ROWS_ON_A_PAGE).get_page(request.GET.get("page"))
        hits = [sort.hit(record, words) for record in page.object_list]
        return render(
            request, "search/search.html", context | {"sort": sort, "page": page, "hits": hits}
        )
    groups = []
    for each in SOURCES if words else ():
        records = list(each.found(words)[: HITS_SHOWN + 1])
        if records:
            hits = [each.hit(record, words) for record in records[:HITS_SHOWN]]
            groups.append((each, hits, len(records) > HITS_SHOWN))
    return render(request, "search/search.html", context | {"groups": groups})
