from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from fleet.models import HousingGuide, SuppressorHousing
from fleet.quantities import pull_words
from ratings.guides import record_guide
from ratings.ledger.differences import differences
from ratings.ledger.posting import Cause
from ratings.models import CurrentRating, LedgerEntry
from tests.all_tables import changed, everything
from tests.builders import MONDAY, Unit, rated_unit
from tests.factories import HousingFactory, ManagerFactory
from tests.site.html_form import words

pytestmark = pytest.mark.django_db
TUESDAY = MONDAY + timedelta(days=1)
RODS = "Two rods, straight and free"


def say(housing: SuppressorHousing, is_guided: bool = True, **more: Any) -> HousingGuide:
    plain: dict[str, Any] = {
        "submission_id": uuid.uuid4(),
        "reason": RODS,
        "occurred_at": TUESDAY,
        "by": ManagerFactory(),
    }
    return record_guide(housing=housing, is_guided=is_guided, **plain | more)


def in_force(housing: SuppressorHousing) -> HousingGuide | None:
    return HousingGuide.objects.in_force_by_housing([housing.pk]).get(housing.pk)


def head(unit: Unit) -> LedgerEntry:
    return CurrentRating.objects.get(housing=unit.housing).head


def form(unit: Unit, **changes: str) -> dict[str, str]:
    given = {
        "submission_id": str(uuid.uuid4()),
        "is_guided": "yes",
        "reason": RODS,
        "occurred_at": "2026-03-03T09:00",
    }
    return given | changes


def test_nothing_holds_of_a_housing_nobody_spoke_of() -> None:
    assert in_force(HousingFactory()) is None


def test_the_latest_by_when_it_became_so_holds_whatever_was_recorded_last() -> None:
    housing = HousingFactory()
    bent = say(housing, is_guided=False, occurred_at=TUESDAY)
    say(housing, is_guided=True, occurred_at=MONDAY)
    assert in_force(housing) == bent


def test_of_one_moment_the_last_recorded_holds() -> None:
    housing = HousingFactory()
    say(housing, is_guided=True)
    later = say(housing, is_guided=False)
    assert in_force(housing) == later


def test_what_was_corrected_holds_no_more_though_it_is_later() -> None:
    housing = HousingFactory()
    wrong = say(housing, is_guided=True, occurred_at=TUESDAY)
    right = say(housing, is_guided=False, occurred_at=MONDAY, corrects=wrong)
    assert in_force(housing) == right


def test_each_housing_has_its_own() -> None:
    guided, other = HousingFactory(), HousingFactory()
    held = say(guided)
    found = HousingGuide.objects.in_force_by_housing([guided.pk, other.pk])
    assert found == {guided.pk: held}


def lopsided() -> Unit:
    """Four sound pads on side A, two on side B."""
    return rated_unit(unsound={"B1": "cracked", "B2": "cracked"}, is_guided=False)


def test_not_guided_twice_the_weaker_side_counts_and_guided_both() -> None:
    unit = lopsided()
    tipped = head(unit)
    # 2 × 2 pads × 1,000 lbf/in × 6 in, less what is off for a quick test.
    assert tipped.pull_lbf is not None
    one_pad_lbf = tipped.pull_lbf / 4
    assert tipped.results["weaker_side"] == "B"
    say(unit.housing)
    level = head(unit)
    assert level.pull_lbf == pytest.approx(6 * one_pad_lbf)
    assert level.inputs["is_guided"] is True
    say(unit.housing, is_guided=False, reason="Rod bent", occurred_at=TUESDAY + timedelta(days=1))
    assert head(unit).pull_lbf == tipped.pull_lbf
    assert differences(level, head(unit), "us") == ["sides: guided → not guided"]


def test_said_again_it_says_only_why() -> None:
    unit = rated_unit(is_guided=False)
    say(unit.housing)
    before = head(unit)
    say(unit.housing, reason="Looked at again", occurred_at=TUESDAY + timedelta(days=1))
    assert differences(before, head(unit), "us") == ["sides still guided: Looked at again"]


