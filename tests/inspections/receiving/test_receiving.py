"""A unit is sold: its archive is made at one site, and taken in at another that is empty."""

from __future__ import annotations

import uuid
from datetime import timedelta
from hashlib import sha256
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.core.management.color import no_style
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.models import Hammer, HourReading, OutOfService, PadLot, PadPosition, SuppressorHousing
from inspections.archive.making import Options, make_archive
from inspections.models import Inspection, ReceivedUnit
from inspections.receiving.reading import NotTaken, check
from ratings import check_record
from ratings.guides import record_guide
from ratings.models import CurrentRating, LedgerEntry, LotRating, Seal
from tests.all_tables import changed, everything
from tests.builders import MONDAY, Unit, approve, count, rated_unit
from tests.conftest import LAID_DOWN, append_only_lifted
from tests.factories import (
    AuditorFactory,
    HammerFactory,
    HousingFactory,
    ManagerFactory,
    YardFactory,
)
from tests.inspections.field.sent import signed_in
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def emptied() -> None:
    """Leave a site as it is before anybody has entered anything."""
    tables = set(connection.introspection.django_table_names(only_existing=True)) - LAID_DOWN
    with append_only_lifted(), connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            # Foreign keys still to be checked would keep tables from being emptied.
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            cursor.execute("SET CONSTRAINTS ALL DEFERRED")
        for statement in connection.ops.sql_flush(no_style(), sorted(tables)):
            cursor.execute(statement)


class Sold:
    """What went out with a unit: its archive, a seal, and what its last entry came to."""

    def __init__(self, unit: Unit) -> None:
        seal, opened = make_archive(unit.housing, maker=unit.manager, options=Options())
        with opened:
            self.archive = opened.read()
        self.seal = seal.text
        self.mark, self.lot, self.hammer = unit.housing.mark, unit.lot.mark, unit.hammer.mark
        self.results = LedgerEntry.objects.filter(housing=unit.housing).latest("sequence").results
        self.site = unit.housing.yard.name


def sold_unit() -> Unit:
    """A unit with hours, a serial number and a cracked pad, about to be sold."""
    unit = rated_unit()
    Hammer.objects.filter(pk=unit.hammer.pk).update(serial_number="VH-2207", make="Own make")
    count(
        unit.housing,
        unit.manager,
        unit.lot,
        unsound={"A1": "cracked"},
        at=MONDAY + timedelta(days=1),
        hours=812.5,
    )
    return unit


@pytest.fixture
def sold() -> Sold:
    """A unit sold by a site that is gone from this database since."""
    gone = Sold(sold_unit())
    emptied()
    return gone


def upload(client: Client, archive: bytes, seal: str = "") -> str:
    """Send an archive; return the words of the page that answers."""
    sent = SimpleUploadedFile("unit.zip", archive, "application/zip")
    form = {"act": "send", "file": sent, "seal": seal}
    return words(client.post(reverse("receive-unit"), form, follow=True))


def arrival(client: Client, act: str, **changes: str) -> str:
    """Try or take what waits, as its form stands but for some fields; return the answer’s words."""
    page = client.get(reverse("receive-unit"))
    form = page.context["arrival"]
    fields = {name: str(form[name].value() or "") for name in form.fields}
    hour_ago = timezone.localtime(timezone.now() - timedelta(hours=1))
    fields["received_at"] = hour_ago.strftime("%Y-%m-%dT%H:%M")
    sent = fields | {"act": act, "digest": page.context["digest"]} | changes
    return words(client.post(reverse("receive-unit"), sent, follow=True))


def taken(sold: Sold) -> tuple[Client, ReceivedUnit]:
    """Who took a sold unit in, signed in, and the unit."""
    client, yard = signed_in(ManagerFactory()), YardFactory()
    upload(client, sold.archive, sold.seal)
    arrival(client, "take", yard=str(yard.pk))
    return client, ReceivedUnit.objects.get()


def test_it_arrives_unrated_and_out_of_service_with_its_machines_and_hours(sold: Sold) -> None:
    client, received = taken(sold)
    housing = received.housing
    assert (housing.mark, received.site, received.is_held) == (sold.mark, sold.site, True)
    assert received.sha256 == sha256(sold.archive).hexdigest()
    assert Hammer.objects.get().serial_number == "VH-2207"
    assert HourReading.objects.get().hours == 812.5
    assert housing.mountings.get().hammer.mark == sold.hammer
    assert OutOfService.objects.open().get().housing == housing
    assert not Inspection.objects.exists()
    assert not PadPosition.objects.exclude(condition="").exists()
    assert CurrentRating.objects.get(housing=housing).head.working_capacity_lbf is None
    page = words(client.get(reverse("unit", args=[housing.pk])))
    assert f"It came from {sold.site}, where it was {sold.mark}" in page
    assert "its word, not a measurement of this yard" in page


