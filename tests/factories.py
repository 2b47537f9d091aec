from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any, TypeVar

from django.contrib.auth.models import Group, User
from django.db.models import Model
from factory.declarations import PostGeneration, Sequence, SubFactory
from factory.django import DjangoModelFactory, Password

from fleet.housings import enter_housing
from fleet.models import Clamp, Hammer, PadLot, PowerPack, SuppressorHousing, Yard
from fleet.models.clamp import HELD_BY_COLUMN
from fleet.roles import AUDITOR, DISPATCHER, MANAGER
from ratings.models import Gauge, LoadIndicator, ReferencePiece, Tape, TestStand, Thermometer

Row = TypeVar("Row", bound=Model)


class RowFactory(DjangoModelFactory[Row]):
    """A factory that says of what type the row is that a call of it makes."""

    class Meta:
        abstract = True

    if TYPE_CHECKING:

        def __new__(cls, **given: Any) -> Row: ...  # type: ignore[misc]  # as its metaclass does


class UserFactory(RowFactory[User]):
    class Meta:
        model = User
        skip_postgeneration_save = True

    username = Sequence(lambda number: f"person{number}")
    first_name = "Pat"
    last_name = Sequence(lambda number: f"Number {number}")
    password = Password("line-pull-test")


class ManagerFactory(UserFactory):
    role_group = PostGeneration(lambda user, *_: _join(user, MANAGER))


class DispatcherFactory(UserFactory):
    role_group = PostGeneration(lambda user, *_: _join(user, DISPATCHER))


class AuditorFactory(UserFactory):
    role_group = PostGeneration(lambda user, *_: _join(user, AUDITOR))


def _join(user: User, role: str) -> None:
    user.groups.add(Group.objects.get(name=role))


class YardFactory(RowFactory[Yard]):
    class Meta:
        model = Yard

    name = Sequence(lambda number: f"Yard {number}")


class HammerFactory(RowFactory[Hammer]):
    class Meta:
        model = Hammer

    yard = SubFactory(YardFactory)
    mark = Sequence(lambda number: f"V-{number}")


class ClampFactory(RowFactory[Clamp]):
    """A clamp whose jaws hold every kind of pile."""

    class Meta:
        model = Clamp

    yard = SubFactory(YardFactory)
    mark = Sequence(lambda number: f"C-{number}")

    @classmethod
    def _create(cls, model_class: type[Clamp], *args: Any, **kwargs: Any) -> Clamp:
        return model_class._default_manager.create(**dict.fromkeys(HELD_BY_COLUMN, True) | kwargs)


class PowerPackFactory(RowFactory[PowerPack]):
    class Meta:
        model = PowerPack

    yard = SubFactory(YardFactory)
    mark = Sequence(lambda number: f"P-{number}")


class HousingFactory(RowFactory[SuppressorHousing]):
    """A housing with its pad positions, entered as the site enters it."""

    class Meta:
        model = SuppressorHousing

    yard = SubFactory(YardFactory)
    mark = Sequence(lambda number: f"S-{number}")
    positions_per_side = 4
    design_travel_in = 8.0

    @classmethod
    def _create(
        cls, model_class: type[SuppressorHousing], *args: Any, **kwargs: Any
    ) -> SuppressorHousing:
        return enter_housing(model_class(**kwargs))


class PadLotFactory(RowFactory[PadLot]):
    class Meta:
        model = PadLot

    mark = Sequence(lambda number: f"LOT-{number}")


class TestStandFactory(RowFactory[TestStand]):
    class Meta:
        model = TestStand

    yard = SubFactory(YardFactory)
    name = Sequence(lambda number: f"Stand {number}")
    bore_in = 4.0
    rod_in = 0.0


class GaugeFactory(RowFactory[Gauge]):
    """A gauge in calibration on any day a test speaks of."""

    class Meta:
        model = Gauge

    yard = SubFactory(YardFactory)
    mark = Sequence(lambda number: f"G-{number}")
    span_psi = 2000.0
    grade = "2A"
    resolution_psi = 1.0
    certificate_number = Sequence(lambda number: f"CAL-{number}")
    calibrated_on = date(2020, 1, 1)
    due_on = date(2035, 1, 1)


class TapeFactory(RowFactory[Tape]):
    class Meta:
        model = Tape

    yard = SubFactory(YardFactory)
    mark = Sequence(lambda number: f"T-{number}")
    resolution_in = 0.0625


class ThermometerFactory(RowFactory[Thermometer]):
    class Meta:
        model = Thermometer

    yard = SubFactory(YardFactory)
    mark = Sequence(lambda number: f"TH-{number}")


class ReferencePieceFactory(RowFactory[ReferencePiece]):
    class Meta:
        model = ReferencePiece

    yard = SubFactory(YardFactory)
    mark = Sequence(lambda number: f"REF-{number}")
    kind = "spring"


class LoadIndicatorFactory(RowFactory[LoadIndicator]):
    """A load cell in calibration on any day a pull speaks of."""

    class Meta:
        model = LoadIndicator

    yard = SubFactory(YardFactory)
    mark = Sequence(lambda number: f"LC-{number}")
    kind = "load cell"
    accuracy_pct = 1.0
    resolution_lbf = 20.0
    certificate_number = Sequence(lambda number: f"CAL-LC-{number}")
    calibrated_on = date(2020, 1, 1)
    due_on = date(2035, 1, 1)
