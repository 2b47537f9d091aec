"""A disk that is full is told in words, and leaves nothing behind."""

from __future__ import annotations

import errno
import sqlite3
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import DatabaseError, OperationalError, connections
from django.test import Client
from django.urls import reverse

from fleet.aside import COPY, NoRoom, is_full, on_a_copy
from fleet.models import Yard
from fleet.numbers import Decimals
from inspections.exchange.incoming import try_register
from inspections.exchange.rows import parsed
from inspections.models import SheetDraft
from tests.factories import ManagerFactory, YardFactory
from tests.inspections.sheets.sheet_makers import confirmed, kept
from tests.site.html_form import words


@pytest.mark.parametrize(
    ("trouble", "full"),
    [
        (OSError(errno.ENOSPC, "No space left on device"), True),
        (OperationalError("database or disk is full"), True),
        (sqlite3.OperationalError("database or disk is full"), True),
        (OSError(errno.EACCES, "Permission denied"), False),
        (DatabaseError("no such table"), False),
        (ValidationError("disk is full"), False),
    ],
)
def test_a_full_disk_is_told_from_other_troubles(trouble: Exception, full: bool) -> None:
    assert is_full(trouble) is full


@pytest.mark.django_db(transaction=True)
def test_a_disk_that_fills_while_the_records_are_copied_leaves_nothing_behind(
    tmp_path: Path,
) -> None:
    real = connections["default"]
    if real.vendor != "sqlite":
        pytest.skip("elsewhere nothing is copied")

    def fills(path: Any) -> Any:
        Path(path).write_bytes(b"x" * 100)
        raise sqlite3.OperationalError("database or disk is full")

    with (
        patch("fleet.aside._folder_of", return_value=tmp_path),
        patch("fleet.aside.sqlite3.connect", fills),
        pytest.raises(NoRoom, match="disk that holds the records is full"),
        on_a_copy(),
    ):
        pass
    assert list(tmp_path.iterdir()) == []
    assert connections["default"] is real
    assert not getattr(real, COPY, False)


@pytest.mark.django_db
def test_a_disk_that_fills_at_a_row_is_no_fault_of_the_row() -> None:
    rows = parsed({"yards": [(1, {"name": "North", "place": "Quay"}, Decimals.POINT)]})
    with (
        patch(
            "inspections.exchange.incoming.put_on_record",
            side_effect=OperationalError("database or disk is full"),
        ),
        pytest.raises(NoRoom),
    ):
        try_register(rows, ManagerFactory())
    assert not Yard.objects.filter(name="North").exists()


@pytest.mark.django_db
def test_a_sheet_tried_on_a_full_disk_says_so_and_waits(
    manager: User, manager_client: Client
) -> None:
    draft = kept("Unit\tDate\tHours\nH-1\t2025-03-01\t90\n", YardFactory(), owner=manager)
    confirmed(draft)
    url = reverse("sheet-rehearsal", args=[draft.pk])
    full = OperationalError("database or disk is full")
    with patch("inspections.sheets.rehearsal._tried", side_effect=[NoRoom(), full]):
        page = manager_client.post(url, follow=True)
    assert "The disk that holds the records is full: nothing was tried" in words(page)
    assert SheetDraft.objects.filter(pk=draft.pk).exists()
