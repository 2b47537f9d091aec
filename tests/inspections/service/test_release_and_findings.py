from __future__ import annotations

import uuid
from datetime import date, timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from fleet.models import OutOfService, SuppressorHousing
from fleet.outages import open_outage, take_out_of_service
from fleet.people.qualifications import withdraw_qualification
from inspections.count.signing import Correction, Seen, sign_inspection
from inspections.count.submission import Submission
from inspections.service.recording import release_to_service
from ratings.models import LedgerEntry
from tests.builders import MONDAY, Unit, count, qualified, rated_unit
from tests.factories import HousingFactory, ManagerFactory

pytestmark = pytest.mark.django_db

TUESDAY, WEDNESDAY, THURSDAY = (MONDAY + timedelta(days=day) for day in (1, 2, 3))


def take_out(housing: SuppressorHousing, **changes: Any) -> OutOfService:
    plain: dict[str, Any] = {
        "submission_id": uuid.uuid4(),
        "machine": housing,
        "since": TUESDAY,
        "reason": "Crack at the yoke weld.",
        "by": ManagerFactory(),
    }
    return take_out_of_service(**plain | changes)


def release(housing: SuppressorHousing, **changes: Any) -> OutOfService:
    plain: dict[str, Any] = {
        "machine": housing,
        "at": THURSDAY,
        "reason": "Weld made good.",
        "qualified_person": qualified(),
        "by": ManagerFactory(),
    }
    return release_to_service(**plain | changes)


def looked_over(unit: Unit, **more: Any) -> Any:
    return count(unit.housing, unit.manager, unit.lot, **{"at": WEDNESDAY} | more)


def seen_only(unit: Unit, **seen: Any) -> Any:
    return sign_inspection(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(WEDNESDAY, [], **seen),
        by=unit.manager,
    )


def test_a_unit_taken_out_is_out_until_it_is_released() -> None:
    unit = rated_unit()
    assert open_outage(unit.housing) is None
    outage = take_out(unit.housing)
    assert open_outage(unit.housing) == outage
    looked_over(unit)
    released = release(unit.housing)
    assert released == outage
    assert (released.released_at, released.release_reason) == (THURSDAY, "Weld made good.")
    assert open_outage(unit.housing) is None


def test_going_out_and_coming_back_post_nothing_in_the_ledger() -> None:
    unit = rated_unit()
    take_out(unit.housing)
    looked_over(unit)
    before = LedgerEntry.objects.count()
    release(unit.housing)
    assert LedgerEntry.objects.count() == before


def test_a_second_copy_takes_it_out_once() -> None:
    housing, sent = HousingFactory(), uuid.uuid4()
    first = take_out(housing, submission_id=sent)
    assert take_out(housing, submission_id=sent, reason="Another.") == first
    assert OutOfService.objects.count() == 1


def test_a_copy_sent_for_another_housing_is_refused() -> None:
    sent, other = uuid.uuid4(), HousingFactory()
    take_out(HousingFactory(), submission_id=sent)
    with pytest.raises(ValidationError, match="was sent for housing"):
        take_out(other, submission_id=sent)
    assert open_outage(other) is None


def test_a_unit_that_is_out_already_is_refused_with_since_and_why() -> None:
    housing = HousingFactory()
    take_out(housing)
    with pytest.raises(ValidationError, match=r"already, since 3 Mar 2026 .* \(Crack at"):
        take_out(housing)


def test_the_database_refuses_a_second_time_out_while_one_lasts() -> None:
    outage = take_out(HousingFactory())
    with pytest.raises(IntegrityError), transaction.atomic():
        OutOfService.objects.create(
            housing=outage.housing,
            since=WEDNESDAY,
            reason="Again.",
            recorded_by=outage.recorded_by,
            submission_id=uuid.uuid4(),
        )


@pytest.mark.parametrize("reason", ["", "  "])
def test_both_ways_want_a_reason(reason: str) -> None:
    unit = rated_unit()
    with pytest.raises(ValidationError, match="say why"):
        take_out(unit.housing, reason=reason)
    take_out(unit.housing)
    looked_over(unit)
    with pytest.raises(ValidationError, match="say why"):
        release(unit.housing, reason=reason)
    assert open_outage(unit.housing) is not None


def test_it_cannot_have_gone_out_before_it_last_came_back() -> None:
    unit = rated_unit()
    take_out(unit.housing)
    looked_over(unit)
    release(unit.housing)
    with pytest.raises(ValidationError, match="came back only on 5 Mar 2026") as refused:
        take_out(unit.housing, since=WEDNESDAY)
    assert "since" in refused.value.message_dict
    assert take_out(unit.housing, since=THURSDAY).released_at is None


def test_a_unit_in_service_has_nothing_to_release() -> None:
    with pytest.raises(ValidationError, match="is in service"):
        release(HousingFactory())


def test_it_cannot_come_back_before_it_went_out() -> None:
    unit = rated_unit()
    take_out(unit.housing)
    with pytest.raises(ValidationError, match="went out only on 3 Mar 2026") as refused:
        release(unit.housing, at=MONDAY)
    assert "at" in refused.value.message_dict


