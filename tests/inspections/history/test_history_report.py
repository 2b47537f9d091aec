from __future__ import annotations

import re
import uuid
from datetime import timedelta
from io import BytesIO

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from fleet.models import SuppressorHousing
from fleet.outages import take_out_of_service
from inspections.count.signing import Correction, Seen, sign_inspection
from inspections.count.submission import Submission
from inspections.models import Finding, Inspection, Photo, PhotoFile
from inspections.service.recording import close_finding, release_to_service
from ratings.guides import record_guide
from ratings.models import CurrentRating, LedgerEntry
from ratings.proof.recording import set_proof_pull_aside
from tests.builders import (
    MONDAY,
    Unit,
    bench_test,
    count,
    mended_unit,
    proof_pull,
    qualified,
    rated_unit,
)
from tests.conftest import append_only_lifted
from tests.factories import HousingFactory, ManagerFactory, YardFactory
from tests.inspections.field.sent import finding_sent, payload, send, signed_in
from tests.job_builders import commit, extraction_job, figured_unit, pull_done

pytestmark = pytest.mark.django_db


def pages(client: Client, housing: SuppressorHousing) -> list[str]:
    """The report's text, page by page, its lines run together."""
    response = client.get(reverse("history-report", args=[housing.pk]))
    assert response.status_code == 200
    assert response["Content-Type"] == "application/pdf"
    reader = PdfReader(BytesIO(response.content))
    return [re.sub(r"\s+", " ", page.extract_text()) for page in reader.pages]


def lived_in() -> Unit:
    """A unit with a count, a repair and a correction behind it."""
    unit, _, wrong = mended_unit({"B1": "swollen"})
    count(
        unit.housing,
        unit.manager,
        unit.lot,
        unsound={"B2": "debonded", "B3": "missing"},
        at=MONDAY + timedelta(days=2),
        correction=Correction("read from the wrong side", wrong.inspection),
    )
    return unit


def test_the_report_says_how_the_unit_stands_and_by_what_figures(auditor_client: Client) -> None:
    unit = lived_in()
    text = " ".join(pages(auditor_client, unit.housing))
    assert f"History of housing {unit.housing.mark}" in text
    assert "Standing now: below listing" in text
    assert "FLAGGED" in text
    assert "6 pads counted of 6 sound × 6,000 lbf at 6 in, by its load curve = 36,000 lbf" in text


def test_what_was_said_of_its_guides_is_there(auditor_client: Client) -> None:
    unit = rated_unit(is_guided=False)
    text = " ".join(pages(auditor_client, unit.housing))
    assert "The housing is not guided, as far as anybody has said" in text
    record_guide(
        submission_id=uuid.uuid4(),
        housing=unit.housing,
        is_guided=True,
        reason="Two rods, free.",
        occurred_at=MONDAY + timedelta(days=3),
        by=unit.manager,
    )
    text = " ".join(pages(auditor_client, unit.housing))
    assert "guided (since 5 Mar 2026, Two rods, free): both sides stretch alike." in text
    assert f"Cause: Housing {unit.housing} recorded as guided: Two rods, free" in text


def test_every_entry_is_there_with_cause_difference_and_hash(auditor_client: Client) -> None:
    unit = lived_in()
    text = " ".join(pages(auditor_client, unit.housing))
    entries = LedgerEntry.objects.filter(housing=unit.housing)
    assert entries.count() == 6
    for entry in entries:
        assert f"Entry {entry.sequence} ·" in text
        assert entry.hash in text
        assert entry.cause_words in text
    assert "Corrects entry 4" in text
    assert "CORRECTED since: by entry 5" in text


def test_the_paper_says_where_the_site_tells_how_to_check_it(auditor_client: Client) -> None:
    text = " ".join(pages(auditor_client, lived_in().housing))
    assert "“How this site works” at its foot, “The ledger”" in text
    page = auditor_client.get(reverse("how")).content.decode()
    assert f'<a href="{reverse("how-ledger")}">The ledger</a>' in page


def test_every_page_bears_the_head_s_hash_the_day_and_its_number(auditor_client: Client) -> None:
    unit = lived_in()
    found = pages(auditor_client, unit.housing)
    head = CurrentRating.objects.get(housing=unit.housing)
    for number, text in enumerate(found, start=1):
        assert head.head_hash in text
        assert f"page {number} of {len(found)}" in text
        assert re.search(r"printed \d+ \w{3} \d{4}, \w+ by", text)