def test_the_form_tells_what_each_answer_does_to_the_rating(manager_client: Client) -> None:
    unit = lopsided()
    page = words(manager_client.get(reverse("guide", args=[unit.housing.pk])))
    not_guided = pull_words(head(unit).pull_lbf, "us", listed_lbf=40_000.0)
    say(unit.housing)
    guided = pull_words(head(unit).pull_lbf, "us", listed_lbf=40_000.0)
    assert guided != not_guided
    assert page.index(f"guided {guided}") < page.index(f"not guided {not_guided}")


def test_the_unit_s_page_says_that_twice_the_weaker_side_counts(auditor_client: Client) -> None:
    unit = lopsided()
    url = reverse("unit", args=[unit.housing.pk])
    assert "as far as anybody has said; twice side B counts" in words(auditor_client.get(url))
    say(unit.housing)
    assert "twice side B counts" not in words(auditor_client.get(url))


def test_it_posts_an_entry_that_names_it() -> None:
    unit = rated_unit(is_guided=False)
    recorded = say(unit.housing)
    entry = head(unit)
    assert (entry.cause, entry.cause_record) == (Cause.GUIDE, recorded.pk)
    assert entry.occurred_at == TUESDAY
    assert entry.cause_words == f"Housing {unit.housing} recorded as guided: {RODS}"
    assert entry.contents["provenance"]["guide"] == {"record": recorded.pk, "reason": RODS}


def test_what_is_older_than_what_holds_posts_nothing() -> None:
    unit = rated_unit(is_guided=False)
    say(unit.housing, occurred_at=TUESDAY)
    sequence = head(unit).sequence
    say(unit.housing, is_guided=False, occurred_at=MONDAY)
    assert head(unit).sequence == sequence


def test_a_correction_names_the_entry_it_corrects() -> None:
    unit = rated_unit(is_guided=False)
    wrong = say(unit.housing)
    entry = head(unit)
    say(unit.housing, is_guided=False, reason="Rods not fitted", corrects=wrong)
    assert head(unit).corrects == entry


def test_a_second_copy_changes_nothing() -> None:
    unit, submission_id = rated_unit(is_guided=False), uuid.uuid4()
    first = say(unit.housing, submission_id=submission_id)
    before = everything()
    by = unit.manager
    assert say(unit.housing, is_guided=False, submission_id=submission_id, by=by) == first
    assert changed(before) == set()


@pytest.mark.parametrize("reason", ["", "   "])
def test_it_is_refused_without_a_reason_and_nothing_is_kept(reason: str) -> None:
    unit = rated_unit(is_guided=False)
    before = everything()
    with pytest.raises(ValidationError, match="say what was seen that shows it") as refusal:
        say(unit.housing, reason=reason, by=unit.manager)
    assert set(refusal.value.message_dict) == {"reason"}
    assert changed(before) == set()


def test_a_form_sent_for_one_housing_is_not_taken_for_another() -> None:
    housing, other, submission_id = HousingFactory(), HousingFactory(), uuid.uuid4()
    say(housing, submission_id=submission_id)
    with pytest.raises(ValidationError, match=f"sent for housing {housing} already"):
        say(other, submission_id=submission_id)
    assert in_force(other) is None


def test_what_was_said_of_one_housing_is_not_corrected_for_another() -> None:
    housing, other = HousingFactory(), HousingFactory()
    wrong = say(housing)
    with pytest.raises(ValidationError, match=f"was said of housing {housing}"):
        say(other, is_guided=False, corrects=wrong)
    assert in_force(housing) == wrong


def test_what_was_corrected_is_not_corrected_twice() -> None:
    housing = HousingFactory()
    wrong = say(housing)
    say(housing, is_guided=False, corrects=wrong)
    with pytest.raises(ValidationError, match="Somebody has corrected this"):
        say(housing, is_guided=True, corrects=wrong)


def test_the_database_refuses_one_without_a_reason() -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        HousingGuide.objects.create(
            submission_id=uuid.uuid4(),
            housing=HousingFactory(),
            is_guided=True,
            reason="",
            occurred_at=MONDAY,
            recorded_by=ManagerFactory(),
        )


