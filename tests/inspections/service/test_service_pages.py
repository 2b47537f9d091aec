from __future__ import annotations

import uuid
from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.models import OutOfService, SuppressorHousing
from fleet.outages import open_outage, take_out_of_service
from tests.builders import count, qualified, rated_unit
from tests.factories import HousingFactory, ManagerFactory
from tests.inspections.field.sent import finding_sent, payload, send, signed_in
from tests.job_builders import commit, extraction_job, figured_unit
from tests.site.html_form import all_sound, error_at, opened, words

pytestmark = pytest.mark.django_db

WHY = "Crack at the yoke weld."


def out_page(housing: SuppressorHousing) -> str:
    return reverse("take-out-of-service", args=[housing.pk])


def release_page(housing: SuppressorHousing) -> str:
    return reverse("release-to-service", args=[housing.pk])


def unit_text(client: Client, housing: SuppressorHousing) -> str:
    return words(client.get(reverse("unit", args=[housing.pk])))


def take_out(housing: SuppressorHousing, days_ago: int = 2) -> OutOfService:
    return take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=housing,
        since=timezone.now() - timedelta(days=days_ago),
        reason=WHY,
        by=ManagerFactory(),
    )


def sent(client: Client, page: str, **changes: Any) -> Any:
    return client.post(page, opened(client, page) | changes, follow=True)


def test_a_manager_takes_a_unit_out_and_its_page_says_so_at_the_top(
    manager_client: Client,
) -> None:
    housing = rated_unit().housing
    response = sent(manager_client, out_page(housing), reason=WHY)
    text = words(response)
    assert f"Housing {housing.mark} is out of service." in text
    assert text.index(WHY) < text.index("meets listing")
    assert "must not go out, whatever its standing" in text
    assert "Release to service" in text
    assert "Take out of service" not in text


def test_a_reader_sees_that_it_is_out_and_no_button(auditor_client: Client) -> None:
    housing = rated_unit().housing
    take_out(housing)
    text = unit_text(auditor_client, housing)
    assert WHY in text
    assert "Release to service" not in text


def test_sent_twice_it_goes_out_once(manager_client: Client) -> None:
    housing = HousingFactory()
    fields = opened(manager_client, out_page(housing)) | {"reason": WHY}
    for _ in range(2):
        response = manager_client.post(out_page(housing), fields, follow=True)
    assert "nothing was recorded twice" in words(response)
    assert OutOfService.objects.count() == 1


def test_a_form_opened_before_somebody_else_took_it_out_is_told(manager_client: Client) -> None:
    housing = HousingFactory()
    fields = opened(manager_client, out_page(housing)) | {"reason": WHY}
    take_out(housing)
    text = words(manager_client.post(out_page(housing), fields))
    assert "is out of service already" in text
    assert OutOfService.objects.count() == 1


def test_the_form_of_a_unit_that_is_out_already_says_so(manager_client: Client) -> None:
    housing = HousingFactory()
    take_out(housing)
    assert "It is out of service already" in words(manager_client.get(out_page(housing)))


@pytest.mark.parametrize(
    ("name", "value", "expected"),
    [
        ("reason", "", "required"),
        ("reason", " ", "required"),
        ("reason", "x" * 201, "200"),
        ("since", "", "give the date and time"),
        ("since", "yesterday", "not a date and time"),
        ("since", "2199-01-01T08:00", "in the future"),
        ("since", "1899-01-01T08:00", "too long ago"),
    ],
)
def test_a_bad_field_is_told_at_the_field(
    manager_client: Client, name: str, value: str, expected: str
) -> None:
    housing = HousingFactory()
    page = out_page(housing)
    fields = opened(manager_client, page) | {"reason": WHY, name: value}
    assert expected in error_at(manager_client.post(page, fields), name)
    assert open_outage(housing) is None


def test_taking_out_a_unit_that_is_committed_names_the_job(manager_client: Client) -> None:
    unit, job = figured_unit(), extraction_job()
    commit(unit, job)
    text = words(manager_client.get(out_page(unit.housing)))
    assert job.site in text
    assert "tell its dispatcher" in text


def test_without_a_fresh_inspection_the_page_says_what_is_missing(manager_client: Client) -> None:
    unit = rated_unit()
    take_out(unit.housing)
    response = manager_client.get(release_page(unit.housing))
    assert "No inspection between" in words(response)
    assert reverse("count-pads", args=[unit.housing.pk]) in response.content.decode()
    assert '<button class="main">Release it' not in response.content.decode()


def test_a_release_sent_without_one_is_refused_in_words(manager_client: Client) -> None:
    unit = rated_unit()
    take_out(unit.housing)
    fields = {
        "at": f"{timezone.localtime():%Y-%m-%dT%H:%M}",
        "reason": "It will do.",
        "qualified_person": str(qualified().pk),
    }
    text = words(manager_client.post(release_page(unit.housing), fields))
    assert "Nothing was saved" in text
    assert "count every pad and tape the travel" in text
    assert open_outage(unit.housing) is not None


