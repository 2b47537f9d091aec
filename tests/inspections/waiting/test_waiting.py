"""What waits for whom, and what settles it."""

from __future__ import annotations

import re
import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.models import PadLot
from inspections.models import Finding
from inspections.waiting import sections
from inspections.waiting.providers import PROVIDERS, waiting_for, waiting_for_managers
from inspections.waiting.sections import Line
from inspections.waiting.views import LINES_SHOWN
from ratings.jobs.ahead import Plan
from ratings.jobs.commitments import commit_unit, meet_condition
from ratings.mechanics.unit_rating import Policy
from ratings.models import Commitment, ConditionKind, LotRating
from ratings.mounting import mount_housing
from ratings.policy import change_policy
from tests.builders import count, days_ago, drafted_test, rated_unit
from tests.factories import (
    AuditorFactory,
    DispatcherFactory,
    GaugeFactory,
    HammerFactory,
    HousingFactory,
    ManagerFactory,
    PadLotFactory,
)
from tests.inspections.field.sent import finding_sent, payload, send, signed_in
from tests.job_builders import commit, extraction_job, figured_unit, pull_done, transfer
from tests.site.html_form import words
from tests.stand_builders import check_stand

pytestmark = pytest.mark.django_db


def lines_of(key: str) -> list[Line]:
    """The lines of one section of all that waits; none where it waits for nothing."""
    return [
        line
        for section in waiting_for_managers().sections
        if section.key == key
        for line in section.lines()
    ]


def only(key: str) -> Line:
    [line] = lines_of(key)
    return line


def in_order() -> Any:
    """A unit inspected today."""
    unit = rated_unit()
    count(unit.housing, unit.manager, unit.lot, at=timezone.now(), kind="yearly")
    return unit


def test_a_draft_waits_with_the_page_where_it_is_approved() -> None:
    unit = in_order()
    draft = drafted_test(unit.lot, unit.manager).draft
    assert draft is not None
    line = only("drafts")
    assert line.form == reverse("lot-rating", args=[draft.pk]) + "#approve"
    assert "waits for a second person" in line.words


def test_an_overdue_inspection_waits_with_the_phone_s_page_opened_on_its_kind() -> None:
    unit = rated_unit()
    monthly = next(each for each in lines_of("overdue") if "monthly" in each.words)
    assert monthly.form == f"{reverse('field')}#inspect/{unit.housing.pk}/monthly"
    assert monthly.is_late


def test_what_does_not_press_any_more_as_its_unit_is_read_says_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    unit = rated_unit()
    monkeypatch.setattr(sections, "with_units", lambda shown: {})
    first = lines_of("overdue")[0]
    assert first.what == unit.housing.mark
    assert first.words.endswith("changed just now: open the page again")


def found(unit: Any, **changes: Any) -> Finding:
    sent = payload(unit, pads=[], travel_in=None, findings=[finding_sent(**changes)])
    assert send(signed_in(unit.manager), sent).status_code == 201
    return Finding.objects.latest("pk")


def test_findings_wait_by_the_day_to_act_on_and_those_to_watch_do_not() -> None:
    unit = in_order()
    today = timezone.localdate()
    later = found(unit, text="Hose chafed", act_by=(today + timedelta(days=9)).isoformat())
    first = found(unit, text="Guard bent", act_by=today.isoformat())
    found(unit, text="Paint gone", severity="note", act_by=None, who_acts="")
    assert [line.form for line in lines_of("findings")] == [
        reverse("close-finding", args=[each.pk]) for each in (first, later)
    ]


def test_a_gauge_waits_a_month_before_its_calibration_ends_and_not_before() -> None:
    in_order()
    today = timezone.localdate()
    for mark, days in (("G-LATER", 31), ("G-SOON", 30), ("G-OVER", -1)):
        GaugeFactory(
            mark=mark,
            calibrated_on=today - timedelta(days=300),
            due_on=today + timedelta(days=days),
        )
    told = {line.what: line for line in lines_of("calibrations")}
    assert "Gauge G-LATER" not in told
    assert not told["Gauge G-SOON"].is_late
    assert told["Gauge G-OVER"].is_late
    assert "out of calibration since" in told["Gauge G-OVER"].words


