"""A policy that asks other people for a word changes no rating, and voids no commitment."""

from __future__ import annotations

import uuid
from dataclasses import replace

import pytest

from ratings.jobs.validity import commitment_now
from ratings.ledger.verify import verify_all
from ratings.models import LedgerEntry, RatingPolicy
from ratings.models.policy import Safeguards, rating_policy
from ratings.policy import change_policy
from tests.factories import ManagerFactory
from tests.job_builders import commit, figured_unit

pytestmark = pytest.mark.django_db


def test_who_is_asked_for_a_word_posts_nothing_and_voids_nothing() -> None:
    unit = figured_unit()
    made = commit(unit)
    ManagerFactory()
    entries = LedgerEntry.objects.count()
    change_policy(
        submission_id=uuid.uuid4(),
        policy=rating_policy(),
        asks=Safeguards(second_person_corrections=True),
        reason="Two look at each correction",
        by=unit.manager,
    )
    assert RatingPolicy.objects.count() == 1
    assert LedgerEntry.objects.count() == entries
    assert commitment_now(made.pk).word == "valid"
    verify_all()


def test_a_newer_entry_of_the_same_figures_voids_nothing() -> None:
    unit = figured_unit()
    made = commit(unit)
    first = rating_policy()
    for policy in (replace(first, confidence=0.9), first):
        change_policy(submission_id=uuid.uuid4(), policy=policy, reason="Tried", by=unit.manager)
        void = commitment_now(made.pk).is_void
        assert void is (policy != first)
    now = commitment_now(made.pk)
    assert now.head is not None
    assert now.head.sequence == made.answer.entry.sequence + 2
    assert f"entry {now.head.sequence} changed none of its figures" in now.state.reasons[0]
