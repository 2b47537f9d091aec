"""What nobody fetches or takes stays a week, whether its row is there still or not."""

from __future__ import annotations

import os
import time
from io import StringIO
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.utils import timezone
from pytest_django import Settings

from fleet.models import LongWork
from fleet.numbers import Decimals
from inspections.exchange import long_register
from tests.factories import ManagerFactory

pytestmark = pytest.mark.django_db
CLEARED = "Files that nobody came for, and were cleared: {}."


@pytest.fixture
def folder(settings: Settings, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


@pytest.fixture
def waiting(folder: Path) -> list[Path]:
    """An export, a register tried, and a unit's record that was sent."""
    by: User = ManagerFactory()
    register = long_register.keep(by, {"yards": [(1, {"name": "Kelder"}, Decimals.POINT)]})
    assert long_register.waiting(by, register) is not None
    for name in ("exports/7.xlsx", f"imports/unit-{by.pk}.zip"):
        default_storage.save(name, ContentFile(b"much"))
    return [each for each in folder.rglob("*") if each.is_file()]


def cleared() -> str:
    out = StringIO()
    call_command("left_files", stdout=out)
    return out.getvalue().strip()


@pytest.mark.parametrize(("days", "many"), [(6.9, 0), (7.1, 3)])
def test_what_nobody_came_for_is_cleared_after_a_week(
    waiting: list[Path], days: float, many: int
) -> None:
    at = time.time() - 86_400 * days
    for each in waiting:
        os.utime(each, (at, at))
    assert cleared() == CLEARED.format(many)
    assert [each.exists() for each in waiting] == [not many] * 3


def test_a_register_whose_work_still_waits_is_not_cleared(waiting: list[Path]) -> None:
    at = time.time() - 86_400 * 8
    for each in waiting:
        os.utime(each, (at, at))
    by = User.objects.get()
    long_register.begin(by, long_register.TAKE, "", {})
    assert cleared() == CLEARED.format(2)
    assert default_storage.exists(long_register.WAITING.format(by.pk))
    LongWork.objects.update(ended_at=timezone.now())
    assert cleared() == CLEARED.format(1)


def test_where_nothing_ever_waited_nothing_is_cleared(folder: Path) -> None:
    assert cleared() == CLEARED.format(0)
