from __future__ import annotations

import json
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.apps import apps
from django.contrib.auth.models import Group, User
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import connection, transaction
from django.db.migrations import Migration
from django.db.migrations.operations import AddField, CreateModel
from django.db.models import CharField, Model
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from fleet import together
from fleet.journal.adoption import adopt, after_migrating
from fleet.journal.scope import APPS, EXCEPTIONS, is_journaled, journaled_models
from fleet.journal.sequence import give_places
from fleet.journal.spelling import file_hash, hash_of
from fleet.models import Hammer, Leaf, Yard
from fleet.setup.yard_things import YARD
from ratings.record.faults import Fault, Scope
from ratings.record.rows import look_at_rows
from tests.conftest import append_only_lifted
from tests.factories import HammerFactory, ManagerFactory, YardFactory

pytestmark = pytest.mark.django_db


def leaves(record: Model) -> list[dict[str, Any]]:
    """What the journal tells of a record, the oldest first."""
    told = Leaf.objects.filter(model=record._meta.label_lower, row_key=record.pk)
    return [json.loads(each) for each in told.order_by("pk").values_list("document", flat=True)]


def faults() -> list[str]:
    return [str(each) for each in look_at_rows(Scope()) if isinstance(each, Fault)]


def test_every_table_is_journaled_or_excepted_with_a_reason() -> None:
    every = [m for m in apps.get_models(include_auto_created=True) if m._meta.app_label in APPS]
    labels = {model._meta.label_lower for model in every}
    assert labels == {m._meta.label_lower for m in journaled_models()} | EXCEPTIONS.keys()
    assert all(len(reason) > 10 for reason in EXCEPTIONS.values())
    assert not any(is_journaled(m) for m in every if m._meta.label_lower in EXCEPTIONS)


def test_a_row_saved_anew_and_saved_again_has_a_leaf_of_each() -> None:
    yard = YardFactory()
    yard.name = "Lower yard"
    yard.save(update_fields=["name"])
    first, second = leaves(yard)
    assert (first["what"], second["what"]) == ("recorded", "changed")
    assert second["row"]["name"] == "Lower yard"
    newest = Leaf.objects.filter(model="fleet.yard").latest("pk")
    assert hash_of(newest.document) == newest.leaf_hash


def test_rows_written_together_have_their_leaves_in_one_statement(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    many = [Yard(name=f"Yard of many {number}") for number in range(30)]
    with django_assert_num_queries(2):
        Yard.objects.bulk_create(many)
    assert [leaves(yard)[0]["row"]["name"] for yard in many] == [yard.name for yard in many]
    assert not faults()


def test_rows_changed_by_a_query_each_have_a_leaf() -> None:
    yards = [YardFactory(), YardFactory()]
    Yard.objects.filter(pk__in=[yard.pk for yard in yards]).update(place="by the river")
    yards[0].place = "on the hill"
    Yard.objects.bulk_update(yards[:1], ["place"])
    assert [len(leaves(yard)) for yard in yards] == [3, 2]
    assert leaves(yards[0])[-1]["row"]["place"] == "on the hill"
    assert not faults()


def test_rows_changed_by_a_query_over_other_tables_each_have_a_leaf() -> None:
    hammer = HammerFactory()
    Hammer.objects.filter(yard__name=hammer.yard.name).update(eccentric_moment_lb_in=123.0)
    assert leaves(hammer)[-1]["row"]["eccentric_moment_lb_in"] == 123.0


def test_a_row_removed_has_a_leaf_that_says_so() -> None:
    yard = YardFactory()
    key = yard.pk
    Yard.objects.filter(pk=key).delete()
    told = Leaf.objects.filter(model="fleet.yard", row_key=key).latest("pk")
    assert (told.what, json.loads(told.document)["row"]) == ("removed", None)
    assert not faults()


def alter(statement: str, *values: Any) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)


def edit_by_query(hammer: Hammer) -> None:
    Hammer.objects.filter(pk=hammer.pk).update(mark="Z-1")


def edit_by_query_over_others(hammer: Hammer) -> None:
    Hammer.objects.filter(yard__name=hammer.yard.name).update(mark="Z-1")