def test_inspections_name_who_signed_and_the_pads_seen(auditor_client: Client) -> None:
    unit = lived_in()
    text = " ".join(pages(auditor_client, unit.housing))
    for inspection in unit.housing.inspections.all():
        assert f"Inspection {inspection.pk}" in text
    assert f"by {unit.manager.get_full_name()}" in text
    assert "read from the wrong side" in text
    assert unit.lot.mark in text
    assert "cracked out" in text


def test_a_unit_never_counted_prints(auditor_client: Client) -> None:
    text = " ".join(pages(auditor_client, HousingFactory()))
    assert "Standing now: unrated" in text
    assert "no ledger entry yet" in text


@pytest.mark.parametrize(
    "name", ["S-🔨", "عربي", "<b>S</b> & <para>", "Ω→−", "x" * 40, "\u202eS-1", "a\tb"]
)
def test_a_name_of_any_letters_prints(auditor_client: Client, name: str) -> None:
    housing = HousingFactory(mark=name, yard=YardFactory(name=name), bumper=name)
    assert pages(auditor_client, housing)


def test_notes_of_any_letters_and_any_length_print(auditor_client: Client) -> None:
    unit = lived_in()
    unit.manager.first_name, unit.manager.last_name = "<i>Łukasz", "🔧 & sons</i>"
    unit.manager.save()
    sign_inspection(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(MONDAY + timedelta(days=3), [], note="long & <b>\n" * 180),
        by=unit.manager,
    )
    text = " ".join(pages(auditor_client, unit.housing))
    assert "long & <b>" in text
    assert "& sons</i>" in text


def test_the_report_speaks_si_to_a_reader_of_si(auditor_client: Client) -> None:
    unit = rated_unit()
    auditor_client.post(reverse("choose-units"), {"units": "si"})
    text = " ".join(pages(auditor_client, unit.housing))
    assert "213.5 kN" in text
    assert "(48,000 lbf)" not in text


def test_the_file_is_named_after_the_unit(auditor_client: Client) -> None:
    housing = HousingFactory(mark='S 1/"2"\n')
    response = auditor_client.get(reverse("history-report", args=[housing.pk]))
    assert 'filename="history-housing-s-12.pdf"' in response["Content-Disposition"]


def test_the_paper_says_of_a_measured_spread_no_word_of_an_assumed_one(
    auditor_client: Client,
) -> None:
    unit = rated_unit()
    assert "assumed pad-to-pad spread" in " ".join(pages(auditor_client, unit.housing))
    bench_test(unit.lot, unit.manager, rate_lbf_in=960.0)
    assert "assumed pad-to-pad spread" not in " ".join(pages(auditor_client, unit.housing))


def test_the_paper_warns_of_sides_out_of_balance(auditor_client: Client) -> None:
    unit = rated_unit(unsound={"A1": "missing", "A2": "cracked"})
    assert "Out of balance" in " ".join(pages(auditor_client, unit.housing))


def test_the_paper_says_at_its_head_that_a_unit_is_out_of_service_and_lists_every_time(
    auditor_client: Client,
) -> None:
    unit = rated_unit()
    assert "Times out of service None recorded." in " ".join(pages(auditor_client, unit.housing))
    take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=unit.housing,
        since=MONDAY + timedelta(days=1),
        reason="Crack at the yoke weld",
        by=unit.manager,
    )
    text = " ".join(pages(auditor_client, unit.housing))
    assert text.index("Out of service since 3 Mar 2026") < text.index("Standing now")
    assert "It must not go out: Crack at the yoke weld" in text
    assert "Not released yet." in text
    count(unit.housing, unit.manager, unit.lot, at=MONDAY + timedelta(days=2))
    release_to_service(
        machine=unit.housing,
        at=MONDAY + timedelta(days=3),
        reason="Weld made good.",
        qualified_person=qualified("Hale Winter"),
        by=unit.manager,
    )
    text = " ".join(pages(auditor_client, unit.housing))
    assert "Out of service since" not in text
    assert "Crack at the yoke weld. Taken out by" in text
    assert "Weld made good. Found fit by Hale Winter. Released by" in text


def test_it_prints_findings_and_what_was_done_about_them(auditor_client: Client) -> None:
    unit = rated_unit()
    item = {"key": "a", "part": "Hoses", "text": "No chafe", "state": "finding", "reason": ""}
    found = [finding_sent(item_key="a")]
    sent = payload(unit, kind="monthly", hours=100, findings=found, answers=[item], pads=[])
    assert send(signed_in(unit.manager), sent).status_code == 201
    text = " ".join(pages(auditor_client, unit.housing))
    assert "Hose chafed at the swivel" in text
    assert "(monthly)" in text
    assert "checklist of 1: 0 done, 0 not applicable, 1 with a finding" in text
    close_finding(
        submission_id=uuid.uuid4(),
        finding=Finding.objects.get(),
        closed_at=timezone.now(),
        done="New hose.",
        by=unit.manager,
    )
    assert "New hose." in " ".join(pages(auditor_client, unit.housing))