def test_its_lots_count_only_once_a_second_person_here_approved_them(sold: Sold) -> None:
    _, received = taken(sold)
    lot = PadLot.objects.get(mark=sold.lot)
    assert not LotRating.objects.in_force_by_lot([lot.pk])
    manager = ManagerFactory()
    count(received.housing, manager, lot, unsound={"A1": "cracked"}, at=timezone.now())
    assert CurrentRating.objects.get().head.working_capacity_lbf is None
    assert "nobody here saw it" in lot.bench_tests.get().note


def test_approved_and_counted_anew_it_comes_to_the_same_figures_to_the_last_digit(
    sold: Sold,
) -> None:
    _, received = taken(sold)
    lot = PadLot.objects.get(mark=sold.lot)
    approve(LotRating.objects.get(lot=lot))
    manager = ManagerFactory()
    count(received.housing, manager, lot, unsound={"A1": "cracked"}, at=timezone.now())
    # What kept it level there is this yard’s to find.
    unguided = CurrentRating.objects.get().head.results
    assert unguided["pull_lbf"] < sold.results["pull_lbf"]
    record_guide(
        submission_id=uuid.uuid4(),
        housing=received.housing,
        occurred_at=timezone.now(),
        is_guided=True,
        reason="rods seen here",
        by=manager,
    )
    now = CurrentRating.objects.get().head.results
    for name in ("pull_lbf", "working_capacity_lbf", "standard_uncertainty_lbf", "listed_lbf"):
        assert now[name] == sold.results[name]


def test_what_happened_before_is_shown_as_that_site_has_it(sold: Sold) -> None:
    client, received = taken(sold)
    page = words(client.get(reverse("received-unit", args=[received.pk])))
    assert "Ledger entry" in page
    assert "1 cracked" in page
    sent = client.get(reverse("received-archive", args=[received.pk]))
    assert sent.getvalue() == sold.archive
    paper = client.get(reverse("received-file", args=[received.pk, "papers/history.pdf"]))
    assert paper.content.startswith(b"%PDF")
    gone = client.get(reverse("received-file", args=[received.pk, "../secret_key"]))
    assert gone.status_code == 404
    report = client.get(reverse("history-report", args=[received.housing_id]))
    assert report.content.startswith(b"%PDF")


def test_a_paper_of_it_and_its_own_archive_hold_though_they_tell_of_before(sold: Sold) -> None:
    client, received = taken(sold)
    approve(LotRating.objects.get())
    count(received.housing, ManagerFactory(), PadLot.objects.get(), at=timezone.now())
    again = Sold(
        Unit(received.housing, Hammer.objects.get(), PadLot.objects.get(), ManagerFactory())
    )
    paper = client.get(reverse("history-report", args=[received.housing_id])).content
    seal = ("seal", again.seal.encode())
    assert check_record.check([("paper", paper), seal])
    assert check_record.check([("archive", again.archive), seal])


def test_trying_it_keeps_nothing(sold: Sold) -> None:
    client, yard = signed_in(ManagerFactory()), YardFactory()
    page = upload(client, sold.archive, sold.seal)
    assert "✓ It holds" in page
    before = everything()
    assert "Take it" in arrival(client, "try", yard=str(yard.pk))
    assert not changed(before)


def test_the_same_archive_twice_changes_nothing(sold: Sold) -> None:
    client, received = taken(sold)
    before = everything()
    page = upload(client, sold.archive, sold.seal)
    assert "It was taken already: nothing changed" in page
    assert not changed(before)
    assert ReceivedUnit.objects.get() == received


def test_a_mark_of_ours_is_asked_for_another(sold: Sold) -> None:
    HousingFactory(mark=sold.mark.lower())
    client, yard = signed_in(ManagerFactory()), YardFactory()
    upload(client, sold.archive)
    page = arrival(client, "take", yard=str(yard.pk))
    assert f"“{sold.mark}” is a housing of this site: give this one another mark" in page
    assert not ReceivedUnit.objects.exists()
    form = client.get(reverse("receive-unit")).context["arrival"]
    field = next(name for name in form.mark_names if "housing" in name)
    arrival(client, "take", yard=str(yard.pk), **{field: "BOUGHT-1"})
    received = ReceivedUnit.objects.get()
    assert (received.housing.mark, received.is_held) == ("BOUGHT-1", False)


