from __future__ import annotations

from datetime import date
from typing import Any

import factory
from django.contrib.auth.models import Group, User
from factory.django import DjangoModelFactory

from fleet.housings import enter_housing
from fleet.models import Hammer, PadLot, SuppressorHousing, Yard
from fleet.roles import AUDITOR, DISPATCHER, MANAGER
from ratings.models import Gauge, Tape, TestStand


class UserFactory(DjangoModelFactory):
    class Meta:
        model = User
        skip_postgeneration_save = True

    username = factory.Sequence(lambda number: f"person{number}")
    first_name = "Pat"
    last_name = factory.Sequence(lambda number: f"Number {number}")
    password = factory.django.Password("line-pull-test")


class ManagerFactory(UserFactory):
    role_group = factory.PostGeneration(lambda user, *_: _join(user, MANAGER))
    is_staff = True


class DispatcherFactory(UserFactory):
    role_group = factory.PostGeneration(lambda user, *_: _join(user, DISPATCHER))


class AuditorFactory(UserFactory):
    role_group = factory.PostGeneration(lambda user, *_: _join(user, AUDITOR))


def _join(user: User, role: str) -> None:
    user.groups.add(Group.objects.get(name=role))


class YardFactory(DjangoModelFactory):
    class Meta:
        model = Yard

    name = factory.Sequence(lambda number: f"Yard {number}")


class HammerFactory(DjangoModelFactory):
    class Meta:
        model = Hammer

    yard = factory.SubFactory(YardFactory)
    mark = factory.Sequence(lambda number: f"V-{number}")


class HousingFactory(DjangoModelFactory):
    """A housing with its pad positions, entered as the site enters it."""

    class Meta:
        model = SuppressorHousing

    yard = factory.SubFactory(YardFactory)
    mark = factory.Sequence(lambda number: f"S-{number}")
    positions_per_side = 4
    design_travel_in = 8.0

    @classmethod
    def _create(cls, model_class: type, *args: Any, **kwargs: Any) -> SuppressorHousing:
        return enter_housing(model_class(*args, **kwargs))


class PadLotFactory(DjangoModelFactory):
    class Meta:
        model = PadLot

    mark = factory.Sequence(lambda number: f"LOT-{number}")


class TestStandFactory(DjangoModelFactory):
    class Meta:
        model = TestStand

    yard = factory.SubFactory(YardFactory)
    name = factory.Sequence(lambda number: f"Stand {number}")
    bore_in = 4.0
    rod_in = 0.0


class GaugeFactory(DjangoModelFactory):
    """A gauge in calibration on any day a test speaks of."""

    class Meta:
        model = Gauge

    yard = factory.SubFactory(YardFactory)
    mark = factory.Sequence(lambda number: f"G-{number}")
    span_psi = 2000.0
    grade = "2A"
    resolution_psi = 1.0
    certificate_number = factory.Sequence(lambda number: f"CAL-{number}")
    calibrated_on = date(2020, 1, 1)
    due_on = date(2035, 1, 1)


class TapeFactory(DjangoModelFactory):
    class Meta:
        model = Tape

    yard = factory.SubFactory(YardFactory)
    mark = factory.Sequence(lambda number: f"T-{number}")
    resolution_in = 0.0625