def test_every_proof_pull_is_printed_with_what_became_of_it(manager_client: Client) -> None:
    unit = rated_unit()
    assert "Never pulled: its figures come from its pads alone." in " ".join(
        pages(manager_client, unit.housing)
    )
    first = proof_pull(unit.housing, unit.manager, 0.7).pull
    text = " ".join(pages(manager_client, unit.housing))
    assert f"Softer than its pads say: proof pull {first.pk} measured 70 %" in text
    assert "at 5 in: 70 % ±" in text
    set_proof_pull_aside(
        submission_id=uuid.uuid4(),
        pull=first,
        reason="A sling chafed on the guide.",
        by=ManagerFactory(first_name="Wren", last_name="Calder"),
    )
    text = " ".join(pages(manager_client, unit.housing))
    assert "set aside by Wren Calder: A sling chafed on the guide." in text
    assert "Softer than its pads say: proof pull" not in text


def test_every_pile_pulled_is_printed_with_what_came_of_it(manager_client: Client) -> None:
    made = commit(figured_unit(), extraction_job(first_day=timezone.localdate()))
    pull_done(made, pile_mark="B3", hook_load_lbf=60_000.0)
    pull_done(made, pile_mark="B4", hook_load_lbf=121_000.0, outcome="broke")
    text = " ".join(pages(manager_client, made.housing))
    assert "Ferry slip, pile B3" in text
    assert "came, vibrated; 39,550 lbf measured" in text
    assert "broke, vibrated; more than 100,550 lbf measured" in text
    assert "above the crane’s capacity" in text


def test_a_corrected_inspection_is_marked_where_it_stands_with_a_link_to_the_correction(
    auditor_client: Client,
) -> None:
    unit = lived_in()
    first, by = (
        Inspection.objects.get(corrected_by__isnull=False),
        Inspection.objects.get(corrects__isnull=False),
    )
    printed = auditor_client.get(reverse("history-report", args=[unit.housing.pk])).content
    paper = PdfReader(BytesIO(printed)).pages
    text = re.sub(r"\s+", " ", " ".join(page.extract_text() for page in paper))
    header = f"Inspection {first.pk} (pad count)"
    marked = f"CORRECTED since: it counts no more. Inspection {by.pk} stands in its place"
    assert text.index(header) < text.index(marked) < text.index(f"Inspection {by.pk} (pad count)")
    links = [each.get_object() for page in paper for each in page.get("/Annots", ())]
    # They lead down the same page, to where the correction stands; one for each line of the words.
    assert links
    assert all(link["/Dest"][3] < link["/Rect"][1] for link in links)


def test_a_photo_whose_file_is_gone_is_named(auditor_client: Client) -> None:
    unit = rated_unit()
    inspection = Inspection.objects.get()
    photo = Photo.objects.create(pk=uuid.uuid4(), inspection=inspection)
    PhotoFile.objects.create(
        photo=photo,
        file="inspections/2026/03/gone.jpg",
        sha256="0" * 64,
        width=1,
        height=1,
        recorded_by=unit.manager,
    )
    text = " ".join(pages(auditor_client, unit.housing))
    assert f"photos: 1, THE FILE IS MISSING of photo {photo.pk}" in text
    page = auditor_client.get(reverse("inspection-photo", args=[photo.pk]))
    assert page.status_code == 404


def test_a_note_of_50_000_characters_without_a_space_prints(auditor_client: Client) -> None:
    unit = rated_unit()
    with append_only_lifted():
        Inspection.objects.update(note="x" * 50_000)
    text = "".join(pages(auditor_client, unit.housing)).replace(" ", "")
    assert text.count("x") >= 50_000


@pytest.mark.parametrize("name", ["Þórður Ætt", "山田太郎", "Ольга", "محمد", "😀 Odd", "Zoë̈ Å"])
def test_a_name_the_font_lacks_prints_all_the_same(auditor_client: Client, name: str) -> None:
    unit = rated_unit()
    unit.manager.first_name, unit.manager.last_name = name, "Vik"
    unit.manager.save()
    assert "Vik" in " ".join(pages(auditor_client, unit.housing))


def test_a_unit_with_no_history_prints_that_there_is_none(auditor_client: Client) -> None:
    text = " ".join(pages(auditor_client, HousingFactory()))
    assert "None recorded." in text