def test_a_machine_that_is_here_by_its_serial_number_is_refused(sold: Sold) -> None:
    HammerFactory(mark="OURS", serial_number="vh-2207")
    page = upload(signed_in(ManagerFactory()), sold.archive)
    assert "has serial number VH-2207, and so has OURS here" in page


def test_an_archive_of_this_very_site_is_refused() -> None:
    own = Sold(sold_unit())
    page = upload(signed_in(ManagerFactory()), own.archive)
    assert f"It was given out by this site: unit {own.mark} is on record here" in page


def test_no_yard_and_a_blank_mark_are_named_at_their_fields(sold: Sold) -> None:
    client = signed_in(ManagerFactory())
    upload(client, sold.archive)
    page = client.get(reverse("receive-unit"))
    blank = dict.fromkeys(page.context["arrival"].fields, "")
    refused = words(client.post(reverse("receive-unit"), blank | {"act": "take"}))
    assert "Nothing is chosen: choose the yard it stands in" in refused
    assert "This is blank: give the mark painted on it here" in refused
    assert not SuppressorHousing.objects.exists()


@pytest.mark.parametrize(
    ("archive", "said"),
    [
        (b"", "empty"),
        (b"no ZIP at all", "it is not an archive of a unit"),
        (b"PK\x03\x04" + b"\x00" * 60, "and none of an archive is"),
    ],
)
def test_what_is_no_archive_is_refused_in_words(archive: bytes, said: str) -> None:
    assert said in upload(signed_in(ManagerFactory()), archive)


def test_a_seal_of_another_site_and_one_that_is_none_are_refused(sold: Sold) -> None:
    client = signed_in(ManagerFactory())
    assert "is no archive" not in upload(client, sold.archive, "hello")
    other = sold.seal.replace("leaves ", "leaves 9", 1)
    assert "one of them was altered" in upload(client, sold.archive, other)
    assert not SuppressorHousing.objects.exists()


def test_the_ledger_alone_is_no_unit() -> None:
    unit = rated_unit()
    options = Options(is_chain=True)
    with make_archive(unit.housing, maker=unit.manager, options=options)[1] as opened:
        chain = opened.read()
    with pytest.raises(NotTaken, match="the ledger of a unit alone"):
        check(BytesIO(chain), len(chain))


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_a_flipped_byte_is_never_taken(module_sold: bytes, data: st.DataObject) -> None:
    held = bytearray(module_sold)
    held[data.draw(st.integers(0, len(held) - 1))] ^= data.draw(st.integers(1, 255))
    with pytest.raises(NotTaken):
        check(BytesIO(bytes(held)), len(held))


@pytest.fixture(scope="module")
def module_sold(module_db: None) -> bytes:
    return Sold(sold_unit()).archive


def test_the_command_gives_tries_and_takes(tmp_path: Path) -> None:
    unit = sold_unit()
    command("give", unit.housing.mark, by=unit.manager, to=str(tmp_path))
    (archive,) = tmp_path.glob("archive-*.zip")
    seal = tmp_path / "seal.txt"
    seal.write_text(Seal.objects.latest("number").text, encoding="utf-8")
    there: dict[str, Any] = {"yard": "Inland", "seal": str(seal)}
    emptied()
    manager = ManagerFactory()
    HousingFactory(mark=unit.housing.mark, yard=YardFactory(name="Inland"))
    with pytest.raises(CommandError, match="give this one another mark"):
        command("take", str(archive), by=manager, **there)
    there["mark"] = [f"housing {unit.housing.mark}=B-1"]
    assert "Nothing was kept" in command("try", str(archive), by=manager, **there)
    assert not ReceivedUnit.objects.exists()
    assert "unrated and out of service" in command("take", str(archive), by=manager, **there)
    assert ReceivedUnit.objects.get().housing.mark == "B-1"
    assert "nothing changed" in command("take", str(archive), by=manager, **there)


def test_the_command_refuses_what_it_can_not_do(tmp_path: Path) -> None:
    manager, auditor = ManagerFactory(), AuditorFactory()
    for action, what, by, said in (
        ("give", "none", manager, "No housing is called"),
        ("take", str(tmp_path / "none.zip"), manager, "can’t be read"),
        ("take", "none.zip", auditor, "only an equipment manager"),
    ):
        with pytest.raises(CommandError, match=said):
            command(action, what, by=by)


def command(action: str, what: str, *, by: User, **more: Any) -> str:
    """What the command says."""
    out = StringIO()
    call_command("unit_archive", action, what, username=by.username, stdout=out, **more)
    return out.getvalue()
