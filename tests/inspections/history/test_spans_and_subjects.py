from __future__ import annotations

import re
import uuid
from datetime import timedelta
from io import BytesIO
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image
from pypdf import PdfReader

from fleet.models import Yard
from fleet.outages import take_out_of_service
from inspections.count.signing import Seen, sign_inspection
from inspections.count.submission import Submission
from inspections.models import Finding, Photo, PhotoFile
from tests.builders import (
    MONDAY,
    Unit,
    bench_test,
    count,
    ordered_repair,
    rated_unit,
    used_part,
)
from tests.factories import ClampFactory, HousingFactory
from tests.inspections.field.sent import finding_sent, payload, send
from tests.inspections.field.sent import signed_in as phone_of
from tests.job_builders import commit, extraction_job, figured_unit
from tests.ratings.paper.archive_rules import broken_rules
from tests.site.html_form import error_at, words

pytestmark = pytest.mark.django_db


def asked(client: Client, of: Any, **days: str) -> Any:
    kind = "yard" if isinstance(of, Yard) else type(of).__name__.lower().removeprefix("suppressor")
    key = "fleet" if of is None else f"{kind}-{of.pk}"
    return client.get(reverse("history"), {"of": key, "first": "", "last": "", **days})


def printed(client: Client, of: Any, **days: str) -> PdfReader:
    response = asked(client, of, **days)
    assert response["Content-Type"] == "application/pdf", response.content.decode()
    return PdfReader(BytesIO(response.content))


def text_of(reader: PdfReader) -> str:
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in reader.pages))


def bookmarks(reader: PdfReader) -> list[str]:
    return [str(each["/Title"]) for each in reader.outline if not isinstance(each, list)]


def test_every_section_of_a_unit_has_its_bookmark(auditor_client: Client) -> None:
    found = bookmarks(printed(auditor_client, rated_unit().housing))
    assert found == [
        "Summary",
        "Standing now: meets listing",
        "Pads as the newest facts have them",
        "Standing over time",
        "Ledger",
        "Inspections",
        "Overdue inspections and gaps",
        "Findings",
        "Pad replacements",
        "Repairs",
        "Proof pulls",
        "Piles pulled",
        "Guided or not",
        "Mountings",
        "Clamps and power packs on hammers",
        "Times out of service",
        "Commitments",
        "Listings and their sources",
        "Certificates of the lots in it",
        "Serial numbers",
        "Changes of what is set up",
        "To check this paper",
    ]


def test_only_what_happened_or_was_recorded_in_the_days_asked_for_is_printed(
    auditor_client: Client,
) -> None:
    unit = rated_unit()
    later = count(unit.housing, unit.manager, unit.lot, at=MONDAY + timedelta(days=9)).inspection
    text = text_of(printed(auditor_client, unit.housing, first="2026-03-01", last="2026-03-05"))
    assert "From 1 Mar 2026 to 5 Mar 2026" in text
    assert f"Inspection {later.pk} " not in text
    assert "seen 2 Mar 2026" in text


def test_a_unit_is_printed_as_it_stood_at_the_end_of_the_days(auditor_client: Client) -> None:
    unit = rated_unit()
    count(
        unit.housing,
        unit.manager,
        unit.lot,
        unsound={"A1": "cracked", "A2": "cracked"},
        at=MONDAY + timedelta(days=9),
    )
    assert "Standing now: below listing" in text_of(printed(auditor_client, unit.housing))
    text = text_of(printed(auditor_client, unit.housing, last="2026-03-05"))
    assert "Standing on 5 Mar 2026: meets listing" in text


def test_days_that_run_backwards_are_refused_at_their_field(auditor_client: Client) -> None:
    page = asked(auditor_client, rated_unit().housing, first="2026-03-05", last="2026-03-01")
    assert "before the first day, 5 Mar 2026" in error_at(page, "last")


@pytest.mark.parametrize("name", ["first", "last"])
@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("3026-01-01", "is in the future"),
        ("1026-01-01", "too long ago"),
        ("next week", "This is not a day"),
        ("2026-02-30", "This is not a day"),
        ("9" * 5_000, "This is not a day"),
    ],
)
def test_a_day_that_can_t_be_is_refused_at_its_field(
    auditor_client: Client, name: str, given: str, said: str
) -> None:
    page = asked(auditor_client, rated_unit().housing, **{name: given})
    assert said in error_at(page, name)