def test_a_gauge_nobody_calibrated_waits() -> None:
    gauge = GaugeFactory(mark="G-NEVER", calibrated_on=None, due_on=None)
    [line] = [each for each in lines_of("calibrations") if each.what == "Gauge G-NEVER"]
    assert line.words == "no calibration on record"
    assert line.form == reverse("new-gauge-calibration", args=[gauge.pk])


def test_a_stand_waits_whose_newest_check_is_out_of_its_limits() -> None:
    unit = rated_unit()
    test = unit.lot.bench_tests.get()
    first = check_stand(test.stand, unit.manager, at=days_ago(20), rate_lbf_in=500.0)
    assert lines_of("stands") == []
    check_stand(test.stand, unit.manager, piece=first.piece, at=days_ago(2), rate_lbf_in=900.0)
    assert only("stands").form == reverse("new-reference-check", args=[test.stand_id])


def rates_hold(days: int) -> None:
    """Let the rate of the only lot hold for so many days from today on; fewer than 0: till then."""
    age = (timezone.now() - LotRating.objects.get().tested_at).days
    change_policy(
        submission_id=uuid.uuid4(),
        policy=Policy(rate_valid_days=age + days),
        reason="A test.",
        by=ManagerFactory(),
    )


def test_a_rate_waits_a_month_before_it_goes_stale() -> None:
    unit = rated_unit()
    for days, late in ((40, None), (20, False), (-2, True)):
        rates_hold(days)
        assert [line.is_late for line in lines_of("stale")] == ([] if late is None else [late])
    assert only("stale").form == reverse("new-bench-test", args=[unit.lot.pk])


def test_a_stale_rate_of_a_lot_the_yard_has_no_pad_of_does_not_wait() -> None:
    unit = rated_unit()
    rates_hold(-2)
    unit.housing.positions.update(lot=None)
    PadLot.objects.update(in_stock=0)
    assert lines_of("stale") == []


def test_a_lot_waits_to_be_ordered_at_its_level() -> None:
    in_order()
    PadLotFactory(mark="L-ENOUGH", in_stock=13, reorder_point=12)
    PadLotFactory(mark="L-UNSAID", in_stock=0)
    short = PadLotFactory(mark="L-SHORT", in_stock=12, reorder_point=12)
    line = only("reorders")
    assert line.words == "12 in stock, to be ordered at 12"
    assert line.form == f"{reverse('new-pad-order')}?lot={short.pk}"


def test_a_commitment_that_fell_waits_until_it_is_answered_again_or_released() -> None:
    unit = figured_unit()
    commit(unit, extraction_job(site="Coal quay"))
    assert lines_of("fallen") == []
    faults = {f"A{number}": "cracked" for number in (1, 2, 3)}
    count(unit.housing, unit.manager, unit.lot, unsound=faults, at=timezone.now())
    line = only("fallen")
    assert f"{unit.housing.mark} for Coal quay" in line.what
    assert line.words.startswith("Do not send it out.")
    assert line.mark == "at once"


def ahead() -> Commitment:
    """A unit committed on a word that somebody must give."""
    today = timezone.localdate()
    unit = figured_unit()
    return commit_unit(
        is_care_known=True,
        watched_by="Odd Brandt",
        submission_id=uuid.uuid4(),
        job=extraction_job(site="Lock gate"),
        housing=unit.housing,
        by=DispatcherFactory(),
        plans=[Plan(ConditionKind.OTHER, today, today, words="Permit of the harbor")],
    )


def test_a_condition_waits_and_once_it_is_met_the_commitment_to_confirm() -> None:
    made = ahead()
    condition = made.conditions.get()
    line = only("conditions")
    assert line.form == reverse("meet-condition", args=[condition.pk])
    assert lines_of("confirm") == []
    meet_condition(
        submission_id=uuid.uuid4(),
        condition=condition,
        note="Permit 12.",
        by=made.answer.recorded_by,
    )
    assert lines_of("conditions") == []
    assert only("confirm").form == reverse("commitment", args=[made.pk])


