"""The schedule a yard starts from, held to what could be read of the regulations."""

from __future__ import annotations

import pytest

from inspections.models import InspectionKind
from inspections.schedule.intervals import COMPETENT, DEFAULT_ROWS, QUALIFIED
from tests.builders import rated_unit
from tests.inspections.field.sent import payload, send, signed_in

ROWS = {row.kind: row for row in DEFAULT_ROWS}


def test_monthly_records_are_kept_three_months_at_least() -> None:
    # Read: 29 CFR 1926.1412(e)(3)(ii), as quoted by a training body.
    assert ROWS[InspectionKind.MONTHLY].keep_months == 3


@pytest.mark.django_db
def test_a_monthly_record_holds_items_results_name_and_date() -> None:
    # Read: 29 CFR 1926.1412(e)(3)(i): items checked and results; name and signature of who
    # inspected, and the date.
    unit = rated_unit()
    item = {"key": "a", "part": "Hoses", "text": "No chafe", "state": "done", "reason": ""}
    client = signed_in(unit.manager)
    url = send(client, payload(unit, kind="monthly", hours=100, answers=[item])).json()["url"]
    signer = unit.manager.get_full_name() or unit.manager.username
    page = client.get(url).content.decode()
    for words in ("No chafe", "done", "signed", signer):
        assert words in page


def test_a_competent_person_looks_each_shift_and_month_and_a_qualified_one_each_year() -> None:
    # Read in a summary of 29 CFR 1926.1412(d) to (f), not in its text.
    persons = [ROWS[kind].by_whom for kind in ("each shift", "monthly", "yearly")]
    assert persons == [COMPETENT, COMPETENT, QUALIFIED]


def test_a_periodic_inspection_in_normal_service_is_yearly() -> None:
    # Read: ASME B30.20-2010, 20-1.3.1(c)(3)(a).
    assert ROWS[InspectionKind.YEARLY].days == 365


def test_yearly_records_are_kept_twelve_months_at_least() -> None:
    # Read in summaries of 29 CFR 1926.1412(f), not in its text.
    assert ROWS[InspectionKind.YEARLY].keep_months == 12
