from __future__ import annotations

import re
import uuid

import pytest

from fleet.dates import day_words
from ratings.certificate.paper import certificate_pdf
from ratings.lots.recording import withdraw_rating
from ratings.mechanics.record import FORMAT
from ratings.mechanics.unit_rating import Policy
from ratings.models import LotRating
from ratings.policy import change_policy
from tests.builders import MONDAY, marked, rated_unit, receive
from tests.factories import ManagerFactory
from tests.ratings.certificate.lots import approved, draft, lot
from tests.ratings.certificate.printed import pages, text

pytestmark = pytest.mark.django_db

FACTS = (
    "Certificate of spring rate",
    "Northfield Rubber Works",
    "50 Shore A",
    "two side by side, bonded to three plates",
    "rod end",
    "4 in ± 0.005 in",
    "2 in ± 0.005 in",
    "0 to 3,000 psi, grade 2A",
    "read to 5 psi",
    "certificate CAL-771; on 5 Jan 2026, due 5 Jan 2027; in calibration",
    "read to 0.0625 in",
    "3 cycles before the first reading",
    "68 °F",
    "Permanent set 0.0625 in",
    "Sam Doe",
    "4 Mar 2026",
)
FOLLOWED = ("JCGM 100", "JCGM 106", "ISO/IEC 17025:2017", "ASME B40.100", "ISO 1827", "ASTM D4014")
BUDGET = ("gauge accuracy", "gauge resolution", "tape datum", "tape resolution", "bore", "rod")


def test_it_says_what_was_tested_and_how() -> None:
    found = text(approved(draft(gap_psi=20.0)))
    for words in FACTS:
        assert words in found


def test_it_names_each_line_of_the_budget() -> None:
    found = text(approved(draft(gap_psi=20.0)))
    for words in (
        *BUDGET,
        "scatter of the readings",
        "rectangular",
        "Combined u",
        "Coverage factor",
    ):
        assert words in found


def test_it_says_how_far_the_rate_holds_and_what_it_follows() -> None:
    found = text(approved(draft()))
    assert "Tested stretch 6 in: rated no further" in found
    assert "assumed spread, 5 % of the rate by policy" in found
    assert "holds 730 days from the newest test, to 3 Mar 2028" in found
    assert "Never pull to the stops while vibrating" in found
    assert "certified to" not in found
    for words in FOLLOWED:
        assert words in found


def test_it_says_what_a_report_of_tests_must() -> None:
    of = lot()
    found = text(approved(draft(of, pads=marked("A1", "A2"), gap_psi=20.0)))
    for words in (
        "Measurand: mean over the pads of the lot, in shear, from rest to 6 in",
        "Any one pad of it lies, with the same confidence, between",
        f"rating method {FORMAT}, program",
        "2 in 1 test; marked A1, A2",
        "how they were picked: as the tests’ notes say",
        "Issued on",
        "Risk of passing a unit that is below: no more than 5 %",
        "Conditions of use, alike for all pads: temperature, dwell and rate of pull ± 5 % (policy)",
        "Between two readings ± 5 % of the rise between them",
    ):
        assert words in found
    assert re.search(r"End of certificate \d+", pages(draft(of))[-1])


def test_it_says_when_the_pads_came_or_that_nobody_recorded_it() -> None:
    assert "Pads received not on record" in text(draft())
    of = lot()
    receive(of, ManagerFactory(), 24)
    assert f"Pads received {day_words(MONDAY)}" in text(draft(of))


def test_a_draft_is_not_issued() -> None:
    assert "not issued: no second person has approved it" in text(draft())


def test_the_yards_address_is_printed_or_its_lack() -> None:
    of = lot()
    rating = draft(of)
    yard = rating.tests.get().stand.yard
    assert f"{yard.name}, {yard.place}" in text(rating) or "address not on record" in text(rating)


def test_it_names_who_tested_and_who_approved() -> None:
    found = text(approved(draft()))
    assert "Tested by Robin Tester" in found
    assert "Approved, issued by Alex Second" in found
    assert "DRAFT" not in found
    assert "WITHDRAWN" not in found


def test_hysteresis_and_energy_are_told_where_unloading_was_read() -> None:
    found = text(draft(gap_psi=20.0))
    assert "energy lost per cycle and pad" in found
    assert "the means of the branches" in found
    assert "no unloading branch was read" in text(draft())


def test_a_test_fits_three_pages_numbered() -> None:
    found = pages(approved(draft(gap_psi=20.0)))
    assert len(found) == 3
    for number, page in enumerate(found, start=1):
        assert f"page {number} of 3" in page


def test_an_outlier_is_named_and_kept() -> None:
    found = text(draft(scatter_psi=(1.0, -1.0, 1.0, -1.0, 60.0, -1.0)))
    assert re.search(r"named and not removed: 5,28\d(\.\d)? lbf at 5 in", found)
    assert "m = 6 points" in found


def test_a_draft_says_so_and_by_whom() -> None:
    found = text(draft())
    assert "DRAFT Drafted by Robin Tester" in found
    assert "Approved, issued by nobody yet" in found


def test_a_withdrawn_rating_says_why_and_by_whom() -> None:
    rating = approved(draft())
    by = ManagerFactory(first_name="Kim", last_name="Back")
    withdraw_rating(submission_id=uuid.uuid4(), rating=rating, reason="gauge was dropped", by=by)
    found = text(LotRating.objects.get(pk=rating.pk))
    assert "WITHDRAWN By Kim Back" in found
    assert "gauge was dropped" in found


def test_the_same_rating_gives_the_same_bytes() -> None:
    rating = approved(draft(gap_psi=20.0))
    assert certificate_pdf(rating, "us") == certificate_pdf(rating, "us")
    assert certificate_pdf(rating, "si") == certificate_pdf(rating, "si")


def test_a_later_policy_changes_nothing_on_it() -> None:
    rating = approved(draft())
    before = certificate_pdf(rating, "us")
    change_policy(
        submission_id=uuid.uuid4(),
        policy=Policy(pad_spread_pct=12.0, confidence=0.99),
        reason="a wary insurer",
        by=ManagerFactory(),
    )
    assert certificate_pdf(rating, "us") == before


def test_it_prints_in_si() -> None:
    found = text(approved(draft(gap_psi=20.0)), "si")
    for words in ("N/mm", "152.4 mm", "20 °C", "kPa", "kN"):
        assert words in found
    for words in (" lbf", " psi", "°F"):
        assert words not in found


def test_odd_names_are_printed() -> None:
    found = text(draft(lot(mark="L<b>&1", supplier="Gummi \U0001f528 <i>GmbH"), witness="<para>Σ"))
    assert "L<b>&1" in found
    assert "Gummi ? <i>GmbH" in found
    assert "<para>Σ" in found


def test_the_ledger_entries_it_caused_stand_with_their_hashes() -> None:
    unit = rated_unit()
    rating = approved(draft(unit.lot))
    entry = unit.housing.ledger_entries.get(cause="lot rated", cause_record=rating.pk)
    assert entry.hash in text(rating)


def test_a_superseded_rating_says_so() -> None:
    of = lot()
    first = approved(draft(of))
    second = approved(draft(of, rate_lbf_in=1020.0))
    assert f"Superseded: rating {second.pk}" in text(first)
    assert "Superseded" not in text(second)
