"""Pages that list units or tell of one: as many of them as there may be, the same wait.

What the board and the page of what is due say of the whole fleet, and in which order, is kept by
the process for a minute, unless anything is recorded or the day changes (`fleet.unchanged`): the
look that is measured is one of those between. The first after anything was recorded works it out,
and is told on standard error. At 10,000 units it takes the board 0.2 s: most of what it takes
longer is three queries that look at the head of every unit, to put the worst first and to count how
many stand how. What is due takes it half a second, worked out from keys and days alone: with a
record of each machine, as it was, it took 1.5 s, of which 1.1 was Django making records of rows.

The board's page: 11 queries, where there were 20. Its first page in its own order is what nearly
all who look read: the cells of those 25 rows are kept as that is, for each system of units, and so
are the first steps that a new yard has done; before, a third of its time went into the 9 queries of
the rows, and as much into writing 250 cells, each words, a drawing or a link. What is left is of
the reader and of the hour: who they are and what they may do (6 queries), work under way, the
yards to choose from. By one profile, 53 in 100 of the time are the template of the page, headings,
filters and menu, 21 the search of its text for terms to help with, 10 the queries. The other asks
two queries, knows no reader, and has no page about its table.
"""

from __future__ import annotations

from functools import partial
from statistics import median
from typing import Any

import django_tables2 as tables
from django.contrib.auth.models import User
from django.http import HttpResponse
from django.test import Client, RequestFactory
from django.urls import reverse

from fleet import unchanged
from fleet.models import SuppressorHousing
from tests.benchmarks.databases import Filled
from tests.benchmarks.measuring import Pairs, Run, Work, benchmark, timed
from tests.benchmarks.yards import Yard, long_life, yard

LOOKS_ANEW = 5


def visit(filled: Filled[Any], user: User, path: str) -> Work:
    """Return the work of asking for a page as a browser does, through all that the site does."""
    with filled.used():
        # Not "testserver", which only a site under test answers to.
        client = Client(headers={"host": "localhost"})
        client.force_login(user)

    def ask() -> None:
        with filled.used():
            found = client.get(path)
        if found.status_code != 200:
            raise RuntimeError(f"{path} answers {found.status_code}")

    return ask


class BareTable(tables.Table):  # type: ignore[misc]  # the library carries no types
    """As many columns as the board's, each a column of the database as it stands."""

    mark = tables.Column()
    standing = tables.Column(accessor="current_rating__head__standing")
    serial_number = tables.Column()
    pull_lbf = tables.Column(accessor="current_rating__head__pull_lbf")
    working_capacity_lbf = tables.Column(accessor="current_rating__head__working_capacity_lbf")
    listed_lbf = tables.Column(accessor="current_rating__head__listed_lbf")
    yard = tables.Column(accessor="yard__name")
    sound_pads = tables.Column(accessor="current_rating__head__sound_pads")
    usable_travel_in = tables.Column(accessor="current_rating__head__usable_travel_in")
    travel_seen_at = tables.Column()


@benchmark(
    "board_page",
    "the board’s 25 rows, to a bare django-tables2 page of as many rows and columns",
    goal=1.3,
)
def board_page(run: Run) -> Pairs:
    filled = _yard(run, 100, 30)

    def bare() -> None:
        with filled.used():
            request = RequestFactory().get("/")
            records = (
                SuppressorHousing.objects.select_related("yard", "current_rating__head")
                .defer("current_rating__head__document")
                .order_by("mark")
            )
            # In its own template, for ours must not slow it.
            table = BareTable(records, template_name="django_tables2/table.html")
            table.paginate(per_page=25)
            HttpResponse(table.as_html(request))

    return run.paired(visit(filled, filled.holds.manager, "/"), bare)


@benchmark(
    "board_growth",
    "the board at 10,000 units, to the board at 1,000",
    goal=1.3,
    sides=("at 10,000", "at 1,000"),
)
def board_growth(run: Run) -> Pairs:
    return _grown(run, reverse("board"))


@benchmark(
    "due_growth",
    "what is due at 10,000 units, to what is due at 1,000",
    goal=1.3,
    sides=("at 10,000", "at 1,000"),
)
def due_growth(run: Run) -> Pairs:
    return _grown(run, reverse("due"))


def _yard(run: Run, full: int, fast: int) -> Filled[Yard]:
    units = run.size(full, fast)
    return run.databases.filled(("yard", units), lambda: yard(units))


def _grown(run: Run, path: str) -> Pairs:
    many, few = _yard(run, 10_000, 40), _yard(run, 1_000, 30)
    works = [visit(each, each.holds.manager, path) for each in (many, few)]
    found = run.paired(*works)
    anew_ms = [1000.0 * _anew_s(work) for work in works]
    run.tell(
        "the first look after anything was recorded: "
        f"at 10,000 {anew_ms[0]:,.1f} ms, at 1,000 {anew_ms[1]:,.1f} ms"
    )
    return found


def _anew_s(work: Work) -> float:
    """Return the seconds a look takes where nothing is known yet: the median of a few."""
    found = []
    for _ in range(LOOKS_ANEW):
        unchanged.forget()
        found.append(timed(work))
    return median(found)


@benchmark(
    "unit_growth",
    "a unit’s page at 5,000 entries in its ledger, to one at 50",
    goal=1.2,
    sides=("at 5,000", "at 50"),
)
def unit_growth(run: Run) -> Pairs:
    works = []
    for entries in (run.size(5_000, 40), run.size(50, 20)):
        filled = run.databases.filled(("life", entries), partial(long_life, entries))
        unit = filled.holds
        works.append(visit(filled, unit.manager, reverse("unit", args=[unit.housing.pk])))
    return run.paired(*works)
