"""A number typed into a job's form, from the last key to the answer in its place.

It prints times and ratios and asserts no time.
"""

from __future__ import annotations

import os
import statistics
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from fleet.models import Mounting
from inspections.models import Inspection
from ratings.models import CurrentRating
from tests.browser.chromium import CHROMIUM, NONE_FOUND, Visit
from tests.browser.watch import DESKTOP
from tests.factories import DispatcherFactory
from tests.job_builders import extraction_job, figured_unit
from tests.site.large_yard import copies

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(CHROMIUM is None and os.environ.get("CI") != "true", reason=NONE_FOUND),
]

FEW, MANY = 5, 50
CHANGES = 9
# What is shown within this many thousandths of a second people take for an answer to their key.
AIM_MS = 400

# Times of the last key, of the question sent for it, of its answer, and of its being on screen.
LISTEN = """() => {
  window.answered = [];
  let key = 0, sent = 0, came = 0;
  document.addEventListener("keyup", () => { key = performance.now(); }, true);
  const answer = document.getElementById("answer");
  answer.addEventListener("htmx:beforeSend", () => { sent = performance.now(); });
  answer.addEventListener("htmx:beforeSwap", () => { came = performance.now(); });
  answer.addEventListener("htmx:afterSwap", () => requestAnimationFrame(() => setTimeout(() => {
    const seen = performance.now();
    window.answered.push([sent - key, came - sent, seen - came, seen - key]);
  })));
}"""


def copy_units(unit: Any, many: int, first: int) -> None:
    """So many more units like one, each with its own hammer, inspection and ledger."""
    housings = copies(unit.housing, many, mark=lambda n: f"H-{first + n}")
    hammers = copies(unit.hammer, many, mark=lambda n: f"HAM-{first + n}")
    mounting = Mounting.objects.get(housing=unit.housing)
    copies(
        mounting,
        many,
        housing_id=lambda n: housings[n].pk,
        hammer_id=lambda n: hammers[n].pk,
    )
    seen = Inspection.objects.filter(housing=unit.housing).latest("pk")
    copies(seen, many, housing_id=lambda n: housings[n].pk, hour_reading_id=None)
    entries = copies(
        CurrentRating.objects.get(housing=unit.housing).head,
        many,
        housing_id=lambda n: housings[n].pk,
        sequence=1,
        previous_hash="0" * 64,
        hash=lambda n: f"{first + n:064x}",
    )
    CurrentRating.objects.bulk_create(
        CurrentRating(housing=entry.housing, head=entry, sequence=1, head_hash=entry.hash)
        for entry in entries
    )


def times_ms(page: Page) -> list[list[float]]:
    """Type so many changes of the embedment; of each the wait, the server, the page, all, in ms."""
    expect(page.locator(".summary")).to_be_visible()
    page.evaluate(LISTEN)
    field = page.locator("#id_pile-0-embedment_ft")
    for number in range(CHANGES):
        field.focus()
        field.press("End")
        field.press("Backspace")
        field.press(str(number))
        # The site lets no page make a script of a string, nor Playwright wait by one.
        while page.evaluate("window.answered.length") <= number:
            page.wait_for_timeout(20)
        # Past the pause in which typing rests.
        page.wait_for_timeout(1000)
    answered: list[list[float]] = page.evaluate("window.answered")
    assert len(answered) == CHANGES, "each change is asked and answered once"
    return answered


def test_a_typed_change_is_answered_with_few_units_and_with_many(
    visit: Visit, capsys: pytest.CaptureFixture[str]
) -> None:
    unit, job, by = figured_unit(), extraction_job(), DispatcherFactory()
    units, medians = 1, {}
    for more in (FEW - 1, MANY - FEW):
        copy_units(unit, more, first=units)
        units += more
        found = times_ms(visit(f"/jobs/{job.pk}/", by, **DESKTOP))
        medians[units] = [statistics.median(each) for each in zip(*found, strict=True)]
    with capsys.disabled():
        for units, (wait, server, drawn, whole) in medians.items():
            print(
                f"\na typed change, {units} units: {whole:.0f} ms from the last key "
                f"({whole / AIM_MS:.2f} of the {AIM_MS} ms aimed at): {wait:.0f} waiting for "
                f"another key, {server:.0f} asked and answered, {drawn:.0f} put in its place"
            )
        print(f"{MANY} units take {medians[MANY][3] / medians[FEW][3]:.2f} times as long as {FEW}")