def test_it_may_go_out_be_seen_and_come_back_within_one_minute() -> None:
    unit = rated_unit()
    take_out(unit.housing, since=TUESDAY + timedelta(seconds=20))
    looked_over(unit, at=TUESDAY + timedelta(seconds=40))
    released = release(unit.housing, at=TUESDAY)
    assert released.released_at == TUESDAY + timedelta(seconds=40)


def test_a_release_wants_an_inspection_since_it_went_out() -> None:
    unit = rated_unit()
    take_out(unit.housing)
    with pytest.raises(ValidationError, match="No inspection between 3 Mar 2026"):
        release(unit.housing)


def test_what_was_seen_as_it_went_out_is_not_fresh() -> None:
    unit = rated_unit()
    take_out(unit.housing)
    looked_over(unit, at=TUESDAY)
    with pytest.raises(ValidationError, match="No inspection between"):
        release(unit.housing)


def test_what_was_seen_after_the_release_is_no_ground_for_it() -> None:
    unit = rated_unit()
    take_out(unit.housing)
    looked_over(unit, at=THURSDAY)
    with pytest.raises(ValidationError, match="No inspection between"):
        release(unit.housing, at=WEDNESDAY)


def test_an_inspection_of_another_housing_releases_nothing() -> None:
    unit, other = rated_unit(), rated_unit()
    take_out(unit.housing)
    looked_over(other)
    with pytest.raises(ValidationError, match="No inspection between"):
        release(unit.housing)


def test_an_inspection_without_a_taped_travel_says_so() -> None:
    unit = rated_unit()
    take_out(unit.housing)
    looked_over(unit, travel_in=None)
    with pytest.raises(ValidationError, match="did not tape the travel"):
        release(unit.housing)


def test_an_inspection_that_counted_nothing_says_so() -> None:
    unit = rated_unit()
    take_out(unit.housing)
    seen_only(unit, travel_in=6.0)
    with pytest.raises(ValidationError, match="did not count every pad") as refused:
        release(unit.housing)
    assert "tape the travel in one inspection" in str(refused.value)
    assert "did not tape" not in str(refused.value)


def test_a_count_and_a_taping_on_two_visits_do_not_make_one_inspection() -> None:
    unit = rated_unit()
    take_out(unit.housing)
    looked_over(unit, travel_in=None)
    seen_only(unit, travel_in=6.0)
    with pytest.raises(ValidationError, match="in one inspection"):
        release(unit.housing)


def test_a_count_put_right_since_counts_by_what_it_says_now() -> None:
    unit = rated_unit()
    take_out(unit.housing)
    wrong = looked_over(unit)
    corrected = looked_over(
        unit, travel_in=None, correction=Correction("Not taped after all.", wrong.inspection)
    )
    with pytest.raises(ValidationError, match="did not tape the travel"):
        release(unit.housing)
    looked_over(unit, correction=Correction("Taped it now.", corrected.inspection))
    assert release(unit.housing).released_at == THURSDAY


def test_a_release_looks_at_its_own_time_out_alone() -> None:
    unit = rated_unit()
    take_out(unit.housing)
    looked_over(unit)
    release(unit.housing)
    take_out(unit.housing, since=THURSDAY)
    with pytest.raises(ValidationError, match="No inspection between 5 Mar 2026"):
        release(unit.housing, at=THURSDAY + timedelta(days=1))


@pytest.mark.django_db
def test_a_release_names_the_qualified_person_and_by_what() -> None:
    unit = rated_unit()
    take_out(unit.housing)
    looked_over(unit)
    released = release(unit.housing)
    assert released.qualified_person == "Hale Winter"
    assert released.qualification is not None
    assert released.qualification.certificate == "Certificate 12"


DAY = THURSDAY.date()


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("since", "until", "purpose", "words"),
    [
        (DAY, None, "rates", "has no qualification for releases to service on record"),
        (DAY - timedelta(9), DAY - timedelta(1), "releases", "was qualified for releases"),
        (DAY + timedelta(1), None, "releases", "is qualified for releases to service from"),
    ],
)
def test_a_release_by_somebody_not_qualified_then_is_refused(
    since: date, until: date | None, purpose: str, words: str
) -> None:
    unit = rated_unit()
    take_out(unit.housing)
    looked_over(unit)
    person = qualified("Ada Marsh", purpose, since=since, until=until)
    with pytest.raises(ValidationError, match=words):
        release(unit.housing, qualified_person=person)


@pytest.mark.django_db
def test_a_release_by_a_qualification_withdrawn_is_refused() -> None:
    unit = rated_unit()
    take_out(unit.housing)
    looked_over(unit)
    withdraw_qualification(
        submission_id=uuid.uuid4(),
        qualification=qualified().qualifications.get(),
        reason="Card lost its stamp",
        by=unit.manager,
    )
    with pytest.raises(ValidationError, match="withdrawn"):
        release(unit.housing)
