"""What is found wrong at any machine of a unit is told wherever it is answered for a job."""

from __future__ import annotations

import uuid
from datetime import date

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.machines.recording import connect_power_pack
from inspections.count.findings import FoundFault, Observations
from inspections.count.signing import Seen, sign_inspection
from inspections.count.submission import Submission
from inspections.models import Finding
from inspections.service.recording import close_finding
from ratings.jobs.open_findings import open_findings_words
from ratings.jobs.validity import commitment_now
from ratings.pullsheet.back import condition_rows
from ratings.pullsheet.facts import read_sheet
from tests.builders import MONDAY, Unit
from tests.factories import PowerPackFactory
from tests.job_builders import commit, extraction_job, figured_unit
from tests.site.html_form import words

pytestmark = pytest.mark.django_db

DUE = date(2027, 3, 4)


def faulty(unit: Unit, *faults: tuple[str, str, str]) -> Unit:
    """A unit with findings, each its machine, how grave, and what was found."""
    findings = [
        FoundFault(number, severity, text, act_by=DUE, who_acts="Kay", machine=machine)
        for number, (machine, severity, text) in enumerate(faults, start=1)
    ]
    sign_inspection(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(
            seen_at=timezone.now(),
            pads=(),
            note="Looked at.",
            kind="pad count",
            observations=Observations(findings=findings),
        ),
        by=unit.manager,
    )
    return unit


def test_every_page_and_the_sheet_name_what_is_open_beside_service(
    dispatcher_client: Client,
) -> None:
    unit, job = faulty(figured_unit(), ("clamp", "mend", "Jaw cracked")), extraction_job()
    clamp = Finding.objects.get().machine
    said = f"Found and still open: repair, clamp {clamp}, due 4 Mar 2027: Jaw cracked."
    asked = reverse("job-unit", args=[job.pk, unit.housing.pk])
    assert f"In service. {said}" in words(dispatcher_client.get(asked))
    made = commit(unit, job)
    page = words(dispatcher_client.get(reverse("commitment", args=[made.pk])))
    assert f"In service. {said}" in page
    assert "Found and still open" not in made.answer.document
    sheet = read_sheet(commitment_now(made.pk), "https://yard.example/1", "us")
    assert dict(condition_rows(sheet))["Service"].endswith(said)


def test_the_findings_of_every_machine_are_named_the_gravest_first() -> None:
    unit = figured_unit()
    pack = PowerPackFactory(yard=unit.hammer.yard)
    connect_power_pack(power_pack=pack, hammer=unit.hammer, at=MONDAY, by=unit.manager)
    faulty(
        unit,
        ("hammer", "mend", "Hose chafed"),
        ("housing", "note", "Paint gone"),
        ("power pack", "stop", "Return line leaks"),
        ("housing", "mend", "Guard bent"),
    )
    said = open_findings_words(unit.hammer, unit.housing)
    assert "Paint gone" not in said
    places = [said.index(each) for each in ("Return line leaks", "Hose chafed", "Guard bent")]
    assert places == sorted(places)
    assert "do not use, power pack" in said


def test_what_is_closed_is_told_no_more() -> None:
    unit = faulty(figured_unit(), ("hammer", "mend", "Hose chafed"))
    assert "Hose chafed" in open_findings_words(unit.hammer, unit.housing)
    close_finding(
        submission_id=uuid.uuid4(),
        finding=Finding.objects.get(),
        closed_at=timezone.now(),
        done="New hose",
        by=unit.manager,
    )
    assert open_findings_words(unit.hammer, unit.housing) == ""


def test_many_and_long_findings_leave_room_on_the_sheet() -> None:
    unit = faulty(figured_unit(), *[("hammer", "mend", f"Worn {'x ' * 300}{n}") for n in range(6)])
    said = open_findings_words(unit.hammer, unit.housing)
    assert said.endswith("; and 2 more.")
    assert len(said) < 700
