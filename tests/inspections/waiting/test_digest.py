from __future__ import annotations

from io import StringIO

import pytest
from django.core import mail
from django.core.management import CommandError, call_command
from django.db import connection
from django.utils import timezone

from inspections.schedule.calendar import find_feed, make_feed, revoke_feed
from inspections.waiting.digest import digest_text
from inspections.waiting.providers import waiting_for_managers
from ratings.models import Seal
from tests.builders import count, proposed_listing, rated_unit
from tests.factories import ManagerFactory

pytestmark = pytest.mark.django_db


def test_the_digest_tells_every_manager_what_is_overdue() -> None:
    unit = rated_unit()
    ManagerFactory(email="yard@ledger.example")
    call_command("digest", site="https://ledger.example/")
    [letter] = mail.outbox
    assert letter.to == ["yard@ledger.example"]
    assert f"- {unit.housing.mark} on {unit.hammer.mark}" in letter.body
    assert "https://ledger.example/waiting/" in letter.body


@pytest.mark.parametrize("is_first", [True, False])
def test_managers_who_share_an_address_are_told_what_waits_for_either(is_first: bool) -> None:
    unit = rated_unit()
    people = [ManagerFactory(email="yard@ledger.example") for _ in range(2)]
    proposed_listing(unit.hammer, people[0 if is_first else 1])
    call_command("digest")
    [letter] = mail.outbox
    assert letter.body.startswith(digest_text(waiting_for_managers()))
    alone = digest_text(waiting_for_managers(people[0 if is_first else 1]))
    assert not letter.body.startswith(alone)


def test_the_digest_carries_the_seal_of_the_day() -> None:
    rated_unit()
    ManagerFactory(email="yard@ledger.example")
    call_command("digest")
    [letter] = mail.outbox
    assert "The record holds" in letter.body
    assert letter.body.endswith(Seal.objects.get().text)


def test_the_digest_goes_out_though_nothing_is_due_where_the_record_does_not_hold() -> None:
    unit = rated_unit()
    ManagerFactory(email="yard@ledger.example")
    count(unit.housing, unit.manager, unit.lot, at=timezone.now(), kind="yearly")
    with connection.cursor() as cursor:
        cursor.execute("UPDATE fleet_yard SET place = 'elsewhere'")
    err = StringIO()
    with pytest.raises(CommandError, match="THE RECORD DOES NOT HOLD"):
        call_command("digest", stderr=err)
    assert "place is" in err.getvalue()
    [letter] = mail.outbox
    assert "THE RECORD DOES NOT HOLD" in letter.body
    assert "place is" in letter.body


def test_the_digest_says_so_where_something_is_due_and_nobody_has_an_address() -> None:
    rated_unit()
    with pytest.raises(CommandError, match="nobody was told"):
        call_command("digest")


def test_the_digest_takes_no_address_of_another_kind() -> None:
    with pytest.raises(CommandError, match="give one such as https"):
        call_command("digest", site="javascript:alert(1)")


def test_the_seal_of_the_day_is_mailed_though_nothing_is_due() -> None:
    unit = rated_unit()
    ManagerFactory(email="yard@ledger.example")
    count(unit.housing, unit.manager, unit.lot, at=timezone.now(), kind="yearly")
    call_command("digest")
    [letter] = mail.outbox
    assert letter.subject == "Line-Pull Ledger: the seal of the day"
    assert letter.body.endswith(Seal.objects.get().text)
    assert "what is due" not in letter.body


def test_nobody_is_named_late_where_nothing_is_due_and_nobody_has_an_address() -> None:
    unit = rated_unit()
    count(unit.housing, unit.manager, unit.lot, at=timezone.now(), kind="yearly")
    call_command("digest")
    assert mail.outbox == []


def test_a_calendar_address_answers_until_it_is_revoked() -> None:
    person = ManagerFactory()
    secret = make_feed(person)
    assert find_feed(secret) is not None
    revoke_feed(person)
    assert find_feed(secret) is None


def test_a_new_address_revokes_the_old_one() -> None:
    person = ManagerFactory()
    old = make_feed(person)
    make_feed(person)
    assert find_feed(old) is None