def test_a_transfer_waits_once_it_is_late() -> None:
    transfer(rated_unit(), 5)
    assert lines_of("late") == []
    late = transfer(rated_unit(), -9)
    assert only("late").form == reverse("transfer", args=[late.pk])


def test_an_overload_waits_until_the_next_full_count() -> None:
    unit = figured_unit()
    made = commit(unit, extraction_job(first_day=timezone.localdate()))
    pull_done(made)
    assert lines_of("overloads") == []
    pull_done(made, pile_mark="2", hook_load_lbf=60_000.0)
    assert only("overloads").form == f"{reverse('field')}#inspect/{unit.housing.pk}"
    count(unit.housing, unit.manager, unit.lot, at=timezone.now())
    assert lines_of("overloads") == []


def test_nothing_waits_says_so_with_the_next_day(manager_client: Client) -> None:
    unit = in_order()
    text = words(manager_client.get(reverse("waiting")))
    assert "Nothing waits for you. Next comes" in text
    assert f"of {unit.housing.mark}, on" in text


def test_an_empty_yard_is_told_that_nothing_is_on_record(manager_client: Client) -> None:
    text = words(manager_client.get(reverse("waiting")))
    assert "No day on which anything comes due is on record." in text


def keys_for(person: Any) -> set[str]:
    return {each.key for each in PROVIDERS if each.is_for(person)}


def test_a_dispatcher_sees_what_a_dispatcher_settles() -> None:
    assert keys_for(DispatcherFactory()) == {"fallen", "confirm", "conditions", "late"}


def test_an_auditor_reads_and_is_offered_nothing_to_do(auditor_client: Client) -> None:
    rated_unit()
    assert "overdue" in keys_for(AuditorFactory())
    assert "late" not in keys_for(AuditorFactory())
    response = auditor_client.get(reverse("waiting"))
    assert "Overdue" in words(response)
    assert "#inspect" not in response.content.decode()


def test_a_manager_sees_all(manager: Any) -> None:
    assert keys_for(manager) == {each.key for each in PROVIDERS}
    assert waiting_for(manager).count == waiting_for_managers().count


def test_a_section_shows_its_first_lines_and_all_of_it_page_by_page(
    manager_client: Client,
) -> None:
    by = ManagerFactory()
    for _ in range(14):
        mount_housing(housing=HousingFactory(), hammer=HammerFactory(), at=days_ago(9), by=by)
    many = len(lines_of("overdue"))
    assert many > 25
    first = manager_client.get(reverse("waiting")).content.decode()
    part = first.split('id="waits-overdue"')[1].split("</section>")[0]
    assert part.count("<li") == LINES_SHOWN
    assert f"All {many}" in part
    pages = [
        manager_client.get(reverse("waiting-section", args=["overdue"]), {"page": page})
        for page in (1, 2)
    ]
    told = [re.findall(r"Inspect it", page.content.decode()) for page in pages]
    assert len(told[0]) == 25
    assert len(told[0]) + len(told[1]) == many


@pytest.mark.parametrize("page", ["0", "999", "x", "-1"])
def test_a_page_that_is_not_there_breaks_nothing(manager_client: Client, page: str) -> None:
    for url in (reverse("waiting-section", args=[each.key]) for each in PROVIDERS):
        assert manager_client.get(url, {"page": page}).status_code == 200


def test_a_section_nobody_has_is_not_found(manager_client: Client) -> None:
    assert manager_client.get("/waiting/nothing-of-that-name/").status_code == 404


@pytest.mark.parametrize(
    ("made_by", "leads_to"),
    [(ManagerFactory, "waiting"), (DispatcherFactory, "board"), (AuditorFactory, "board")],
)
def test_a_manager_who_signs_in_comes_to_what_waits(made_by: Any, leads_to: str) -> None:
    person = made_by()
    response = Client().post(
        reverse("sign-in"), {"username": person.username, "password": "line-pull-test"}
    )
    assert response["Location"] == reverse(leads_to)