def test_a_unit_looked_over_since_is_released_and_its_page_keeps_the_time_out(
    manager_client: Client,
) -> None:
    unit = rated_unit()
    take_out(unit.housing)
    signed = count(
        unit.housing, unit.manager, unit.lot, at=timezone.now() - timedelta(days=1)
    ).inspection
    page = release_page(unit.housing)
    assert f"inspection {signed.pk}" in words(manager_client.get(page))
    text = words(
        sent(manager_client, page, reason="Weld made good.", qualified_person=str(qualified().pk))
    )
    assert "is back in service" in text
    assert "must not go out" not in text
    assert f"{WHY} (taken out by" in text
    assert "Weld made good." in text
    assert "Take out of service" in text


def test_no_unit_is_released_while_its_gravest_finding_is_open(manager_client: Client) -> None:
    unit = rated_unit()
    at = (timezone.now() - timedelta(hours=3)).isoformat()
    grave = finding_sent(severity="stop", text="Frame cracked right through")
    send(signed_in(unit.manager), payload(unit, seen_at=at, findings=[grave]))
    count(unit.housing, unit.manager, unit.lot, at=timezone.now() - timedelta(hours=1))
    page, finding = release_page(unit.housing), unit.housing.findings.get()
    assert "“Frame cracked right through”" in words(manager_client.get(page))
    close_page = reverse("close-finding", args=[finding.pk])
    assert close_page in manager_client.get(page).content.decode()
    sent(manager_client, close_page, done="Welded and tested by R. Hask.")
    text = words(
        sent(manager_client, page, reason="Repaired.", qualified_person=str(qualified().pk))
    )
    assert "is back in service" in text
    assert "found fit by Hale Winter" in text


def test_a_count_that_changes_no_figure_still_says_that_the_unit_is_out(
    manager_client: Client,
) -> None:
    unit = rated_unit()
    take_out(unit.housing)
    page = reverse("count-pads", args=[unit.housing.pk])
    text = words(manager_client.post(page, all_sound(manager_client, page), follow=True))
    assert "It changed no figure" in text
    assert "It is still out of service" in text


def test_a_release_by_somebody_not_qualified_is_refused(manager_client: Client) -> None:
    unit = rated_unit()
    take_out(unit.housing)
    count(unit.housing, unit.manager, unit.lot, at=timezone.now() - timedelta(days=1))
    page = release_page(unit.housing)
    response = manager_client.post(
        page,
        opened(manager_client, page)
        | {"reason": "x", "qualified_person": str(ManagerFactory().pk)},
    )
    assert error_at(response, "qualified_person")
    assert open_outage(unit.housing) is not None


def test_findings_to_act_on_stand_on_the_board_and_atop_the_unit(manager_client: Client) -> None:
    unit = rated_unit()
    found = [finding_sent(), finding_sent(number=2, severity="note", text="Paint gone")]
    send(signed_in(unit.manager), payload(unit, findings=found))
    assert "1 finding open" in words(manager_client.get(reverse("board")))
    text = unit_text(manager_client, unit.housing)
    assert text.index(f"1 finding open: hammer {unit.hammer}: Hose chafed") < text.index("Pad map")


def test_correcting_a_count_closes_no_finding_of_its_inspection(manager_client: Client) -> None:
    unit = rated_unit()
    send(signed_in(unit.manager), payload(unit, findings=[finding_sent()]))
    wrong = unit.housing.inspections.first()
    assert wrong is not None
    url = reverse("count-pads", args=[unit.housing.pk]) + f"?inspection={wrong.pk}"
    sent(manager_client, url, travel_in="5.5", correction_reason="Misread.")
    assert "1 finding open" in unit_text(manager_client, unit.housing)


def test_releasing_a_unit_in_service_says_that_it_is(manager_client: Client) -> None:
    housing = HousingFactory()
    assert "there is nothing to release" in words(manager_client.get(release_page(housing)))
    fields = {
        "at": f"{date(2026, 3, 2)}T08:00",
        "reason": "Why not.",
        "qualified_person": str(qualified().pk),
    }
    text = words(manager_client.post(release_page(housing), fields))
    assert "is in service: there is nothing to release" in text


@pytest.mark.parametrize("page", [out_page, release_page])
@pytest.mark.parametrize("role", ["dispatcher", "auditor"])
def test_only_a_manager_does_either(page: Any, role: str, request: pytest.FixtureRequest) -> None:
    client = request.getfixturevalue(f"{role}_client")
    housing = HousingFactory()
    assert client.get(page(housing)).status_code == 403
    assert client.post(page(housing), {"reason": WHY}).status_code == 403
    assert open_outage(housing) is None


def test_a_reason_is_shown_as_it_was_typed(manager_client: Client) -> None:
    housing = HousingFactory()
    response = sent(manager_client, out_page(housing), reason="<b>weld</b> & yoke")
    assert "&lt;b&gt;weld&lt;/b&gt; &amp; yoke" in response.content.decode()


def test_a_unit_never_out_has_none_on_record(auditor_client: Client) -> None:
    assert "Times out of service None recorded." in unit_text(auditor_client, HousingFactory())