def test_days_on_which_nothing_is_on_record_are_refused(auditor_client: Client) -> None:
    unit = rated_unit()
    page = asked(auditor_client, unit.housing, first="2020-01-01", last="2020-02-01")
    said = error_at(page, "last")
    assert f"Nothing is on record of housing {unit.housing}" in said
    page = asked(auditor_client, HousingFactory(), first="2026-01-01")
    assert "Nothing is on record" in error_at(page, "first")


@pytest.mark.parametrize(
    "key",
    ["", "housing-", "housing-0", "housing-9" + "9" * 30, "job-1", "fleet-1", "<b>", "x" * 900],
)
def test_what_is_not_on_record_is_refused_at_its_field(auditor_client: Client, key: str) -> None:
    page = auditor_client.get(reverse("history"), {"of": key})
    assert page.status_code == 200
    assert error_at(page, "of")


def test_the_address_of_a_unit_takes_days_too(auditor_client: Client) -> None:
    unit = rated_unit()
    url = reverse("history-report", args=[unit.housing.pk])
    page = auditor_client.get(url, {"first": "2026-03-05", "last": "2026-03-01"})
    assert "before the first day" in error_at(page, "last")
    assert auditor_client.get(url, {"last": "2026-03-05"})["Content-Type"] == "application/pdf"


def test_a_yard_and_the_fleet_have_a_chapter_for_each_unit_and_machine(
    auditor_client: Client,
) -> None:
    unit, other = rated_unit(), rated_unit()
    clamp = ClampFactory(yard=unit.housing.yard)
    found = bookmarks(printed(auditor_client, unit.housing.yard))
    assert found == [
        "Units",
        f"Housing {unit.housing}",
        f"Hammer {unit.hammer}",
        f"Clamp {clamp}",
        "To check this paper",
    ]
    reader = printed(auditor_client, None)
    assert f"Housing {other.housing}" in bookmarks(reader)
    assert "History of the fleet" in text_of(reader)


def test_a_hammer_s_history_holds_its_inspections_repairs_and_times_out(
    auditor_client: Client,
) -> None:
    unit = rated_unit()
    order = ordered_repair(unit.hammer, unit.manager)
    used_part(order, unit.manager)
    take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=unit.hammer,
        since=timezone.now() - timedelta(hours=1),
        reason="Oil in the exciter",
        by=unit.manager,
    )
    text = text_of(printed(auditor_client, unit.hammer))
    assert f"History of hammer {unit.hammer}" in text
    assert f"Inspection {unit.housing.inspections.get().pk} (pad count)" in text
    assert f"hammer {unit.hammer}: New hose at the clamp." in text
    assert "1 × Hose 3/4, 40 in, no price" in text
    assert "Oil in the exciter" in text


def test_who_moved_a_housing_what_lists_it_and_what_rates_its_lots_is_named(
    auditor_client: Client,
) -> None:
    unit = rated_unit()
    unit.housing.serial_number = "SN-77/4"
    unit.housing.save()
    text = text_of(printed(auditor_client, unit.housing))
    who = unit.manager.get_full_name()
    assert re.search(rf"{unit.hammer} \d+ \w+ 2026 \d\d:\d\d {who} now", text)
    listing = unit.hammer.listings.get()
    assert f"{listing.source} " in text
    rating = unit.lot.ratings.get()
    assert f"{unit.lot} {rating.pk} 1,000 lbf/in to 8 in" in text
    assert f"housing {unit.housing} SN-77/4" in text


def test_a_rating_that_gave_way_to_a_later_one_says_to_which(auditor_client: Client) -> None:
    unit = rated_unit()
    first = unit.lot.ratings.get()
    second = bench_test(unit.lot, unit.manager).rating
    text = text_of(printed(auditor_client, unit.housing))
    assert f"gave way to rating {second.pk}" in text
    assert f"gave way to rating {first.pk}" not in text


def test_a_commitment_says_on_what_verdict_by_whom_and_that_it_was_released(
    auditor_client: Client,
) -> None:
    made = commit(figured_unit(), extraction_job(first_day=timezone.localdate()))
    text = text_of(printed(auditor_client, made.housing))
    answer = made.answer
    assert f"{answer.verdict}, answer {answer.pk} of" in text
    assert f"on entry {answer.entry.sequence}" in text


def test_a_checklist_s_answers_say_what_was_looked_at(auditor_client: Client) -> None:
    unit, _ = found_by_phone()
    text = text_of(printed(auditor_client, unit.housing))
    assert "With a finding: Hoses: No chafe." in text


