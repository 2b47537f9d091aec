"""The demo loaded where the tests run: every kind of answer, and the same to the last hash."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.core.management.color import no_style
from django.db import connection
from django.test import Client
from django.urls import reverse

from fleet import clock
from fleet.models import Hammer, Leaf, OutOfService, SuppressorHousing, Transfer
from inspections.demo.load import load_demo
from inspections.models import RepairOrder, RestorePlan
from inspections.restoring.planning import Asked, make
from ratings.jobs.answer import Question, question_of
from ratings.jobs.candidates import candidates
from ratings.jobs.recording import jobs_of
from ratings.jobs.rules import rules_in_force
from ratings.jobs.validity import commitments_of_job
from ratings.mechanics.extraction.check import check_fleet, embedment_to_suit_ft
from ratings.mechanics.extraction.holds import HoldKind
from ratings.mechanics.extraction.job import PileEnd, PileKind
from ratings.mechanics.extraction.outcomes import Verdict
from ratings.models import (
    CurrentRating,
    ExtractionJob,
    JobAnswer,
    PileSection,
    PullRecord,
    SoilTemplate,
)
from ratings.plan.offers import plan_of_jobs
from ratings.pulls.lessons import lessons
from tests.commands import HEADS, rows
from tests.conftest import LAID_DOWN
from tests.site.html_form import fields_of

pytestmark = pytest.mark.django_db

STORY_ENDS = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


def number_from_one() -> None:
    """Number records as in a new database, whatever tests went before: entries name them.

    What a migration laid down, and its leaves in the journal, keep their numbers.
    """
    with connection.cursor() as cursor:
        sequences = [
            sequence
            for table in connection.introspection.django_table_names(only_existing=True)
            if table not in LAID_DOWN | {Leaf._meta.db_table}
            for sequence in connection.introspection.get_sequences(cursor, table)
        ]
        for statement in connection.ops.sequence_reset_by_name_sql(no_style(), sequences):
            cursor.execute(statement)


@pytest.fixture(scope="module")
def demo_at_hand(module_db: None) -> None:
    """The demo in the database of the tests, for all of this file and no other."""
    number_from_one()
    load_demo()


def verdicts(question: Question) -> dict[str, Verdict]:
    """What each unit of the yard is for a job, as the page would say when the story ends."""
    with clock.set_to(STORY_ENDS):
        asked = candidates(
            question.first_day, question.last_day, question.distances, question.leave_out_job
        )
    found = check_fleet([each.unit for each in asked], question.job, rules_in_force())
    return {each.mark: each.verdict for each in found}


def units_that_a_lighter_bite_suits(question: Question) -> list[str]:
    policy = rules_in_force()
    asked = candidates(question.first_day, question.last_day)
    bites = {
        each.unit.mark: embedment_to_suit_ft(each.unit, question.job, policy, policy.care_margin)
        for each in asked
    }
    return [mark for mark, left_ft in bites.items() if left_ft]


def job_at(site: str) -> ExtractionJob:
    return ExtractionJob.objects.get(site=site)


@pytest.mark.usefixtures("demo_at_hand")
def test_the_story_of_the_jobs_has_every_kind_of_answer_in_it() -> None:
    sheets = job_at("Lockhouse cofferdam, south wall")
    h_piles, pipe = job_at("Coal quay, trestle H-piles"), job_at("Ferry slip, old dolphin")
    first = verdicts(question_of(sheets))
    assert len(first) == 14
    # By their forces; what else stands in a unit's way is a condition beside them.
    assert {*first.values(), *verdicts(question_of(pipe)).values()} == set(Verdict)
    assert Verdict.SUITABLE not in verdicts(question_of(pipe)).values()
    assert Verdict.CARE not in verdicts(question_of(pipe)).values()
    assert units_that_a_lighter_bite_suits(question_of(pipe))
    (valid,), (fallen,) = commitments_of_job(sheets), commitments_of_job(h_piles)
    assert (valid.fell, valid.is_void, valid.words) == (False, False, "")
    assert fallen.fell
    assert "fell from meets listing to below listing" in fallen.words
    assert OutOfService.objects.filter(released_at__isnull=True).count() == 1
    assert OutOfService.objects.filter(released_at__isnull=False).exists()
    assert Hammer.objects.filter(eccentric_moment_lb_in__isnull=True).count() == 1
    assert PileSection.objects.exists()
    assert SoilTemplate.objects.exists()


@pytest.mark.usefixtures("demo_at_hand")
def test_the_jobs_nobody_promised_a_unit_to_can_be_planned() -> None:
    jobs = ExtractionJob.objects.filter(commitments=None, first_day__gte=date(2026, 12, 14))
    with clock.set_to(STORY_ENDS):
        plan = plan_of_jobs(list(jobs))
    assert sorted((each.job.units_needed, each.missing) for each in plan.jobs) == [(1, 0), (2, 0)]
    assert Transfer.objects.open().get().haul_mi == 42.0


@pytest.mark.usefixtures("demo_at_hand")
def test_pulls_on_three_jobs_teach_of_one_sand() -> None:
    first, *others = lessons()
    assert first.now.name == "round medium sand, round gravel"
    assert not any(each.data for each in others)
    assert (len(first.data), first.found.pulls, first.found.jobs) == (11, 10, 3)
    assert first.found.lower_bounds == 1
    assert first.may_be_taken
    assert first.found.prior.factor < first.found.posterior.factor < 0.25
    assert not any(each.doubts for each in PullRecord.objects.all())
    [not_read] = [each for each in first.data if each.seen is None]
    assert not_read.why_not == "no hook load was read"


@pytest.mark.usefixtures("demo_at_hand")
def test_a_commitment_was_confirmed_and_one_in_march_waits_for_a_count() -> None:
    with clock.set_to(STORY_ENDS):
        [confirmed] = commitments_of_job(job_at("Kiln wharf, return wall"))
        [waits] = commitments_of_job(job_at("Ropewalk pier, east face"))
    assert [each.is_met for each in confirmed.conditions] == [True, True]
    assert confirmed.commitment.confirmations.count() == 1
    assert [each.is_met for each in waits.conditions] == [False, False]
    assert waits.commitment.confirmations.count() == 0


@pytest.mark.usefixtures("demo_at_hand")
def test_a_job_has_two_groups_of_piles_and_a_wall_is_held_by_its_interlocks_too() -> None:
    fenders, dolphins = jobs_of(job_at("Ropewalk pier, east face"))
    assert (fenders.job.pile.kind, dolphins.job.pile.kind) == (PileKind.H, PileKind.PIPE)
    assert dolphins.job.pile.end == PileEnd.OPEN_UNKNOWN
    [wall] = jobs_of(job_at("Kiln wharf, return wall"))
    assert [each.kind for each in wall.job.holds] == [HoldKind.INTERLOCK, HoldKind.DAMAGE]


@pytest.mark.usefixtures("demo_at_hand")
def test_two_loads_give_the_same_ledgers_to_the_last_hash(demo_loaded: tuple[Path, str]) -> None:
    heads = CurrentRating.objects.order_by("housing__mark")
    assert len(heads) >= 12
    assert rows(demo_loaded[0], HEADS) == list(
        heads.values_list("housing__mark", "sequence", "head_hash")
    )
    answers = JobAnswer.objects.order_by("pk").values_list("hash")
    assert len(answers) == 8
    assert rows(demo_loaded[0], "SELECT hash FROM ratings_jobanswer ORDER BY id") == list(answers)


@pytest.mark.usefixtures("demo_at_hand")
def test_its_short_units_are_restored_at_the_least_cost_in_its_currency() -> None:
    with clock.set_to(STORY_ENDS):
        fewest, cheapest = (make(Asked(goal)).document for goal in ("fewest", "cheapest"))
    assert cheapest["currency"] == "USD"
    assert cheapest["ready"] == fewest["ready"] >= 5
    assert 0 < Decimal(cheapest["cost"]) < Decimal(fewest["cost"])
    # Nobody has asked for its price, so nothing is ranked by it.
    assert cheapest["unpriced"] == ["NB-26"]


@pytest.mark.parametrize(
    ("mark", "standing"), [("S-03", "below listing"), ("S-14", "meets listing")]
)
@pytest.mark.usefixtures("demo_at_hand")
def test_a_manager_restores_the_worst_units_by_their_plan_in_five_taps(
    client: Client, mark: str, standing: str
) -> None:
    client.force_login(User.objects.get(username="ines"))
    housing = SuppressorHousing.objects.get(mark=mark)
    board = client.get(reverse("board"))
    taps = [reverse("unit", args=[housing.pk]), f"{reverse('restore')}?unit={housing.pk}"]
    assert f'href="{taps[0]}"' in board.content.decode()
    # The one is below by so much that no pads do; the next worst is brought to its listing.
    unit = client.get(taps[0])
    assert f'href="{taps[1]}"' in unit.content.decode()
    shown = client.get(taps[1])
    filled = client.post(taps[1], fields_of(shown) | {"order": "1"}, follow=True)
    taps.append("Order it and fill in the form")
    signed = client.post(reverse("replace-pads", args=[housing.pk]), fields_of(filled), follow=True)
    taps.append("Sign the replacement")
    assert len(taps) <= 5
    assert signed.status_code == 200
    (planned,) = RestorePlan.objects.get().document["units"]
    rating = CurrentRating.objects.select_related("head").get(housing=housing)
    assert rating.head.working_capacity_lbf == planned["after"]["capacity_lbf"]
    assert rating.head.standing == planned["after"]["standing"] == standing
    assert RepairOrder.objects.filter(housing=housing, what__contains="restoring plan").exists()
