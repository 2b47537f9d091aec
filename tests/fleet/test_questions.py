"""A question is worded once, and answered anew each time it is asked."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection, transaction
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.functional import SimpleLazyObject
from pytest_django import DjangoAssertNumQueries

from fleet import together
from fleet.housings import lock_housing
from fleet.models import ClampFitting, Hammer, Mounting, SuppressorHousing
from fleet.outages import lock_machine
from fleet.questions import MOST_KEYS, Question, among
from tests.builders import MONDAY
from tests.factories import HammerFactory, HousingFactory

TUESDAY = MONDAY + timedelta(days=1)

pytestmark = pytest.mark.django_db


def mounted(housing: SuppressorHousing | None = None) -> Mounting:
    return Mounting.objects.create(
        housing=housing or HousingFactory(), hammer=HammerFactory(), mounted_at=MONDAY
    )


def of_housings() -> Question[Mounting]:
    return Question(
        lambda housings: (
            Mounting.objects.filter(among("housing", housings))
            .select_related("hammer")
            .order_by("pk")
        )
    )


def counted(make: Callable[..., QuerySet[Any, Any]]) -> tuple[Question[Any], list[None]]:
    times: list[None] = []

    def noted(**given: Any) -> QuerySet[Any, Any]:
        times.append(None)
        return make(**given)

    return Question(noted), times


def test_each_who_asks_is_answered_by_what_they_ask_with() -> None:
    first, second = mounted(), mounted()
    question, made = counted(lambda housing: Mounting.objects.filter(housing=housing))
    assert question.ask(housing=first.housing_id) == [first]
    assert question.ask(housing=second.housing_id) == [second]
    assert len(made) == 1
    assert question.ask(housing=first.housing) == [first]
    assert question.ask(housing=second.housing) == [second]
    assert len(made) == 2


def test_what_changed_since_is_found() -> None:
    mounting = mounted()
    question = of_housings()
    assert question.ask(housings=[mounting.housing_id])[0].removed_at is None
    Mounting.objects.update(removed_at=TUESDAY)
    assert question.ask(housings=[mounting.housing_id])[0].removed_at == TUESDAY
    Mounting.objects.all().delete()
    assert question.first(housings=[mounting.housing_id]) is None


def test_records_come_with_those_they_name(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    mounting = mounted()
    question = of_housings()
    for _ in range(2):
        with django_assert_num_queries(1):
            (found,) = question.ask(housings=[mounting.housing_id])
            assert found.hammer.mark == mounting.hammer.mark


@pytest.mark.parametrize("many", [0, 1, 2, MOST_KEYS, MOST_KEYS + 1])
def test_as_many_keys_as_are_given_are_asked_of(many: int) -> None:
    mountings = [mounted() for _ in range(MOST_KEYS + 2)]
    question = of_housings()
    for some in (mountings[:many], mountings[-many:] if many else []):
        assert question.ask(housings=[each.housing_id for each in some]) == some


def test_moments_and_ids_are_asked_with_as_the_database_has_them() -> None:
    housing = HousingFactory()
    mounting = mounted(housing)
    since = Question(lambda moment: Mounting.objects.filter(mounted_at__lte=moment))
    assert since.ask(moment=MONDAY) == [mounting] == since.ask(moment=TUESDAY)
    by_mark = Question(lambda mark: SuppressorHousing.objects.filter(mark=mark))
    assert by_mark.ask(mark=housing.mark) == [housing]
    assert by_mark.ask(mark="none's") == []


def test_of_nothing_given_it_is_asked_as_django_does() -> None:
    mounting = mounted()
    question = Question(lambda removed_at: Mounting.objects.filter(removed_at=removed_at))
    assert question.ask(removed_at=None) == [mounting]
    assert question.ask(removed_at=TUESDAY) == []


def test_plain_values_are_found_too() -> None:
    mounting = mounted()
    question = Question(
        lambda housing: Mounting.objects.filter(housing=housing).values_list("hammer", flat=True)
    )
    for _ in range(2):
        assert question.ask(housing=mounting.housing) == [mounting.hammer_id]


def test_it_is_worded_anew_in_another_zone() -> None:
    mounted()
    question, made = counted(lambda day: Mounting.objects.filter(mounted_at__date=MONDAY.date()))
    with timezone.override("Pacific/Kiritimati"):
        question.ask(day=1)
    with timezone.override("Pacific/Niue"):
        question.ask(day=1)
    assert len(made) == 2


def test_nothing_is_asked_of_what_was_entered_a_moment_ago(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    question = of_housings()
    mounting = mounted()
    assert question.ask(housings=[mounting.housing_id]) == [mounting]
    with together.recorded_together():
        housing = HousingFactory()
        with django_assert_num_queries(0):
            assert question.ask(housings=[housing.pk]) == []
        with django_assert_num_queries(1):
            assert question.ask(housings=[housing.pk, mounting.housing_id]) == [mounting]
        new = mounted(housing)
        assert question.ask(housings=[housing.pk]) == [new]


def test_nothing_is_locked_outside_of_a_transaction(
    transactional_db: None,
) -> None:
    hammer = HammerFactory()
    with transaction.atomic():
        assert lock_machine(hammer) == hammer
    if connection.features.has_select_for_update:
        with pytest.raises(transaction.TransactionManagementError):
            lock_machine(hammer)


def test_what_is_gone_can_not_be_locked() -> None:
    gone = HammerFactory.build(pk=987_654)
    with pytest.raises(Hammer.DoesNotExist):
        lock_machine(gone)


def test_an_id_no_record_has_finds_none() -> None:
    question = Question(lambda key: ClampFitting.objects.filter(submission_id=key))
    assert question.ask(key=uuid.uuid4()) == []


def test_a_record_that_is_not_saved_is_refused() -> None:
    mounted()
    question = Question(lambda housing: Mounting.objects.filter(housing=housing))
    with pytest.raises(ValueError, match="isn't saved"):
        question.ask(housing=HousingFactory.build())


@pytest.mark.parametrize("removed_at", [None, TUESDAY])
def test_a_record_of_another_model_is_refused_whoever_asked_before(
    removed_at: datetime | None,
) -> None:
    mounting = mounted()
    question = Question(
        lambda housing, removed_at: Mounting.objects.filter(housing=housing, removed_at=removed_at)
    )
    assert bool(question.ask(housing=mounting.housing, removed_at=removed_at)) != bool(removed_at)
    question.ask(housing=mounting.housing_id, removed_at=removed_at)
    for _ in range(2):
        with pytest.raises(ValueError, match='Must be "SuppressorHousing" instance'):
            question.ask(housing=HammerFactory.build(pk=mounting.housing_id), removed_at=removed_at)


@pytest.mark.parametrize("key", [2**63, -(2**63) - 1, 10**30])
def test_a_number_greater_than_a_database_holds_finds_none(key: int) -> None:
    housing = HousingFactory()
    question = Question(lambda key: SuppressorHousing.objects.filter(pk=key))
    assert question.ask(key=housing.pk) == [housing]
    assert question.ask(key=key) == []
    with pytest.raises(SuppressorHousing.DoesNotExist), transaction.atomic():
        lock_housing(key)


def test_the_greatest_number_a_database_holds_is_asked_of_as_any_other() -> None:
    question, made = counted(lambda key: SuppressorHousing.objects.filter(pk=key))
    assert question.ask(key=1_000_000) == question.ask(key=2**63 - 1) == []
    assert len(made) == 1


def test_a_record_that_is_read_only_when_it_is_needed_is_asked_of_as_any_other() -> None:
    mounting = mounted()
    question, made = counted(lambda housing: Mounting.objects.filter(housing=housing))
    assert question.ask(housing=mounting.housing) == [mounting]
    later = SimpleLazyObject(lambda: SuppressorHousing.objects.get(pk=mounting.housing_id))
    assert question.ask(housing=later) == [mounting]
    assert len(made) == 1