def found_by_phone() -> tuple[Unit, Finding]:
    unit = rated_unit()
    item = {"key": "a", "part": "Hoses", "text": "No chafe", "state": "finding", "reason": ""}
    found = [finding_sent(item_key="a")]
    sent = payload(unit, kind="monthly", hours=100, findings=found, answers=[item], pads=[])
    assert send(phone_of(unit.manager), sent).status_code == 201
    return unit, Finding.objects.get()


def photo_of(finding: Finding, unit: Unit, content: bytes | None) -> Photo:
    photo = Photo.objects.create(
        pk=uuid.uuid4(), inspection=finding.inspection, finding=finding, caption="the swivel"
    )
    held = PhotoFile(
        photo=photo,
        file="inspections/2026/03/gone.jpg",
        sha256="0" * 64,
        width=1,
        height=1,
        recorded_by=unit.manager,
    )
    if content is not None:
        held.file.save(f"{photo.pk}.jpg", ContentFile(content), save=False)
    held.save()
    return photo


def test_a_finding_is_printed_with_its_photo(auditor_client: Client) -> None:
    unit, finding = found_by_phone()
    picture = BytesIO()
    Image.new("RGB", (900, 600), "red").save(picture, "JPEG")
    photo_of(finding, unit, picture.getvalue())
    reader = printed(auditor_client, unit.housing)
    images = [each for page in reader.pages for each in page.images]
    assert [each.image.size for each in images if each.image] == [(420, 280)]
    assert "the swivel" in text_of(reader)


def test_what_is_given_out_breaks_no_rule_of_pdf_a_3a(auditor_client: Client) -> None:
    unit, finding = found_by_phone()
    finding.inspection.recorded_by.first_name = "ᏣᎳᎩ 𓀀"
    finding.inspection.recorded_by.save()
    picture = BytesIO()
    Image.new("RGB", (900, 600), "red").save(picture, "JPEG")
    photo_of(finding, unit, picture.getvalue())
    for of in (unit.housing, unit.hammer, unit.housing.yard):
        assert broken_rules(asked(auditor_client, of).content) == set(), of


@pytest.mark.parametrize(
    ("content", "said"),
    [(None, "THE FILE IS MISSING of photo {pk}"), (b"no picture", "can’t be read as a picture")],
)
def test_a_photo_that_can_t_be_shown_is_named(
    auditor_client: Client, content: bytes | None, said: str
) -> None:
    unit, finding = found_by_phone()
    photo = photo_of(finding, unit, content)
    assert said.format(pk=photo.pk) in text_of(printed(auditor_client, unit.housing))


def test_an_overdue_inspection_and_a_gap_are_named(auditor_client: Client) -> None:
    unit = rated_unit()
    text = text_of(printed(auditor_client, unit.housing, last="2026-05-01"))
    assert "monthly, 31 days or 250 h never 2 Mar – 1 May 2026 61 not in these days" in text
    assert "No inspection of any kind from 3 Mar 2026 to the end of these days, 60 days" in text


def test_the_same_record_and_options_give_the_same_bytes(auditor_client: Client) -> None:
    housing = rated_unit().housing
    first, again = asked(auditor_client, housing), asked(auditor_client, housing)
    assert first.content == again.content
    auditor_client.post(reverse("choose-units"), {"units": "si"})
    assert asked(auditor_client, housing).content != first.content


def test_characters_the_letters_lack_are_named_at_the_end(auditor_client: Client) -> None:
    unit = rated_unit()
    sign_inspection(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(MONDAY + timedelta(days=3), [], note="Seen with 山田"),
        by=unit.manager,
    )
    text = text_of(printed(auditor_client, unit.housing))
    assert "note: Seen with [U+5C71][U+7530]" in text
    assert "[U+5C71] cjk unified ideograph-5c71" in text


def test_the_file_says_whose_it_is_and_of_which_day(auditor_client: Client) -> None:
    housing = rated_unit().housing
    about = printed(auditor_client, housing).metadata
    assert about is not None
    assert about.title == f"History of housing {housing}"
    assert about.author == housing.yard.name
    assert about.creation_date is not None
    assert about.creation_date.date() == timezone.localdate()
    assert about.creation_date.utcoffset() is not None


def test_the_form_offers_what_there_is(auditor_client: Client) -> None:
    unit = rated_unit()
    page = words(auditor_client.get(reverse("history")))
    assert "the whole fleet" in page
    assert str(unit.housing.mark) in page
