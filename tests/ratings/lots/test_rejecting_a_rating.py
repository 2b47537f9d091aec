"""A draft rejected with a reason, drafts nobody can approve any more, and doubts to be read."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core import mail
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from ratings.lots.correcting import correct_lot
from ratings.lots.recording import approve_rating, reject_rating, withdraw_rating
from ratings.mechanics.bench import CycleReading
from ratings.models import CurrentRating, LotRating, RatingRejection, RatingState
from tests.all_tables import changed, everything
from tests.builders import MONDAY, Unit, approve, count, drafted_test, rated_unit
from tests.factories import AuditorFactory, ManagerFactory, PadLotFactory
from tests.inspections.field.sent import signed_in
from tests.ratings.certificate.printed import text as certificate_text
from tests.site.html_form import error_at, fields_of, opened, words

pytestmark = pytest.mark.django_db
TUESDAY = MONDAY + timedelta(days=1)
# Half an inch from where the datum says, so that the test warns of it.
ODD_READINGS = [CycleReading(10.0 + x, 80.0 * (x + 0.5)) for x in (1.0, 2.0, 3.0, 4.0, 6.0)]


@pytest.fixture
def unit() -> Unit:
    return rated_unit()


def draft_of(unit: Unit, **more: Any) -> LotRating:
    drafted = drafted_test(unit.lot, unit.manager, at=TUESDAY, **more).draft
    assert drafted is not None
    return drafted


def reject(rating: LotRating, reason: str = "the pads were cold", **more: Any) -> uuid.UUID:
    sent: uuid.UUID = more.pop("submission_id", uuid.uuid4())
    by = more.pop("by", None) or ManagerFactory()
    reject_rating(submission_id=sent, rating=rating, reason=reason, by=by)
    return sent


def again(rating: LotRating) -> LotRating:
    return LotRating.objects.get(pk=rating.pk)


EXPLAINED = {"accepts_implausible": "on", "implausible_reason": "Two pads side by side, by photo"}


def page(name: str, rating: LotRating) -> str:
    return reverse(name, args=[rating.pk])


def test_a_rejected_draft_rates_no_unit_and_waits_no_more(unit: Unit) -> None:
    rating = draft_of(unit, rate_lbf_in=900)
    head = CurrentRating.objects.get(housing=unit.housing).head_hash
    reject(rating)
    assert again(rating).state == "rejected"
    assert not LotRating.objects.waiting().exists()
    assert CurrentRating.objects.get(housing=unit.housing).head_hash == head
    with pytest.raises(ValidationError, match="rejected already: there is nothing to approve"):
        approve(again(rating))


def test_whoever_drafted_it_may_reject_it(unit: Unit) -> None:
    rating = draft_of(unit)
    reject(rating, by=unit.manager)
    assert again(rating).state == "rejected"


def test_a_second_copy_of_a_rejection_changes_nothing(unit: Unit) -> None:
    rating = draft_of(unit)
    sent = reject(rating)
    before = everything()
    reject(again(rating), submission_id=sent)
    assert changed(before) == set()


@pytest.mark.parametrize("reason", ["", "   "])
def test_a_rejection_needs_its_reason(unit: Unit, reason: str) -> None:
    rating = draft_of(unit)
    before = everything()
    with pytest.raises(ValidationError, match="say what is wrong with the draft"):
        reject(rating, reason)
    assert changed(before) == set()


def test_the_database_too_refuses_a_rejection_without_a_reason(unit: Unit) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        RatingRejection.objects.create(
            submission_id=uuid.uuid4(),
            rating=draft_of(unit),
            reason="",
            recorded_by=unit.manager,
        )


def test_only_a_draft_is_rejected(unit: Unit) -> None:
    rating = draft_of(unit)
    approve(rating)
    with pytest.raises(ValidationError, match="approved already: there is nothing to reject"):
        reject(again(rating))
    other = again(draft_of(unit))
    reject(other)
    with pytest.raises(ValidationError, match="This rating is rejected: only an approved one"):
        withdraw_rating(submission_id=uuid.uuid4(), rating=other, reason="no", by=unit.manager)


def test_a_draft_is_dead_once_a_later_one_is_drafted_even_where_that_is_rejected(
    unit: Unit,
) -> None:
    older, later = draft_of(unit), draft_of(unit)
    assert again(older).state is RatingState.SUPERSEDED
    assert [each.pk for each in LotRating.objects.waiting()] == [later.pk]
    reject(later)
    # The later one rests on more tests: nobody picks the older because it pleases more.
    assert again(older).state is RatingState.SUPERSEDED
    assert not LotRating.objects.waiting().exists()
    with pytest.raises(ValidationError, match=f"Rating {later.pk} was drafted later"):
        reject(older)


def test_a_new_test_after_a_rejection_drafts_one_that_can_be_approved(unit: Unit) -> None:
    reject(draft_of(unit))
    fresh = draft_of(unit)
    assert [each.pk for each in LotRating.objects.waiting()] == [fresh.pk]
    assert approve(fresh)


def test_a_draft_on_a_corrected_test_does_not_wait_though_nothing_was_drafted_since() -> None:
    manager, lot = ManagerFactory(), PadLotFactory()
    wrong = drafted_test(lot, manager)
    uncalibrated = drafted_test(lot, manager, corrects=wrong.test, at=MONDAY - timedelta(days=9999))
    assert uncalibrated.draft is None
    assert wrong.draft is not None
    assert again(wrong.draft).state is RatingState.CORRECTED
    assert not LotRating.objects.waiting().exists()
    with pytest.raises(ValidationError, match="corrected since"):
        approve(wrong.draft)


def test_the_state_of_many_is_read_in_one_query(unit: Unit, django_assert_num_queries: Any) -> None:
    for _ in range(3):
        draft_of(unit)
    with django_assert_num_queries(1):
        states = [each.state for each in LotRating.objects.with_state().order_by("pk")]
    assert states == ["approved", "superseded draft", "superseded draft", "draft"]


def test_doubts_unread_are_refused_and_read_are_kept_with_the_approval() -> None:
    rating = drafted_test(PadLotFactory(), ManagerFactory(), readings=ODD_READINGS).draft
    assert rating is not None
    before = everything()
    with pytest.raises(ValidationError) as refusal:
        approve_rating(submission_id=uuid.uuid4(), rating=rating, by=ManagerFactory())
    assert "Read the doubts above" in refusal.value.message_dict["has_read_doubts"][0]
    assert changed(before) - {"auth.User"} == set()
    approve(rating)
    (doubt, *_) = again(rating).approval.doubts
    assert doubt.startswith(f"Bench test {rating.tests.get().pk}: ")


def test_a_page_without_the_tick_says_which_field_and_approves_nothing(
    manager_client: Client,
) -> None:
    rating = drafted_test(PadLotFactory(), ManagerFactory(), readings=ODD_READINGS).draft
    assert rating is not None
    before = everything()
    sent = opened(manager_client, page("lot-rating", rating))
    assert "has_read_doubts" not in sent
    refused = manager_client.post(page("approve-rating", rating), sent)
    assert "I have read the doubts above : Read the doubts above" in words(refused)
    assert changed(before) == set()
    url = page("approve-rating", rating)
    approved = manager_client.post(url, sent | {"has_read_doubts": "on"}, follow=True)
    doubts = again(rating).approval.doubts
    assert f"Approved with {len(doubts)} doubt" in words(approved)
    assert doubts[0] in words(approved)


def test_doubts_that_came_up_since_the_page_was_opened_are_to_be_read_first(
    manager_client: Client,
) -> None:
    rating = drafted_test(
        PadLotFactory(
            hardness_shore_a=60.0, bonded_area_in2=6.7, rubber_thickness_in=1.0, mark="RUBBER"
        ),
        ManagerFactory(),
        readings=ODD_READINGS,
    ).draft
    assert rating is not None
    sent = opened(manager_client, page("lot-rating", rating)) | {"has_read_doubts": "on"}
    correct_lot(
        submission_id=uuid.uuid4(),
        lot_id=rating.lot_id,
        hardness_shore_a=60.0,
        bonded_area_in2=0.5,
        rubber_thickness_in=1.0,
        reason="wrong crate",
        by=ManagerFactory(),
    )
    before = everything()
    refused = manager_client.post(page("approve-rating", rating), sent)
    assert "The doubts are others by now" in words(refused)
    assert "Not plausible" in words(refused)
    assert "has_read_doubts" not in fields_of(refused)
    assert changed(before) == set()
    again_sent = fields_of(refused) | {"has_read_doubts": "on"}
    manager_client.post(page("approve-rating", rating), again_sent | EXPLAINED)
    assert again(rating).state == "approved"


def test_a_manager_rejects_on_the_page_and_it_looks_rejected_everywhere(
    manager_client: Client, unit: Unit
) -> None:
    rating = draft_of(unit)
    url = page("reject-rating", rating)
    sent = {"submission_id": str(uuid.uuid4()), "reason": "the pads were cold"}
    before = everything()
    refused = manager_client.post(url, sent | {"reason": ""})
    assert error_at(refused, "reason")
    assert changed(before) == set()
    text = words(manager_client.post(url, sent, follow=True))
    assert f"Rating {rating.pk} is rejected: it can rate no unit" in text
    assert "the pads were cold" in text
    assert "nobody can approve it any more" in text
    assert "Approve" not in text
    assert "Reject the rating" not in text
    lot = words(manager_client.get(reverse("lot", args=[unit.lot.pk])))
    assert f"Rating {rating.pk} 1,000 lbf/in rejected" in lot
    assert "waits for a second person" not in lot
    test = words(manager_client.get(reverse("bench-test", args=[rating.tests.earliest("pk").pk])))
    assert f"Rating {rating.pk} : rejected" in test


def test_a_superseded_draft_shows_no_button_and_leads_to_the_later_one(
    manager_client: Client, unit: Unit
) -> None:
    older, later = draft_of(unit), draft_of(unit)
    response = manager_client.get(page("lot-rating", older))
    text = words(response)
    assert "Superseded draft. It rates no unit and nobody can approve it any more" in text
    assert page("lot-rating", later) in response.content.decode()
    assert page("approve-rating", older) not in response.content.decode()
    assert page("reject-rating", older) not in response.content.decode()
    lot = words(manager_client.get(reverse("lot", args=[unit.lot.pk])))
    assert f"Rating {older.pk} 1,000 lbf/in superseded draft" in lot
    assert f"Rating {later.pk} 1,000 lbf/in draft, waits for approval" in lot


def test_whoever_may_not_approve_is_told_why_and_who_could(unit: Unit) -> None:
    ManagerFactory(first_name="Ada", last_name="Quill")
    ManagerFactory(first_name="Gone", last_name="Long", is_active=False)
    rating = draft_of(unit)
    text = words(signed_in(unit.manager).get(page("lot-rating", rating)))
    assert "You drafted it by recording its test" in text
    assert "Of those on record Pat Number" in text
    assert "Ada Quill could" in text
    assert "Gone Long" not in text
    for person in User.objects.exclude(pk=unit.manager.pk):
        person.groups.clear()
    text = words(signed_in(AuditorFactory()).get(page("lot-rating", rating)))
    assert "You may read it; an equipment manager approves it" in text
    assert "the yard needs a second one" in text


def test_waiting_drafts_stand_on_the_first_page_until_somebody_decides(
    auditor_client: Client, unit: Unit
) -> None:
    draft_of(unit)
    rating = draft_of(unit)
    response = auditor_client.get(reverse("board"))
    assert "1 rating waits for a second person" in words(response)
    assert f"Rating {rating.pk} of lot {unit.lot.mark}" in words(response)
    assert page("lot-rating", rating) in response.content.decode()
    reject(rating)
    assert "waits for a second person" not in words(auditor_client.get(reverse("board")))


def test_the_daily_letter_tells_of_waiting_drafts_until_somebody_decides(unit: Unit) -> None:
    ManagerFactory(email="yard@ledger.example")
    count(unit.housing, unit.manager, unit.lot, at=timezone.now(), kind="yearly")
    rating = draft_of(unit)
    call_command("digest", site="https://ledger.example")
    [letter] = mail.outbox
    assert "Ratings to approve or reject" in letter.body
    assert f"- Rating {rating.pk} of lot {unit.lot.mark}: drafted" in letter.body
    assert f"https://ledger.example/lot-ratings/{rating.pk}/" in letter.body
    assert "Overdue" not in letter.body
    reject(rating)
    call_command("digest", site="https://ledger.example")
    # The seal goes out every day, so a letter comes all the same.
    assert f"Rating {rating.pk}" not in mail.outbox[-1].body
    assert "approve or reject" not in mail.outbox[-1].body
    assert len(mail.outbox) == 2


def test_the_certificate_of_a_dead_draft_says_on_its_head_that_it_is_dead(unit: Unit) -> None:
    older, later = draft_of(unit), draft_of(unit)
    reject(later, "the pads were cold")
    superseded, rejected = (certificate_text(again(each)) for each in (older, later))
    assert "SUPERSEDED DRAFT" in superseded
    assert "nobody can approve it any more" in superseded
    assert "REJECTED" in rejected
    assert "the pads were cold. It rates no unit and never will" in rejected
    waiting = certificate_text(again(draft_of(unit)))
    assert "No second person has approved it" in waiting
    assert "SUPERSEDED" not in waiting
