"""The stretch card: measured on its page, scanned, held to the record, and refused."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader
from pypdf.generic import ContentStream

from fleet.models import LongWork
from fleet.outages import take_out_of_service
from inspections.card.facts import Known, read_card, why_no_card
from inspections.card.paper import TooLong, page_of
from inspections.schedule.due import due_of_fleet
from ratings.ledger.facts import gather
from ratings.mechanics.unit_rating import Policy
from ratings.models import LedgerEntry, LotRating, Paper
from ratings.paper.check_file import Verdict, check_paper
from ratings.policy import change_policy
from tests.builders import Unit, count, rated_unit
from tests.factories import AuditorFactory
from tests.ratings.record.test_papers_given_out import codes_on
from tests.ratings.rerating.made import made_rerating
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _nobody_has_asked_yet() -> None:
    cache.clear()


def ready_unit(**more: Any) -> Unit:
    """A unit with all its inspections made today: it pulls 48,000 lbf at 6 in."""
    unit = rated_unit(**more)
    at = timezone.now() - timedelta(hours=1)
    count(unit.housing, unit.manager, unit.lot, at=at, kind="yearly")
    return unit


def printed(unit: Unit, system: str = "us") -> bytes:
    client = Client()
    client.force_login(AuditorFactory())
    client.post(reverse("choose-units"), {"units": system})
    sent = client.get(reverse("stretch-card", args=[unit.housing.pk]))
    assert sent["Content-Type"] == "application/pdf", words(sent)
    return sent.content


Line = tuple[float, float, float, float]


def lines_of(paper: bytes) -> list[Line]:
    """Every straight stroke of a page, from where to where, in points."""
    reader = PdfReader(BytesIO(paper))
    found, at = [], (0.0, 0.0)
    for operands, operator in ContentStream(reader.pages[0].get_contents(), reader).operations:
        if operator in (b"m", b"l"):
            to = float(operands[0]), float(operands[1])
            if operator == b"l":
                found.append((*at, *to))
            at = to
    return found


def tape_ticks(paper: bytes) -> list[float]:
    """Where the longest ticks of the tape's edge stand, from rest on, in points."""
    upright = [line for line in lines_of(paper) if line[0] == line[2] and line[3] > line[1]]
    upright += [(x, b, x, a) for x, a, _, b in lines_of(paper) if a > b]
    # Those of the lower edge end at the blade's lower edge, where most strokes of the page do.
    feet = [round(low, 1) for _, low, _, _ in upright]
    edge = max(set(feet), key=feet.count)
    ticks = [(x, high - low) for x, low, _, high in upright if round(low, 1) == edge]
    lengths = [round(length, 1) for _, length in ticks]
    # The mark and the bar's end go further up than any tick.
    longest = max(each for each in set(lengths) if lengths.count(each) > 3)
    return sorted({x for x, length in ticks if round(length, 1) == longest})


@pytest.mark.parametrize(("system", "apart_in"), [("us", 1.0), ("si", 10.0 / 25.4)])
def test_an_inch_of_stretch_is_an_inch_of_paper(system: str, apart_in: float) -> None:
    paper = printed(ready_unit(), system)
    places = tape_ticks(paper)
    assert len(places) == int(6.0 / apart_in + 1e-9) + 1
    for number, x in enumerate(places):
        assert (x - places[0]) / 72.0 == pytest.approx(number * apart_in, abs=0.001)


@pytest.mark.parametrize(("system", "inches"), [("us", 4.0), ("si", 100.0 / 25.4)])
def test_its_check_line_is_as_long_as_it_says(system: str, inches: float) -> None:
    paper = printed(ready_unit(), system)
    said = {"us": "This line is 4 inches long", "si": "This line is 100 millimetres long"}
    assert said[system] in PdfReader(BytesIO(paper)).pages[0].extract_text()
    level = [abs(x - to) / 72.0 for x, y, to, also in lines_of(paper) if y == also]
    assert any(length == pytest.approx(inches, abs=0.001) for length in level)


def test_the_mark_stands_at_the_stretch_not_to_pass_and_the_stops_at_the_travel() -> None:
    paper = printed(ready_unit(travel_in=6.0))
    rest = tape_ticks(paper)[0]
    there = [
        round((x - rest) / 72.0, 2) for x, low, to, high in lines_of(paper)
        if x == to and abs(high - low) > 60.0
    ]  # fmt: skip
    assert there.count(6.0) >= 2, "the mark and the stops"


def test_it_states_its_figures_its_day_and_a_code_that_leads_to_them(tmp_path: Path) -> None:
    paper = printed(ready_unit())
    text = " ".join(PdfReader(BytesIO(paper)).pages[0].extract_text().split())
    monthly = timezone.localdate() + timedelta(days=31)
    for said in (
        "24.0 tons",
        "Stretch not to pass 6 in",
        "Stops at 6 in",
        f"Valid until {monthly:%-d %b %Y}",
        "Never pull to the stops while vibrating",
        "qualified person",
    ):
        assert said in text
    (code,) = codes_on(paper, tmp_path)
    page = words(Client().get(code))
    assert "KNOWN, STILL SO" in page
    assert "Line pull 24.0 tons (48,000 lbf)" in page
    assert check_paper(paper).verdict is Verdict.TRUE


def test_one_flagged_says_so_across_the_card() -> None:
    paper = printed(ready_unit(listed_lbf=60_000))
    text = PdfReader(BytesIO(paper)).pages[0].extract_text()
    assert "FLAGGED: BELOW LISTING" in text
    assert "is reached at no stretch of it" in text


