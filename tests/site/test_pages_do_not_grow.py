"""No page that lists records takes more queries, or weighs more, as there are more of them."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from tests.inspections.field.sent import signed_in
from tests.site.large_yard import LargeYard, fill_large_yard

pytestmark = pytest.mark.django_db

MOST_QUERIES = 60
# A unit's page tells of more kinds of record than any list: its commitments, conditions, pulls.
# What waits is looked up section by section, whatever there is of it; what presses by keys, and
# what is shown of it read after that. Keys are kept until anything is recorded, 14 queries fewer.
# Two answers side by side ask all that two pages of an answer ask.
# A past day with what came on record since asks what was so and what was known; two days of units,
# machines, lots and jobs ask all of it twice.
MOST_QUERIES_OF = {
    "unit": 100,
    "waiting": 84,
    "two answers": 64,
    "as of a day so": 76,
    "two days": 108,
    "two days turned": 108,
    "unit as of a day": 76,
}
MOST_BYTES = 300_000
FEW, MANY = 60, 300


def paths(yard: LargeYard) -> dict[str, str]:
    """Every page that lists records, and some as they are narrowed, sorted and turned."""
    # Asked for anew each time: a run may pass midnight, and a day gone by is asked of otherwise.
    today = timezone.localdate()
    yesterday = today - timedelta(days=1)
    return {
        "board": reverse("board"),
        "board narrowed": reverse("board") + "?search=HAM-0&standing=meets+listing&sort=-share",
        "waiting": reverse("waiting"),
        "fleet summary": reverse("fleet-summary") + "?first=2025-01-01&last=2026-03-01",
        "as of a day": reverse("board-as-of") + f"?day={today}&sense=known",
        "as of a day so": reverse("board-as-of") + f"?day={yesterday}",
        "two days": reverse("as-of-differences") + f"?day={yesterday}&other={today}",
        "two days turned": reverse("as-of-differences")
        + f"?day={yesterday}&other={today}&units-page=2&machines-page=2&lots-page=2",
        "unit as of a day": reverse("unit-as-of", args=[yard.housing]) + f"?day={today}",
        "lot as of a day": reverse("lot-as-of", args=[yard.lot]) + f"?day={today}",
        "hammer as of a day": reverse("machine-as-of", args=["hammer", yard.hammer])
        + f"?day={today}",
        "job as of a day": reverse("job-as-of", args=[yard.job]) + f"?day={today}",
        "search": reverse("search") + "?q=-0",
        "search of one sort": reverse("search") + "?q=H-0&sort=housings&page=2",
        **{
            f"waiting, {key}": reverse("waiting-section", args=[key]) + "?page=2"
            for key in ("overdue", "findings", "calibrations", "stale")
        },
        "due": reverse("due"),
        "due narrowed": reverse("due") + "?search=HAM-0&state=overdue&sort=-mark&findings-page=2",
        "due sorted": reverse("due") + "?kind=monthly&sort=last_day&findings-sort=finding",
        "lots": reverse("lots"),
        "lots narrowed": reverse("lots") + "?search=L-0&state=rated&sort=-rate_lbf_in",
        "lot": reverse("lot", args=[yard.lot]),
        "lot turned": reverse("lot", args=[yard.lot]) + "?moves-page=2&tests-sort=by",
        "life of a lot": reverse("lot-life", args=[yard.lot]) + "?pads-sort=-worked&pads-page=2",
        "pads over time": reverse("unit-pads", args=[yard.housing]) + "?pads-sort=ended",
        "forecast": reverse("unit-forecast", args=[yard.housing]),
        "forecast of the fleet": reverse("fleet-forecast") + "?sort=-unit&page=2",
        "how good forecasts were": reverse("forecasts-held") + "?held-sort=mark",
        "rating": reverse("lot-rating", args=[yard.rating]),
        "unit": reverse("unit", args=[yard.housing]),
        "ledger": reverse("unit-records", args=[yard.housing, "ledger"]),
        "ledger narrowed": reverse("unit-records", args=[yard.housing, "ledger"])
        + "?cause=pad+count&standing=meets+listing&sort=cause&page=2",
        "one entry": reverse("unit-records", args=[yard.housing, "ledger"]) + "?entry=2",
        "findings of a unit": reverse("unit-records", args=[yard.housing, "findings"]),
        "inspections of a unit": reverse("unit-records", args=[yard.housing, "inspections"])
        + "?sort=-by&page=2",
        "proof pulls of a unit": reverse("unit-records", args=[yard.housing, "proofs"])
        + "?sort=-ratio&page=2",
        "mountings of a unit": reverse("unit-records", args=[yard.housing, "mountings"]),
        "outages of a unit": reverse("unit-records", args=[yard.housing, "service"]),
        "guides of a unit": reverse("unit-records", args=[yard.housing, "guides"]) + "?page=2",
        "guide form": reverse("guide", args=[yard.housing]),
        "stands": reverse("stands"),
        "stands turned": reverse("stands") + "?gauges-sort=-due_on&stands-page=2&tools-sort=mark",
        "stand": reverse("stand", args=[yard.stand]) + "?checks-sort=rate_lbf_in&others-page=2",
        "gauge": reverse("gauge", args=[yard.gauge]) + "?sort=due_on",
        "recall": reverse("recall", args=[yard.calibration]) + "?tests-sort=lot&ratings-page=2",
        "listings": reverse("listings"),
        "listings narrowed": reverse("listings") + "?search=H-0&mounted=yes&sort=-housing",
        "listing form": reverse("new-listing", args=[yard.hammer]),
        "machines": reverse("machines"),
        "machines turned": reverse("machines") + "?clamps-sort=-weight_lb&packs-page=2",
        "hammers as machines": reverse("machine-list", args=["hammer"]) + "?sort=-mark&page=2",
        "clamps as machines": reverse("machine-list", args=["clamp"]) + "?hangs=yes&state=out",
        "hammer": reverse("machine-page", args=["hammer", yard.hammer])
        + "?readings-sort=hours&inspections-page=2&findings-page=2",
        "documents of a hammer": reverse("machine-documents", args=["hammer", yard.hammer]),
        "hammers": reverse("set-up-hammers") + "?sort=-yard&page=2",
        "housings": reverse("set-up-housings") + "?sort=-design_travel_in",
        "people": reverse("people") + "?sort=-name",
        "tokens of a person": reverse("person", args=[yard.manager.pk if yard.manager else 1])
        + "?tokens-page=2&tokens-sort=expires_on",
        "labels": reverse("labels"),
        "labels narrowed": reverse("labels") + "?search=H-0",
        "stock take": reverse("stock-take"),
        "stock take turned": reverse("stock-take") + "?search=L-0&page=2",
        "pile sections": reverse("pile-sections") + "?own-sort=-area_in2&generic-sort=name",
        "soil templates": reverse("soil-templates"),
        "kinds": reverse("kinds") + "?sort=by",
        "schedule": reverse("schedule"),
        "checklist": reverse("checklist", args=["monthly"]),
        "policy": reverse("policy"),
        "proposals": reverse("proposals") + "?state=waits&sort=-by&page=2",
        "surveillance": reverse("surveillance"),
        "record": reverse("record"),
        "who did what": reverse("who-did-what") + "?page=2",
        "who did what, narrowed": reverse("who-did-what") + "?search=H-0&what=writes&unit=H-0",
        "how long files are kept": reverse("retention"),
        "files of jobs past their time": reverse("retention-kind", args=["job-files"]),
        "surveillance of a lot": reverse("lot-surveillance", args=[yard.lot]),
        "two answers": reverse("compare-answers")
        + f"?job={yard.job}&unit={yard.housing}&other_job={yard.job + 1}&other_unit=",
        "extraction rules": reverse("extraction-rules"),
        "pulls": reverse("pulls"),
        "pulls narrowed": reverse("pulls") + "?search=Ferry&outcome=came&sort=-measured_lbf&page=2",
        "what pulls teach": reverse("pull-lessons"),
        "pulls of a unit": reverse("unit-records", args=[yard.housing, "pulls"]),
        "pulls of a job": reverse("job", args=[yard.job]) + "?pulls-page=2",
        "meter": reverse("meter", args=[yard.hammer]),
        "job": reverse("job", args=[yard.job]),
        "move to another yard": reverse("move-yards", args=[yard.lot]),
        "replace pads": reverse("replace-pads", args=[yard.housing]),
        "mounting": reverse("mounting", args=[yard.housing]),
        "register": reverse("exchange"),
        "own sheets": reverse("sheets"),
        "what was taken in": reverse("taken-imports"),
        "files of a job": reverse("job-attachments", args=[yard.job]) + "?sort=-title",
        "history of a job": reverse("job-history", args=[yard.job]) + "?sort=by",
        "jobs": reverse("jobs"),
        "jobs narrowed": reverse("jobs") + "?search=Pier&when=later&sort=deepest_ft",
        "calendar": reverse("units-calendar") + "?page=2",
        "calendar of a month": reverse("units-calendar") + "?span=31",
        "plans held to what came": reverse("plans-record") + "?page=2",
        "orders of pads": reverse("pad-orders") + "?search=Nord&state=open&sort=-due_on&page=2",
        "repairs": reverse("repairs") + "?search=hose&state=open&sort=-planned_on&page=2",
        "hires": reverse("hires") + "?search=pier&state=out&sort=-back_due&page=2",
        "hammers not ours": reverse("foreign-checks") + "?search=BP&sort=owner&page=2",
        "transfers": reverse("transfers") + "?sort=-goal",
        "distances between yards": reverse("yard-hauls"),
        "transport rules": reverse("transport-rules"),
        "restoring": reverse("restore"),
        "restoring a unit": reverse("restore") + f"?unit={yard.housing}",
        "restoring at the least cost": reverse("restore") + f"?unit={yard.housing}&goal=cheapest",
        "restoring in brief": reverse("restore-brief", args=[yard.housing]),
        "restoring plans": reverse("restoring-plans") + "?sort=-recorded_at&page=2",
    }


def measured(many: int) -> dict[str, tuple[int, int]]:
    """The queries and bytes of each page where there are so many of everything."""
    yard = fill_large_yard(many)
    if connection.vendor == "postgresql":
        # As the database does by itself in service; else it plans as for empty tables.
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
    client = signed_in(yard.manager)
    found = {}
    for name, path in paths(yard).items():
        client.get(path)
        with CaptureQueriesContext(connection) as asked:
            answer = client.get(path)
        assert answer.status_code == 200, name
        found[name] = (len(asked), len(answer.content))
    return found


@pytest.fixture(scope="module")
def pages(django_db_setup: Any, django_db_blocker: Any) -> dict[int, dict[str, tuple[int, int]]]:
    """What each page took with few records and with many; nothing of them is kept."""
    found = {}
    with django_db_blocker.unblock():
        for many in (FEW, MANY):
            with transaction.atomic():
                found[many] = measured(many)
                transaction.set_rollback(True)
    return found


NAMES = list(paths(LargeYard(None, 1, 1, 1, 1, 1)))  # type: ignore[arg-type]


@pytest.mark.parametrize("name", NAMES)
def test_a_page_takes_no_more_queries_for_many(pages: Any, name: str) -> None:
    few, many = pages[FEW][name][0], pages[MANY][name][0]
    assert many <= few
    assert many <= MOST_QUERIES_OF.get(name, MOST_QUERIES)


@pytest.mark.parametrize("name", NAMES)
def test_a_page_of_many_weighs_little(pages: Any, name: str) -> None:
    assert pages[MANY][name][1] < MOST_BYTES
