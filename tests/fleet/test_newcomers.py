"""Nothing names what was entered a moment ago, until something does."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import Any

import pytest
from django.contrib.auth.models import Group, User
from django.core.exceptions import ValidationError
from django.db import connection, transaction
from django.db.models import Aggregate, F, Func, Max, Q
from pytest_django import DjangoAssertNumQueries

from fleet import together
from fleet.models import Hammer, Mounting, SuppressorHousing
from tests.builders import MONDAY
from tests.factories import HammerFactory, HousingFactory, ManagerFactory

pytestmark = pytest.mark.django_db


@contextmanager
def no_question_of(table: str) -> Iterator[None]:
    def refuse(execute: Callable[..., Any], sql: str, *rest: Any) -> Any:
        assert not (sql.startswith("SELECT") and table in sql), sql
        return execute(sql, *rest)

    with connection.execute_wrapper(refuse):
        yield


def mounted(housing: SuppressorHousing, hammer: Hammer) -> Mounting:
    return Mounting.objects.create(housing=housing, hammer=hammer, mounted_at=MONDAY)


def test_nothing_is_asked_of_what_a_housing_just_entered_hangs_on() -> None:
    old = HammerFactory()
    with together.recorded_together():
        housing, hammer = HousingFactory(), HammerFactory()
        with no_question_of("fleet_mounting"):
            of_it = Mounting.objects.filter(housing=housing)
            assert list(of_it.select_related("hammer")) == []
            assert of_it.first() is None
            assert of_it.count() == 0
            assert not of_it.exists()
            assert of_it.aggregate(last=Max("mounted_at")) == {"last": None}
            assert list(of_it.values_list("pk", flat=True)) == []
            assert not Mounting.objects.filter(Q(housing=housing) | Q(hammer=hammer)).exists()
            assert not Mounting.objects.filter(housing__in=[housing.pk]).exists()
            assert not Mounting.objects.filter(housing=housing, hammer=old).exists()
            assert of_it.update(removed_at=MONDAY) == 0


def test_what_was_hung_since_is_found() -> None:
    with together.recorded_together():
        housing, hammer = HousingFactory(), HammerFactory()
        mounting = mounted(housing, hammer)
        assert Mounting.objects.get(housing=housing) == mounting
        assert Mounting.objects.get(hammer__in=[hammer.pk]) == mounting
        assert Mounting.objects.filter(Q(hammer=HammerFactory()) | Q(housing=housing)).exists()


def test_what_a_change_hangs_on_it_is_found() -> None:
    mounting = mounted(HousingFactory(), HammerFactory())
    with together.recorded_together():
        by_record, by_key, saved = HammerFactory(), HammerFactory(), HammerFactory()
        here = Mounting.objects.filter(pk=mounting.pk)
        here.update(hammer=by_record)
        assert Mounting.objects.get(hammer=by_record) == mounting
        here.update(hammer_id=str(by_key.pk))
        assert Mounting.objects.get(hammer=by_key) == mounting
        mounting.hammer = saved
        mounting.save()
        assert Mounting.objects.get(hammer=saved) == mounting


def test_what_an_expression_names_is_asked_for() -> None:
    mounting = mounted(HousingFactory(), HammerFactory())
    with together.recorded_together():
        hammer = HammerFactory()
        Mounting.objects.filter(pk=mounting.pk).update(hammer=F("hammer_id") * 0 + hammer.pk)
        assert Mounting.objects.get(hammer=hammer) == mounting


def test_what_is_not_of_it_is_asked_for() -> None:
    mounting = mounted(HousingFactory(), HammerFactory())
    with together.recorded_together():
        housing, hammer = HousingFactory(), HammerFactory()
        assert Mounting.objects.exclude(housing=housing).get() == mounting
        either = Q(housing=housing) | Q(hammer=mounting.hammer)
        assert Mounting.objects.get(either) == mounting
        assert Mounting.objects.get(~Q(hammer=hammer)) == mounting
        every = Mounting.objects.order_by()
        union = every.filter(housing=housing).union(every)
        assert list(union) == [mounting]


def test_of_what_was_undone_all_is_asked_for(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    with together.recorded_together():
        with suppress(ValidationError), together.all_or_nothing():
            housing = HousingFactory()
            raise ValidationError("It can't be.")
        with django_assert_num_queries(1):
            assert not Mounting.objects.filter(housing_id=housing.pk).exists()


def test_rows_of_an_undone_block_are_asked_for_again(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    with together.recorded_together():
        housing, hammer = HousingFactory(), HammerFactory()
        with transaction.atomic():
            mounted(housing, hammer)
            transaction.set_rollback(True)
        with django_assert_num_queries(1):
            assert not Mounting.objects.filter(housing=housing).exists()


def test_of_a_key_that_was_given_all_is_asked_for(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    with together.recorded_together():
        hammer = HammerFactory(pk=987_654)
        with django_assert_num_queries(1):
            assert not Mounting.objects.filter(hammer=hammer).exists()


def test_a_row_in_the_way_of_a_new_one_is_no_newcomer() -> None:
    person = ManagerFactory()
    role = Group.objects.get(name="equipment manager")
    with together.recorded_together():
        User.objects.bulk_create(
            [User(username=person.username, email="b@yard.example")],
            update_conflicts=True,
            unique_fields=["username"],
            update_fields=["email"],
        )
        assert User.groups.through.objects.get(user_id=person.pk).group == role


def test_a_function_of_all_rows_gives_a_row_though_there_is_none() -> None:
    with together.recorded_together():
        of_it = Mounting.objects.filter(housing=HousingFactory()).order_by()
        assert list(of_it.values_list(Func("pk", function="COUNT"))) == [(0,)]
        hammer = HammerFactory()
        key = of_it.values(key=Func("pk", template=f"COUNT(%(expressions)s) + {hammer.pk}"))
        assert Hammer.objects.get(pk__in=key) == hammer


def test_what_an_aggregate_is_of_no_rows_is_asked_for_where_it_is_not_known() -> None:
    class Many(Aggregate):
        function = "COUNT"
        empty_result_set_value = NotImplemented

    with together.recorded_together():
        of_it = Mounting.objects.filter(housing=HousingFactory())
        assert of_it.aggregate(many=Many("pk")) == {"many": 0}
