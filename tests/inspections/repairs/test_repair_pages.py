from __future__ import annotations

from datetime import timedelta
from io import BytesIO
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from inspections.models import RepairOrder
from inspections.repairs.paper import work_list_pdf
from tests.builders import ordered_repair, picture, rated_unit, used_part
from tests.factories import ClampFactory, HammerFactory, YardFactory
from tests.inspections.repairs.test_recording_a_repair import found_at
from tests.site.html_form import opened, words

pytestmark = pytest.mark.django_db


def send(client: Client, url: str, **given: Any) -> Any:
    return client.post(url, opened(client, url) | given, follow=True)


def plain_order(**changes: str) -> dict[str, str]:
    day = timezone.localdate().isoformat()
    return {"what": "New seals", "who": "Odd Brandt", "planned_on": day} | changes


def test_a_repair_is_ordered_of_a_machine_by_its_mark(manager_client: Client) -> None:
    hammer = HammerFactory(mark="H-77")
    answer = send(manager_client, reverse("new-repair"), **plain_order(machine="h-77"))
    assert "Repair order" in words(answer)
    assert RepairOrder.objects.get().machine == hammer


def test_a_mark_two_machines_have_is_asked_about(manager_client: Client) -> None:
    HammerFactory(mark="7")
    clamp = ClampFactory(mark="7")
    url = reverse("new-repair")
    assert "write “hammer 7” or “clamp 7”" in words(
        send(manager_client, url, **plain_order(machine="7"))
    )
    send(manager_client, url, **plain_order(machine="clamp 7"))
    assert RepairOrder.objects.get().machine == clamp


def test_a_mark_nobody_has_is_said_at_its_field(manager_client: Client) -> None:
    answer = send(manager_client, reverse("new-repair"), **plain_order(machine="X-99"))
    assert "“X-99” is the mark of no machine here" in words(answer)
    assert not RepairOrder.objects.exists()


def test_a_repair_of_a_finding_begins_with_what_was_found(manager_client: Client) -> None:
    finding = found_at(rated_unit())
    page = manager_client.get(reverse("new-repair"), {"finding": finding.pk})
    assert page.context["form"].initial["what"] == "Hose chafed"
    assert "machine" not in page.context["form"].fields


def test_a_repair_begun_at_a_machine_names_it(manager_client: Client) -> None:
    hammer = HammerFactory(mark="H-5")
    page = manager_client.get(reverse("new-repair"), {"hammer": hammer.pk})
    assert page.context["form"].initial == page.context["form"].initial | {"machine": "hammer H-5"}


def test_parts_photos_and_the_end_are_entered_on_the_page_of_the_order(
    manager_client: Client,
) -> None:
    order = ordered_repair(HammerFactory(yard=YardFactory(currency="USD")))
    url = reverse("repair-order", args=[order.pk])

    def fields(form: str) -> dict[str, str]:
        made = manager_client.get(url).context["forms"][form]
        return {"submission_id": str(made["submission_id"].value()), form: "yes"}

    manager_client.post(
        url,
        fields("line") | {"kind": "part", "text": "Hose", "amount": "2", "price_each": "41.50"},
    )
    manager_client.post(url, fields("photo_of") | {"when": "after", "photo": picture()})
    now = timezone.localtime().strftime("%Y-%m-%dT%H:%M")
    answer = manager_client.post(
        url,
        fields("finish") | {"ended_at": now, "done_by": "Odd Brandt", "text": "Hose changed"},
        follow=True,
    )
    told = words(answer)
    assert "83.00 USD" in told
    assert "by Odd Brandt: Hose changed" in told
    assert order.photos.count() == 1


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"amount": "two"}, "“two” is not a number"),
        ({"amount": ""}, "This is blank: give a number such as 1.5."),
        ({"amount": "0"}, "“0” won’t do: give more than 0"),
        ({"price_each": "1e9999"}, "“1e9999”"),
        ({"price_each": "1.005"}, "“1.005” has more than two decimals"),
        ({"price_each": "-3"}, "“-3” won’t do: give 0 or more"),
        ({"text": ""}, "This is blank: say what it is."),
    ],
)
def test_a_wrong_line_is_said_at_its_field_and_what_was_typed_stays(
    manager_client: Client, given: dict[str, str], said: str
) -> None:
    order = ordered_repair(HammerFactory(yard=YardFactory(currency="USD")))
    url = reverse("repair-order", args=[order.pk])
    form = manager_client.get(url).context["forms"]["line"]
    fields = {
        "submission_id": str(form["submission_id"].value()),
        "line": "yes",
        "kind": "part",
        "text": "Hose of the clamp",
        "amount": "2",
    }
    answer = manager_client.post(url, fields | given)
    assert said in words(answer)
    assert not order.lines.exists()


def test_whoever_only_reads_enters_nothing(dispatcher_client: Client) -> None:
    order = ordered_repair(HammerFactory())
    url = reverse("repair-order", args=[order.pk])
    assert dispatcher_client.post(url, {"cancel": "yes"}).status_code == 403
    assert b"It is done</button>" not in dispatcher_client.get(url).content


def test_the_orders_are_narrowed_by_state_yard_and_machine(manager_client: Client) -> None:
    here, there = YardFactory(), YardFactory()
    late = ordered_repair(
        HammerFactory(yard=here), planned_on=timezone.localdate() - timedelta(days=2)
    )
    ordered_repair(ClampFactory(yard=there))
    asked = {"state": "late", "yard": str(here.pk), "sort_of_machine": "hammer"}
    page = manager_client.get(reverse("repairs"), asked)
    assert [row.record for row in page.context["table"].rows] == [late]


def test_a_line_is_taken_back_with_a_reason(manager_client: Client) -> None:
    line = used_part(ordered_repair(HammerFactory()))
    answer = send(
        manager_client, reverse("take-back-repair-line", args=[line.pk]), reason="Not used"
    )
    assert "taken back by" in words(answer)


def on_paper(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages)


def test_the_list_of_a_day_holds_what_is_planned_by_then_in_that_yard_and_what_nobody_ordered() -> (
    None
):
    unit, today = rated_unit(), timezone.localdate()
    finding = found_at(unit)
    order = ordered_repair(unit.hammer, what="Change the filter")
    ordered_repair(unit.hammer, what="Next week", planned_on=today + timedelta(days=7))
    ordered_repair(HammerFactory(yard=YardFactory()), what="Of another yard")
    told = on_paper(work_list_pdf(unit.housing.yard, today))
    assert "Change the filter" in told
    assert finding.text in told
    assert "Next week" not in told
    assert "Of another yard" not in told
    ordered_repair(finding.machine, finding=finding, planned_on=today + timedelta(days=7))
    assert finding.text not in on_paper(work_list_pdf(unit.housing.yard, today))
    assert f"{order.pk}" in told


def test_a_list_of_no_yard_says_what_is_missing(manager_client: Client) -> None:
    answer = manager_client.get(reverse("work-list"), {"day": "yesterday"})
    assert answer.status_code == 200
    assert answer["Content-Type"].startswith("text/html")


def test_what_is_planned_waits_for_the_manager_with_its_form(manager_client: Client) -> None:
    order = ordered_repair(HammerFactory(mark="H-9"))
    page = manager_client.get(reverse("waiting"))
    assert "Hammer H-9" in words(page)
    assert f"{reverse('repair-order', args=[order.pk])}#finish" in page.content.decode()
