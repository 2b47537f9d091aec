"""Somebody who never saw the site sets a yard up by its own forms and takes last year's sheet in.

A housing is then moved without losing an oil change, and the first page tells what waits.
"""

from __future__ import annotations

import math
import re
from io import StringIO
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from fleet.models import Hammer, Mounting, PadLot, SuppressorHousing, Yard
from inspections.models import Inspection, OwnKind, TakenImport
from inspections.schedule.due import due_of_machine
from ratings.models import Gauge, LotRating, RatingApproval, Tape
from ratings.models import TestStand as Stand
from tests.inspections.sheets.sheet_makers import workbook
from tests.site.html_form import fields_of, opened, words

pytestmark = pytest.mark.django_db

PASSWORD = "tall crane by the quay"
# Of the stand's bore of 4 in, without a rod.
AREA_IN2 = math.pi / 4 * 4.0**2
# Days of the place, hours with commas, fractions, inch marks, and words for counts.
LAST_YEAR: list[list[Any]] = [
    ["Withy Lock yard, suppressors 2025"],
    [],
    ["Hammer", "Housing", "Date", "Type", "Hours", "Travel", "Pads", "Bad pads", "Remarks"],
    ["V-1", "H-12", "14/3/25", "monthly", "1,204.5", "8 3/4", "good", None, "greased"],
    ["v1", "h 12", "16.4.25", "monthly", "1,260", '9"', "15 of 16", "A3 cracked", None],
    ["V1", "H-12", "2 May 2025", "oil change", "1,311", None, None, None, "gear oil, 40 l"],
    ["V-2", "H-14", "17/3/25", "monthly", "2,010", "8 1/2", "OK", None, None],
    ["V-2", "H14", "18/4/25", "monthly", "2,077", "8.5", "14 of 16", "B1, B2 missing", None],
    ["V 2", "H-14", "6/5/25", "oil change", "2,110", None, None, None, None],
    ["Total", None, None, None, None, None, None, None, None],
]


def sent(client: Client, url: str, **fields: Any) -> Any:
    """The form of a page, filled in and sent as a browser would; it must be taken."""
    answer = client.post(url, opened(client, url) | fields)
    assert answer.status_code == 302, words(answer)
    return answer


def enter(client: Client, thing: str, **fields: Any) -> None:
    yard = Yard.objects.first()
    where = reverse(f"new-{thing}") + (f"?yard={yard.pk}" if yard else "")
    sent(client, where, **fields)


def first_manager() -> Client:
    """Make the first manager as the README says, and sign in by the link that it prints."""
    out = StringIO()
    call_command("first_manager", username="nell", name="Nell Arden", link=True, stdout=out)
    client = Client()
    chosen = dict.fromkeys(("password", "again"), PASSWORD)
    sent(client, out.getvalue().split()[-1], **chosen)
    signed = client.post(reverse("sign-in"), {"username": "nell", "password": PASSWORD})
    assert signed["Location"] == reverse("waiting")
    return client


def second_manager(client: Client) -> Client:
    where = reverse("new-person") + "?role=equipment+manager"
    person = {"username": "bram", "first_name": "Bram", "last_name": "Sorley"}
    client.post(where, opened(client, where) | person)
    other = Client()
    other.force_login(User.objects.get(username="bram"))
    return other


def bench_tested(client: Client, other: Client) -> None:
    """Test the lot at 600 lbf/in a pad, and have the rating approved."""
    where = reverse("new-bench-test", args=[PadLot.objects.get().pk])
    readings = {
        f"r-{number}-{name}": value
        for number, stretch in enumerate((2, 4, 6, 8))
        for name, value in (
            ("tape_in", f"{10 + stretch}"),
            ("gauge_psi", f"{600 * stretch / AREA_IN2:.1f}"),
        )
    }
    named = {
        name: model.objects.get().pk
        for name, model in (("stand", Stand), ("gauge", Gauge), ("tape", Tape))
    }
    sent(client, where, end="blind", pads_in_test="1", tape_datum_in="10", **named, **readings)
    rating = LotRating.objects.get()
    page = other.get(reverse("lot-rating", args=[rating.pk]))
    form = fields_of(page) | {"has_read_doubts": "on"}
    other.post(reverse("approve-rating", args=[rating.pk]), form)
    assert RatingApproval.objects.get().rating == rating