def edit_by_saving(hammer: Hammer) -> None:
    hammer = Hammer.objects.get(pk=hammer.pk)
    hammer.mark = "Z-1"
    hammer.save()


@pytest.mark.parametrize("edit", [edit_by_query, edit_by_query_over_others, edit_by_saving])
def test_an_honest_change_of_a_row_leaves_what_was_forged_in_it_amiss(
    edit: Callable[[Hammer], None],
) -> None:
    forged, honest = HammerFactory(eccentric_moment_lb_in=2000.0), HammerFactory()
    alter("UPDATE fleet_hammer SET eccentric_moment_lb_in = 4000 WHERE id = %s", forged.pk)
    edit(forged)
    Hammer.objects.filter(pk=honest.pk).update(mark="Z-2")
    assert leaves(forged)[-1]["changed"] == ["mark"]
    assert len(faults()) == 1
    assert "eccentric_moment_lb_in was 2000 and became 4000" in faults()[0]


def test_rows_in_the_way_of_new_ones_are_not_told_of_as_new() -> None:
    one, other = ManagerFactory(), ManagerFactory()
    role = Group.objects.get(name="auditor")
    through = User.groups.through
    rows = [through(user=person, group=role) for person in (one, other)]
    through.objects.bulk_create(rows[:1])
    through.objects.bulk_create(rows, ignore_conflicts=True)
    told = Leaf.objects.filter(model="auth.user_groups", document__contains=f'"group_id":{role.pk}')
    assert told.count() == 2


def test_what_is_of_a_row_entered_just_before_is_told_of_where_others_are_in_the_way() -> None:
    through = User.groups.through
    with together.recorded_together():
        person, role = ManagerFactory(), Group.objects.get(name="auditor")
        row = through(user=person, group=role)
        through.objects.bulk_create([row], ignore_conflicts=True)
    told = Leaf.objects.filter(model="auth.user_groups", document__contains=f'"group_id":{role.pk}')
    assert told.filter(document__contains=f'"user_id":{person.pk}').count() == 1


def test_a_change_in_place_of_a_row_in_the_way_names_its_columns() -> None:
    person = ManagerFactory(email="a@yard.example")
    alter("UPDATE auth_user SET is_superuser = %s WHERE id = %s", True, person.pk)
    User.objects.bulk_create(
        [User(username=person.username, email="b@yard.example")],
        update_conflicts=True,
        unique_fields=["username"],
        update_fields=["email"],
    )
    assert (leaves(person)[-1]["what"], leaves(person)[-1]["changed"]) == ("changed", ["email"])
    assert len(faults()) == 1
    assert "is_superuser was false and became true" in faults()[0]


def test_more_rows_than_one_statement_takes_are_changed_together() -> None:
    # SQLite takes 32,766 values in a statement (sqlite.org/limits.html, 9).
    alter(
        "WITH RECURSIVE counted(n) AS "
        "(SELECT 1 UNION ALL SELECT n + 1 FROM counted WHERE n < 33000) "
        "INSERT INTO fleet_yard (name, place, currency) "
        "SELECT CAST(n AS TEXT), '', '' FROM counted"
    )
    assert Yard.objects.update(place="by the river") == 33_000
    assert Leaf.objects.filter(model="fleet.yard", what="changed").count() == 33_000


def test_what_people_may_do_is_journaled_and_their_passwords_by_hash_alone() -> None:
    person = ManagerFactory()
    person.set_password("a long one of its own")
    person.save()
    told = leaves(person)[-1]["row"]
    assert set(told["password"]) == {"sha256"}
    assert "last_login" not in told
    person.groups.set(Group.objects.filter(name="auditor"))
    through = Leaf.objects.filter(model="auth.user_groups").order_by("pk")
    rows = [(leaf.what, json.loads(leaf.document)["row"]) for leaf in through]
    assert any(what == "removed" for what, _ in rows)
    assert rows[-1][1]["user_id"] == person.pk
    assert not faults()


def test_a_sign_in_alone_adds_no_leaf() -> None:
    person = ManagerFactory()
    before = Leaf.objects.count()
    User.objects.filter(pk=person.pk).update(last_login=timezone.now())
    assert Leaf.objects.count() == before


