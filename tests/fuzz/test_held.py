"""What the fuzz takes for a refusal that names a field, and what it does not."""

from __future__ import annotations

import pytest
from django.http import HttpResponse, JsonResponse

from tests.fuzz.held import names_a_field
from tests.fuzz.imports import names_a_column

UNNAMED = '<main><label for="id_day">Day</label><div class="errors">That won’t do.</div></main>'


@pytest.mark.parametrize(
    "page",
    [
        '<main><div id="id_day_error"><p class="error">Give a day.</p></div></main>',
        '<div class="errors"><p>Nothing was saved.</p><a href="#id_day">Day</a>: Give it.</div>',
        '<label>Day (optional)</label><div class="errors">The day is in the future.</div>',
        '<div class="errors">form id: It is missing.</div>',
        '<div class="errors">No meter was read: give what one of them shows.</div>',
    ],
)
def test_a_page_names_a_field_by_a_mark_or_in_words(page: str) -> None:
    assert names_a_field(HttpResponse(page), set())


def test_a_page_that_only_says_no_names_no_field() -> None:
    assert not names_a_field(HttpResponse(UNNAMED), set())


def test_what_stood_on_the_page_before_names_no_field() -> None:
    before = {"The day is in the future."}
    page = '<label>Day</label><div class="errors">The day is in the future.</div>'
    assert not names_a_field(HttpResponse(page), before)


@pytest.mark.parametrize(
    ("told", "status", "is_named"),
    [
        ({"errors": [{"field": "at", "given": 1, "message": "Give a moment."}]}, 422, True),
        ({"errors": [{"field": "", "given": 1, "message": "Won’t do."}]}, 422, False),
        ({"errors": {"at": ["Give a moment."]}}, 422, True),
        ({"errors": {"": ["Won’t do."]}}, 422, False),
        ({"detail": "Infinity is no number of JSON.", "errors": []}, 400, True),
        ({"detail": "Won’t do.", "errors": []}, 422, False),
        ({"detail": "Somebody else was faster.", "errors": []}, 409, True),
    ],
)
def test_a_program_is_told_the_field_wherever_one_is_wrong(
    told: dict[str, object], status: int, is_named: bool
) -> None:
    assert names_a_field(JsonResponse(told, status=status), set()) == is_named


@pytest.mark.parametrize(
    ("why", "is_named"),
    [
        ("calibrated_on is blank: give a day", True),
        ("certificate_points line 2, applied_psi is blank: give pressure applied, psi", True),
        ("applied_psi is blank: give pressure applied, psi", False),
        ("certificate_points line 2, it won’t do", False),
        ("nowhere line 2, applied_psi is blank", False),
    ],
)
def test_a_row_names_a_column_of_its_table_or_of_a_line_below_it(why: str, is_named: bool) -> None:
    assert names_a_column("certificates", why) == is_named