def test_the_database_refuses_to_change_one() -> None:
    say(HousingFactory())
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        HousingGuide.objects.update(is_guided=False)


def test_the_form_records_it_and_leads_to_the_unit(manager_client: Client) -> None:
    unit = rated_unit(is_guided=False)
    url = reverse("guide", args=[unit.housing.pk])
    answer = manager_client.post(url, form(unit), follow=True)
    assert answer.redirect_chain[-1][0] == reverse("unit", args=[unit.housing.pk])
    assert f"Housing {unit.housing} is recorded as guided." in words(answer)
    assert f"since 3 Mar 2026: {RODS}" in words(answer)


def test_neither_is_chosen_until_somebody_chooses(manager_client: Client) -> None:
    unit = rated_unit(is_guided=False)
    url = reverse("guide", args=[unit.housing.pk])
    assert b"checked" not in manager_client.get(url).content
    before = everything()
    answer = manager_client.post(url, form(unit, is_guided=""))
    assert "Nothing is chosen: say whether it is guided or not." in words(answer)
    assert changed(before) == set()


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("is_guided", "perhaps", "not one of the available choices"),
        ("reason", "", "say what was seen that shows it"),
        ("reason", " ", "say what was seen that shows it"),
        ("reason", "x" * 201, "has 201 characters: 200 at the most"),
        ("occurred_at", "2999-01-01T00:00", "in the future"),
        ("occurred_at", "soon", "not a date and time"),
        ("submission_id", "none", "not as the page gave it"),
    ],
)
def test_what_cannot_be_is_answered_on_the_form_and_nothing_is_kept(
    manager_client: Client, field: str, typed: str, said: str
) -> None:
    unit = rated_unit(is_guided=False)
    before = everything()
    answer = manager_client.post(
        reverse("guide", args=[unit.housing.pk]), form(unit, **{field: typed})
    )
    assert answer.status_code == 200
    assert said in words(answer)
    assert changed(before) == set()


def test_an_older_record_is_told_that_the_later_one_holds(manager_client: Client) -> None:
    unit = rated_unit(is_guided=False)
    say(unit.housing, is_guided=False, reason="Rod bent", occurred_at=TUESDAY)
    url = reverse("guide", args=[unit.housing.pk])
    answer = manager_client.post(url, form(unit, occurred_at="2026-03-01T09:00"), follow=True)
    assert "The later record of" in words(answer)
    assert "still holds: not guided" in words(answer)


def test_the_form_of_a_correction_begins_with_what_it_corrects(manager_client: Client) -> None:
    unit = rated_unit(is_guided=False)
    wrong = say(unit.housing, is_guided=False, reason="Rod bent")
    url = reverse("guide", args=[unit.housing.pk]) + f"?corrects={wrong.pk}"
    page = words(manager_client.get(url))
    assert "This corrects what was recorded of" in page
    manager_client.post(url, form(unit))
    assert in_force(unit.housing) == HousingGuide.objects.get(corrects=wrong)
    # It was corrected: its form is not there any more.
    assert manager_client.get(url).status_code == 404


def test_the_entry_it_caused_leads_to_its_correction(manager_client: Client) -> None:
    unit = rated_unit(is_guided=False)
    recorded = say(unit.housing)
    answer = manager_client.get(reverse("correct-entry", args=[head(unit).pk]))
    expected = reverse("guide", args=[unit.housing.pk]) + f"?corrects={recorded.pk}"
    assert answer.headers["Location"] == expected


def test_a_reader_sees_what_was_said_and_no_way_to_correct_it(auditor_client: Client) -> None:
    unit = rated_unit(is_guided=False)
    say(unit.housing, occurred_at=datetime.fromisoformat("2026-03-03T09:00+00:00"))
    page = words(auditor_client.get(reverse("unit-records", args=[unit.housing.pk, "guides"])))
    assert RODS in page
    assert "Correct it" not in page
