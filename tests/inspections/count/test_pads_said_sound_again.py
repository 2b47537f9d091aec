"""A pad heals only by a new one, or by a reason and a second look."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from fleet.numbers import Decimals
from inspections.count.newest_facts import settle
from inspections.count.preview import preview_inspection
from inspections.count.replacement import PadFitted, sign_replacement
from inspections.count.second_look import pads_to_look_at, second_looks_wanted, sign_second_look
from inspections.count.signing import Correction, Seen, Signed, sign_inspection
from inspections.count.submission import Submission
from inspections.exchange.incoming import take_register
from inspections.exchange.outgoing import register_rows
from inspections.exchange.reading import Lines
from inspections.exchange.rows import parsed
from inspections.exchange.tables import BY_NAME
from inspections.models import Inspection, PadCount, SecondLook
from ratings.ledger.differences import differences
from ratings.ledger.posting import Cause, post
from ratings.models import LedgerEntry
from tests.all_tables import changed, everything
from tests.builders import MONDAY, Unit, count, pads, rated_unit, receive
from tests.factories import ManagerFactory
from tests.site.html_form import error_at, words

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def unit() -> Unit:
    """A unit whose A3 was found swollen."""
    unit = rated_unit()
    count(unit.housing, unit.manager, unit.lot, unsound={"A3": "swollen"}, at=MONDAY + DAY)
    return unit


def all_sound(unit: Unit, days: int = 2, **more: object) -> Signed:
    more = {"sound_again_reason": "Only dirt"} | more
    return sign_inspection(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(
            seen_at=MONDAY + days * DAY,
            pads=pads(unit.housing, unit.lot),
            travel_in=6.0,
            **more,  # type: ignore[arg-type]
        ),
        by=unit.manager,
    )


def look(signed: Signed, *, is_agreed: bool = True, reason: str = "Edge was paint") -> SecondLook:
    return sign_second_look(
        submission_id=uuid.uuid4(),
        inspection=signed.inspection,
        is_agreed=is_agreed,
        reason=reason,
        by=signed.inspection.second_look_by or ManagerFactory(),
    )


def condition(unit: Unit, side: str = "A", number: int = 3) -> str:
    return str(unit.housing.positions.get(side=side, number=number).condition)


def pull_lbf(unit: Unit) -> float | None:
    return LedgerEntry.objects.filter(housing=unit.housing).latest("sequence").pull_lbf


def test_a_count_alone_heals_no_pad(unit: Unit) -> None:
    before = pull_lbf(unit)
    signed = all_sound(unit, sound_again_reason="Only dirt")
    assert condition(unit) == "swollen"
    assert pull_lbf(unit) == before
    assert "A3 swollen" in signed.cautions[0]


@pytest.mark.parametrize("reason", ["", " \u200b "])
def test_a_pad_said_to_be_sound_again_without_a_reason_is_not_signed(
    unit: Unit, reason: str
) -> None:
    before = everything()
    with pytest.raises(ValidationError) as refused:
        all_sound(unit, sound_again_reason=reason)
    assert "A3 swollen when last seen" in refused.value.message_dict["sound_again_reason"][0]
    assert changed(before) == set()


def test_what_waits_names_the_pad(unit: Unit) -> None:
    all_sound(unit)
    (found,) = second_looks_wanted()
    assert pads_to_look_at(found) == "A3 swollen"


def test_of_two_counts_in_one_minute_the_one_that_calls_the_pad_sound_waits(unit: Unit) -> None:
    at = MONDAY + 2 * DAY
    count(unit.housing, unit.manager, unit.lot, unsound={"A3": "swollen"}, at=at)
    says_sound = all_sound(unit)
    assert list(second_looks_wanted()) == [says_sound.inspection]


def test_a_second_look_that_agrees_heals_it_and_keeps_what_it_was_in_view(unit: Unit) -> None:
    before = pull_lbf(unit)
    second = ManagerFactory()
    signed = all_sound(unit, sound_again_reason="Only dirt", second_look_by=second.pk)
    look(signed)
    assert condition(unit) == "sound"
    position = unit.housing.positions.get(side="A", number=3)
    assert (position.was, position.said_sound_at) == ("swollen", None)
    after = pull_lbf(unit)
    assert before is not None
    assert after is not None
    assert after > before
    entry = LedgerEntry.objects.filter(housing=unit.housing).latest("sequence")
    assert "A3 swollen" in entry.cause_words
    assert "“Only dirt”" in entry.cause_words
    last = LedgerEntry.objects.get(housing=unit.housing, sequence=entry.sequence - 1)
    assert any("sound again with no new pad" in line for line in differences(last, entry, "us"))


def test_a_second_look_that_disagrees_leaves_it_and_waits_no_more(unit: Unit) -> None:
    signed = all_sound(unit)
    assert list(second_looks_wanted()) == [signed.inspection]
    look(signed, is_agreed=False)
    assert condition(unit) == "swollen"
    assert not second_looks_wanted().exists()


def test_whoever_signed_the_count_cannot_look_again(unit: Unit) -> None:
    signed = all_sound(unit)
    with pytest.raises(ValidationError, match="another person"):
        sign_second_look(
            submission_id=uuid.uuid4(),
            inspection=signed.inspection,
            is_agreed=True,
            reason="Looked twice",
            by=unit.manager,
        )
    with pytest.raises(ValidationError, match="choose another person"):
        all_sound(unit, second_look_by=unit.manager.pk)


def test_only_whoever_was_chosen_signs_the_second_look(unit: Unit) -> None:
    signed = all_sound(unit, second_look_by=ManagerFactory().pk)
    with pytest.raises(ValidationError, match="was chosen to look"):
        sign_second_look(
            submission_id=uuid.uuid4(),
            inspection=signed.inspection,
            is_agreed=True,
            reason="Looked",
            by=ManagerFactory(),
        )


def test_a_second_look_wants_words(unit: Unit) -> None:
    with pytest.raises(ValidationError, match="say what you saw"):
        look(all_sound(unit), reason=" ")


def test_a_new_pad_recorded_late_heals_without_a_second_look(unit: Unit) -> None:
    signed = all_sound(unit, days=3)
    receive(unit.lot, unit.manager, 1)
    sign_replacement(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=MONDAY + 2 * DAY,
        pads=[PadFitted("A", 3, unit.lot.pk)],
        by=unit.manager,
    )
    position = unit.housing.positions.get(side="A", number=3)
    assert (position.condition, position.was) == ("sound", "")
    with pytest.raises(ValidationError, match="waits for a second look any more"):
        look(signed)


def test_a_late_record_of_a_crack_asks_for_a_second_look_at_a_newer_count(unit: Unit) -> None:
    signed = count(
        unit.housing, unit.manager, unit.lot, unsound={"A3": "swollen"}, at=MONDAY + 9 * DAY
    )
    assert not signed.cautions
    count(unit.housing, unit.manager, unit.lot, unsound={"B1": "cracked"}, at=MONDAY + 5 * DAY)
    assert condition(unit, "B", 1) == "cracked"
    assert list(second_looks_wanted()) == [signed.inspection]


def test_a_correction_heals_no_pad_by_itself(unit: Unit) -> None:
    wrong = Inspection.objects.filter(housing=unit.housing).latest("seen_at")
    corrected = sign_inspection(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(seen_at=wrong.seen_at, pads=pads(unit.housing, unit.lot), travel_in=6.0),
        by=unit.manager,
        correction=Correction("Wrong pad", inspection=wrong),
    )
    assert condition(unit) == "swollen"
    look(corrected)
    assert condition(unit) == "sound"


def test_a_correction_that_counts_nothing_heals_no_pad(unit: Unit) -> None:
    wrong = Inspection.objects.filter(housing=unit.housing).latest("seen_at")
    sign_inspection(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(seen_at=wrong.seen_at, pads=[], travel_in=6.0),
        by=unit.manager,
        correction=Correction("Not counted", inspection=wrong),
    )
    assert condition(unit) == "swollen"


def test_what_was_recorded_before_the_rule_goes_on_counting(unit: Unit) -> None:
    signed = all_sound(unit)
    row = Inspection.objects.get(pk=signed.inspection.pk)
    later = Inspection(
        **{
            field.attname: getattr(row, field.attname)
            for field in Inspection._meta.concrete_fields
            if field.attname not in ("id", "submission_id")
        }
    )
    later.submission_id, later.is_before_second_looks = uuid.uuid4(), True
    later.seen_at += DAY
    later.save()
    PadCount.objects.bulk_create(
        PadCount(inspection=later, side=pad.side, number=pad.number, condition="sound", lot=pad.lot)
        for pad in row.pads.all()
    )
    settle(unit.housing)
    cause = Cause(Cause.PAD_COUNT, "Counted before the rule", later.pk)
    post([unit.housing], cause=cause, occurred_at=later.seen_at, by=unit.manager)
    count(unit.housing, unit.manager, unit.lot, at=MONDAY + 9 * DAY)
    assert condition(unit) == "sound"


def test_every_other_position_is_sound_leaves_out_those_found_unsound(
    unit: Unit, client: Client
) -> None:
    client.force_login(unit.manager)
    page = client.get(reverse("count-pads", args=[unit.housing.pk]))
    form = page.context["form"]
    given = {
        "submission_id": form["submission_id"].value(),
        "based_on": form["based_on"].value(),
        "seen_at": "2026-03-20T10:00",
        "travel_in": "6",
        "rest": "sound",
    }
    refused = client.post(reverse("count-pads", args=[unit.housing.pk]), given)
    assert "A3" in words(refused)
    assert condition(unit) == "swollen"
    healed = given | {"condition-A3": "sound"}
    unexplained = client.post(reverse("count-pads", args=[unit.housing.pk]), healed)
    assert "A3 swollen when last seen" in error_at(unexplained, "sound_again_reason")
    signed = client.post(
        reverse("count-pads", args=[unit.housing.pk]),
        healed | {"sound_again_reason": "Only dirt"},
        follow=True,
    )
    assert "A3 swollen: said to be sound again, with no new pad on record" in words(signed)
    assert "waits for a second look" in words(signed)


@pytest.mark.parametrize("days", [-1, 0, 5])
def test_a_preview_is_what_signing_gives_late_records_too(unit: Unit, days: int) -> None:
    seen = Seen(
        seen_at=MONDAY + days * DAY,
        pads=pads(unit.housing, unit.lot, {"B2": "missing"}),
        travel_in=4.5,
        sound_again_reason="Only dirt",
    )
    foreseen = preview_inspection(housing=unit.housing, seen=seen, by=unit.manager)
    records = Inspection.objects.count()
    sign_inspection(
        housing=unit.housing, submission=Submission(uuid.uuid4()), seen=seen, by=unit.manager
    )
    assert records + 1 == Inspection.objects.count()
    entry = LedgerEntry.objects.filter(housing=unit.housing).latest("sequence")
    assert foreseen.rating.pull_lbf == entry.pull_lbf
    assert foreseen.rating.working_capacity_lbf == entry.working_capacity_lbf
    assert foreseen.rating.sound_pads == entry.sound_pads


def test_the_second_look_is_signed_on_its_page(unit: Unit, client: Client) -> None:
    signed = all_sound(unit, sound_again_reason="Only dirt")
    page = reverse("second-look", args=[signed.inspection.pk])
    client.force_login(unit.manager)
    assert "You signed this inspection yourself" in words(client.get(page))
    client.force_login(ManagerFactory())
    form = client.get(page).context["form"]
    given = {"submission_id": form["submission_id"].value(), "reason": "Pried at it"}
    assert "Nothing was saved" in words(client.post(page, given))
    client.post(page, given | {"is_agreed": "yes"})
    assert condition(unit) == "sound"


def test_a_second_look_at_what_waits_no_more_is_refused_in_words(
    unit: Unit, client: Client
) -> None:
    signed = all_sound(unit)
    look(signed)
    client.force_login(ManagerFactory())
    sent = {"submission_id": uuid.uuid4(), "is_agreed": "True", "reason": "Edge was paint"}
    page = client.post(reverse("second-look", args=[signed.inspection.pk]), sent).content.decode()
    assert "Nothing was saved." in page


def test_a_second_look_goes_out_with_the_register_and_comes_in_as_words_that_sign_nothing(
    unit: Unit,
) -> None:
    signed = all_sound(unit)
    look(signed, reason="Edge was paint")
    [row] = [
        dict(zip(BY_NAME["counts"].header, each, strict=True))
        for each in register_rows()["counts"]
        if "sound" in each
    ]
    assert (row["second_look"], row["second_look_reason"]) == ("sound", "Edge was paint")
    assert row["second_look_by"]
    names = "kind", "sound_again_reason", "second_look", "second_look_by", "second_look_reason"
    told = {name: str(row[name]) for name in names}
    told |= {"seen_at": (MONDAY + 2 * DAY).isoformat(), "travel_in": "6"}
    other = rated_unit()
    count(other.housing, other.manager, other.lot, unsound={"A3": "swollen"}, at=MONDAY + DAY)
    pads_seen = [(s, n, "sound", other.lot.mark) for s, n in other.housing.position_keys]
    given: Lines = {
        "counts": [
            (1, told | {"count": "C1", "housing": other.housing.mark}, Decimals.POINT),
        ],
        "pads": [
            (
                line,
                {"count": "C1", "side": s, "number": str(n), "condition": c, "lot": lot},
                Decimals.POINT,
            )
            for line, (s, n, c, lot) in enumerate(pads_seen, start=1)
        ],
    }
    assert not take_register(parsed(given), other.manager).refused
    taken = other.housing.inspections.latest("pk")
    assert "Second look, as the file has it: sound, by " in taken.note
    assert not SecondLook.objects.filter(inspection=taken).exists()
    assert condition(other) == "swollen"