def set_up(client: Client) -> None:
    enter(client, "yard", name="Withy Lock", place="East basin")
    other = second_manager(client)
    for mark in ("V-1", "V-2"):
        enter(client, "hammer", mark=mark)
    for mark in ("H-12", "H-14"):
        enter(client, "housing", mark=mark, positions_per_side="8", design_travel_in="9")
    hung = {"hammer": Hammer.objects.get(mark="V-1").pk, "at": "2025-01-02T08:00"}
    sent(client, reverse("mounting", args=[housing("H-12").pk]), **hung)
    listed = {"listed_lbf": "60000", "source": "Leaflet", "dated": "2024-01-05"}
    sent(client, reverse("new-listing", args=[Hammer.objects.get(mark="V-1").pk]), **listed)
    enter(client, "test-stand", name="Shed bench", bore_in="4", rod_in="2")
    calibrated = {"certificate_number": "C-17", "calibrated_on": "2026-01-05"}
    figures = {"span_psi": "2000", "grade": "1A", "resolution_psi": "5", "due_on": "2099-01-05"}
    enter(client, "gauge", mark="SG-1", **figures, **calibrated)
    enter(client, "tape", mark="T-1", resolution_in="1/16")
    enter(client, "lot", mark="L-1")
    bench_tested(client, other)


def housing(mark: str) -> SuppressorHousing:
    return SuppressorHousing.objects.get(mark=mark)


def take_in(client: Client) -> None:
    """Confirm the columns as they are offered, answer all doubts in one round, and take it in."""
    file = SimpleUploadedFile("2025.xlsx", workbook(Log=LAST_YEAR))
    where = client.post(reverse("sheets"), {"yard": Yard.objects.get().pk, "file": file})[
        "Location"
    ]
    page = client.get(where)
    assert "B1, B2 missing → B1 missing, B2 missing" in words(page)
    tried = client.post(where, fields_of(page), follow=True)
    rehearsal = tried.redirect_chain[-1][0]
    doubts = re.findall(
        r'<select name="(answer-\w+)".*?>(.*?)</select>', tried.content.decode(), re.S
    )
    answers = {}
    for name, options in doubts:
        offered = re.findall(r'value="([^"]+)"', options)
        [answers[name]] = [
            each
            for each in offered
            if each.startswith(("=new:oil change", "hung:")) or each == "all"
        ]
    # Good, OK, the oil change, and what H-14 hung on.
    assert len(answers) == 4
    tried = client.post(rehearsal, answers, follow=True)
    assert "doubt" not in words(tried).split("Answers")[0].split("answers given")[0]
    taken = re.search(r'name="take" value="(\w+)"', tried.content.decode())
    assert taken is not None
    client.post(rehearsal, {"take": taken[1]})


def oil_changed_on(hammer: str) -> str:
    due = due_of_machine(Hammer.objects.get(mark=hammer))
    [oil] = [each for each in due.kinds if each.row.kind == "oil change"]
    return oil.last.day.isoformat() if oil.last else ""


def test_a_yard_is_set_up_its_sheet_taken_and_a_housing_moved_without_losing_an_oil_change() -> (
    None
):
    client = first_manager()
    set_up(client)
    take_in(client)
    assert Inspection.objects.count() == 6
    pads = Inspection.objects.get(seen_at__date="2025-04-18").pads
    unsound = pads.exclude(condition="sound").order_by("side", "number")
    assert [(str(pad.side), pad.number, str(pad.condition)) for pad in unsound] == [
        ("B", 1, "missing"),
        ("B", 2, "missing"),
    ]
    cracked = Inspection.objects.get(seen_at__date="2025-04-16").pads.exclude(condition="sound")
    assert [(str(pad.side), pad.number) for pad in cracked] == [("A", 3)]
    assert "2025.xlsx" in words(client.get(reverse("taken-imports")))
    assert TakenImport.objects.count() == 1

    kind = OwnKind.objects.get(name="oil change")
    scheduled = {f"own_{kind.pk}_days": "180", "reason": "Gear oil twice a year."}
    sent(client, reverse("schedule"), **scheduled)
    assert [oil_changed_on(each) for each in ("V-1", "V-2")] == ["2025-05-02", "2025-05-06"]

    onto = {"hammer": Hammer.objects.get(mark="V-2").pk}
    sent(client, reverse("mounting", args=[housing("H-12").pk]), **onto)
    moved = Mounting.objects.current().get(housing=housing("H-12"))
    assert moved.hammer.mark == "V-2"
    assert [oil_changed_on(each) for each in ("V-1", "V-2")] == ["2025-05-02", "2025-05-06"]

    waiting = words(client.get(reverse("waiting")))
    assert "H-12 on V-2 (Withy Lock) late oil change, due 2 Nov 2025" in waiting