def refused(unit: Unit) -> str:
    client = Client()
    client.force_login(AuditorFactory())
    sent = client.get(reverse("stretch-card", args=[unit.housing.pk]))
    assert sent.status_code == 409
    assert not Paper.objects.exists()
    return words(sent)


def test_a_unit_out_of_service_gets_none_and_one_printed_before_says_so_when_scanned() -> None:
    unit = ready_unit()
    printed(unit)
    url = reverse("paper", args=[Paper.objects.get().code])
    take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=unit.hammer,
        since=timezone.now(),
        reason="Oil at the shaft",
        by=unit.manager,
    )
    page = words(Client().get(url))
    assert "KNOWN, NO LONGER SO" in page
    assert "out of service" in page
    client = Client()
    client.force_login(AuditorFactory())
    sent = client.get(reverse("stretch-card", args=[unit.housing.pk]))
    assert sent.status_code == 409
    assert "is out of service since" in words(sent)


def test_a_unit_rated_again_gets_none_and_one_printed_before_is_to_be_asked_again(
    tmp_path: Path,
) -> None:
    unit = ready_unit()
    (scanned,) = codes_on(printed(unit), tmp_path)
    going = made_rerating(LotRating.objects.in_force().get(lot=unit.lot), unit.manager)
    client = Client()
    client.force_login(unit.manager)
    page = words(client.get(reverse("stretch-card", args=[unit.housing.pk])))
    assert "and the card may not hold after that" in page
    assert "take it off" not in page
    told = words(Client().get(scanned))
    assert "KNOWN, ASK AGAIN IN A MINUTE" in told
    assert "and the paper may not hold after that" in told
    LongWork.objects.filter(pk=going.pk).update(ended_at=timezone.now())
    assert "KNOWN, STILL SO" in words(Client().get(scanned))
    assert printed(unit)


def test_of_the_card_of_a_unit_rated_again_nothing_can_be_told_from_its_file_yet() -> None:
    unit = ready_unit()
    card = printed(unit)
    assert check_paper(card).verdict is Verdict.TRUE
    made_rerating(LotRating.objects.in_force().get(lot=unit.lot), unit.manager)
    assert check_paper(card).verdict is Verdict.CANNOT_TELL


def test_a_unit_unrated_or_overdue_gets_none_and_is_told_why() -> None:
    assert "Its inspection “yearly” is overdue: never made." in refused(rated_unit())
    unit = ready_unit()
    torn = {f"{side}{number}": "missing" for side, number in unit.housing.position_keys}
    count(unit.housing, unit.manager, unit.lot, at=timezone.now(), unsound=torn)
    assert "It is rated to no line pull" in refused(unit)


def test_one_whose_days_are_over_says_so_when_scanned(monkeypatch: pytest.MonkeyPatch) -> None:
    printed(ready_unit())
    given = Paper.objects.get()
    late = timezone.now() + timedelta(days=32)
    monkeypatch.setattr("django.utils.timezone.now", lambda: late)
    page = words(Client().get(reverse("paper", args=[given.code])))
    assert "KNOWN, NO LONGER SO" in page
    assert "It was to be used until" in page


def test_a_travel_longer_than_any_page_is_refused_with_what_would_do() -> None:
    unit = ready_unit()
    card = read_card(unit.housing)
    assert page_of(card, "us")[0] == 792.0
    longer = replace(card, travel_in=20.0)
    longer.head.inputs["travel_in"] = 20.0
    with pytest.raises(TooLong, match="20 in is longer than the 14 in that the largest page"):
        page_of(longer, "us")


def test_the_page_of_the_unit_leads_to_it(auditor_client: Client) -> None:
    unit = rated_unit()
    page = auditor_client.get(reverse("unit", args=[unit.housing.pk])).content.decode()
    assert reverse("stretch-card", args=[unit.housing.pk]) in page


@pytest.mark.parametrize("is_overdue", [True, False])
def test_the_page_of_a_unit_says_beforehand_that_no_card_is_to_be_had(is_overdue: bool) -> None:
    unit = rated_unit() if is_overdue else ready_unit()
    client = Client()
    client.force_login(unit.manager)
    page = words(client.get(reverse("unit", args=[unit.housing.pk])))
    assert ("Why no stretch card" in page) is is_overdue
    assert ("Stretch card (PDF)" in page) is not is_overdue


def test_the_page_of_a_unit_whose_rate_is_too_old_offers_no_card() -> None:
    unit = ready_unit()
    client = Client()
    client.force_login(unit.manager)
    change_policy(
        submission_id=uuid.uuid4(),
        policy=Policy(rate_valid_days=1),
        reason="Rubber ages.",
        by=unit.manager,
    )
    answer = client.get(reverse("unit", args=[unit.housing.pk]))
    assert "Why no stretch card" in words(answer)


def test_a_unit_of_which_nothing_says_until_when_a_card_would_hold_gets_none() -> None:
    housing = ready_unit().housing
    due, facts = due_of_fleet([housing])[0], gather([housing])[housing.pk]
    head = LedgerEntry.objects.filter(housing=housing).order_by("-sequence").first()
    known = Known(housing, head, due, facts, ())
    assert why_no_card(known) == []
    undated = replace(known, due=replace(due, kinds=()), facts=replace(facts, ratings=()))
    [reason] = why_no_card(undated)
    assert "Nothing says until when it would hold" in reason
