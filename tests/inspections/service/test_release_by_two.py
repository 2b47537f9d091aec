from __future__ import annotations

import re
import uuid
from dataclasses import replace
from datetime import timedelta
from io import BytesIO

import pytest
from django.core import mail
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from fleet.outages import open_outage
from fleet.roles import who_words
from ratings.models import Proposal, ProposalAnswer
from ratings.models.policy import Safeguards, rating_policy
from ratings.payload import written
from ratings.policy import change_policy
from ratings.proposals.acts import SecondPersonNeeded
from ratings.proposals.recording import confirm_proposal, propose
from tests.all_tables import changed, everything
from tests.builders import Unit, count, proposed_listing, qualified, rated_unit
from tests.factories import ManagerFactory
from tests.inspections.service.test_release_and_findings import (
    THURSDAY,
    looked_over,
    release,
    take_out,
)
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


@pytest.fixture
def unit() -> Unit:
    """A unit out of service and looked over, under a policy that wants two for its release."""
    unit = rated_unit()
    ManagerFactory()
    change_policy(
        submission_id=uuid.uuid4(),
        policy=rating_policy(),
        asks=replace(Safeguards(), second_person_releases=True, second_person_corrections=True),
        reason="Four eyes",
        by=unit.manager,
    )
    take_out(unit.housing)
    looked_over(unit)
    qualified()
    return unit


def proposed(unit: Unit) -> Proposal:
    with pytest.raises(SecondPersonNeeded) as needed:
        release(unit.housing, by=unit.manager)
    return propose(
        submission_id=uuid.uuid4(),
        what=needed.value.act.what,
        payload=written(needed.value.arguments),
        why="Seen at the bench",
        by=unit.manager,
    )


def test_a_release_by_one_person_alone_releases_nothing(unit: Unit) -> None:
    before = everything()
    with pytest.raises(SecondPersonNeeded, match="a release to service"):
        release(unit.housing, by=unit.manager)
    assert changed(before) == set()
    assert open_outage(unit.housing)


def test_a_release_that_may_not_be_is_refused_for_that_and_not_offered(unit: Unit) -> None:
    with pytest.raises(ValidationError, match="say why the unit may go out") as refused:
        release(unit.housing, reason=" ")
    assert not isinstance(refused.value, SecondPersonNeeded)


def test_a_release_confirmed_names_both_people_on_pages_and_paper(
    unit: Unit, auditor_client: Client
) -> None:
    second = ManagerFactory()
    confirm_proposal(submission_id=uuid.uuid4(), proposal=proposed(unit), by=second)
    assert open_outage(unit.housing) is None
    both = f"{who_words(unit.manager)}, confirmed by {who_words(second)}"
    page = reverse("unit-records", args=[unit.housing.pk, "service"])
    assert f"released by {both}" in words(auditor_client.get(page))
    paper = auditor_client.get(reverse("history-report", args=[unit.housing.pk])).content
    printed = " ".join(page.extract_text() for page in PdfReader(BytesIO(paper)).pages)
    assert f"Released by {both}" in re.sub(r"\s+", " ", printed)


def test_a_unit_looked_at_since_is_released_by_a_proposal_made_anew(unit: Unit) -> None:
    waits = proposed(unit)
    count(
        unit.housing,
        unit.manager,
        unit.lot,
        unsound={"A1": "cracked"},
        at=THURSDAY + timedelta(days=1),
    )
    with pytest.raises(ValidationError, match=r"newest inspection of .* was"):
        confirm_proposal(submission_id=uuid.uuid4(), proposal=waits, by=ManagerFactory())
    assert open_outage(unit.housing)


def test_whoever_found_it_fit_must_be_qualified_still_when_it_is_confirmed(unit: Unit) -> None:
    waits = proposed(unit)
    fit = qualified()
    fit.is_active = False
    fit.save()
    with pytest.raises(ValidationError, match="can’t be recorded any more"):
        confirm_proposal(submission_id=uuid.uuid4(), proposal=waits, by=ManagerFactory())
    assert not ProposalAnswer.objects.exists()


def test_the_page_of_a_release_offers_to_propose_it(unit: Unit) -> None:
    client = Client()
    client.force_login(unit.manager)
    sent = {
        "at": timezone.localtime(THURSDAY).strftime("%Y-%m-%dT%H:%M"),
        "reason": "Weld made good.",
        "qualified_person": qualified().pk,
    }
    told = words(client.post(reverse("release-to-service", args=[unit.housing.pk]), sent))
    assert "Not recorded yet." in told
    assert "Hale Winter" in told
    assert open_outage(unit.housing)


def test_the_letter_tells_of_a_proposal_whoever_did_not_make_it() -> None:
    made, other = (ManagerFactory(email=f"{name}@ledger.example") for name in ("made", "other"))
    unit = rated_unit()
    proposal = proposed_listing(unit.hammer, made)
    call_command("digest")
    letters = {letter.to[0]: letter.body for letter in mail.outbox}
    assert proposal.title in letters[other.email]
    assert proposal.title not in letters[made.email]