def test_a_leaf_names_who_was_signed_in(manager_client: Client, manager: User) -> None:
    page = {"name": "Yard of the test", "place": "", "currency": "", "submission_id": uuid.uuid4()}
    manager_client.post(reverse(YARD.new_page), page)
    assert leaves(Yard.objects.get(name=page["name"]))[0]["by"] == manager.pk
    assert leaves(YardFactory())[0]["by"] is None


def test_a_leaf_is_gone_where_its_row_was_not_written_after_all() -> None:
    before = Leaf.objects.count()
    with transaction.atomic():
        YardFactory()
        transaction.set_rollback(True)
    assert Leaf.objects.count() == before


def test_a_file_is_told_by_the_hash_of_its_bytes() -> None:
    name = default_storage.save("papers/one.txt", ContentFile(b"abc"))
    # SHA-256 of "abc": FIPS 180-2, appendix B.1.
    known = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert file_hash(default_storage, name) == known
    assert file_hash(default_storage, "papers/none.txt") is None


def rewrite_leaves(statement: str, *values: Any) -> None:
    with append_only_lifted(), connection.cursor() as cursor:
        cursor.execute(statement, values)


def test_rows_older_than_the_journal_get_their_first_leaves() -> None:
    yard = YardFactory()
    rewrite_leaves("DELETE FROM fleet_leaf WHERE model = 'fleet.yard'")
    assert any("no leaf" in each for each in faults())
    adopt(Yard, is_new=True)
    assert [each["what"] for each in leaves(yard)] == ["found"]
    assert not faults()


def test_an_upgrade_that_brings_a_column_carries_rows_over_but_none_tampered_with() -> None:
    kept, forged = YardFactory(), YardFactory()
    for yard in (kept, forged):
        told = leaves(yard)[0]
        del told["row"]["place"]
        rewrite_leaves(
            "UPDATE fleet_leaf SET document = %s WHERE model = 'fleet.yard' AND row_key = %s",
            json.dumps(told),
            str(yard.pk),
        )
    rewrite_leaves("UPDATE fleet_yard SET currency = 'XXX' WHERE id = %s", forged.pk)
    adopt(Yard)
    assert [each["what"] for each in leaves(kept)] == ["recorded", "carried"]
    assert [each["what"] for each in leaves(forged)] == ["recorded"]
    assert len(faults()) == 1
    assert f"yard {forged.pk}" in faults()[0]


def test_a_row_put_in_after_the_journal_began_is_never_adopted() -> None:
    YardFactory()
    rewrite_leaves("INSERT INTO fleet_yard (name, place, currency) VALUES ('Forged', '', '')")
    adopt(Yard)
    assert len(faults()) == 1
    assert "no leaf of the journal tells of it" in faults()[0]


def applied(app: str, *operations: Any) -> list[Any]:
    """A plan of one migration, as the signal after migrating is given it."""
    made = type("OfATest", (Migration,), {"operations": list(operations)})
    return [(made("0001_of_a_test", app), False)]


def test_a_row_that_no_step_touched_is_adopted_with_the_journal_beside_those_that_were() -> None:
    touched, untouched = YardFactory(), YardFactory()
    rewrite_leaves(
        "DELETE FROM fleet_leaf WHERE model = 'fleet.yard' AND row_key = %s", str(untouched.pk)
    )
    give_places()
    after_migrating("default", applied("fleet", CreateModel("Leaf", fields=[])))
    assert [each["what"] for each in leaves(untouched)] == ["found"]
    assert [each["what"] for each in leaves(touched)] == ["recorded"]
    assert not faults()


def test_a_row_forged_into_a_table_without_leaves_is_not_adopted_at_the_next_upgrade() -> None:
    give_places()
    rewrite_leaves("INSERT INTO fleet_yard (name, place, currency) VALUES ('Forged', '', '')")
    after_migrating("default", applied("fleet", AddField("Yard", "place", CharField())))
    assert any("no leaf of the journal tells of it" in each for each in faults())
    after_migrating("default", applied("fleet", CreateModel("Yard", fields=[])))
    assert not faults()
