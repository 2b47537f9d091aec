from __future__ import annotations

import uuid
from dataclasses import replace
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from ratings.jobs.rules import change_rules, rules_in_force
from ratings.ledger.answers import answer_fault
from ratings.models import ExtractionRules, LearnedFactor, PullRecord
from ratings.pulls.judging import Within, calibration, compared, within_range
from ratings.pulls.lessons import (
    LearningPolicy,
    SoilLesson,
    change_learning,
    learning_in_force,
    lessons,
    take_into_rules,
)
from tests.factories import DispatcherFactory, ManagerFactory
from tests.inspections.field.sent import signed_in
from tests.job_builders import GROUND, commit, extraction_job, figured_unit, pull_done
from tests.site.html_form import words

pytestmark = pytest.mark.django_db

FINE = "round fine sand"
SAND = (replace(GROUND[1], top_ft=0.0),)


def in_sand(resistance: float, **more: Any) -> PullRecord:
    """A pull on a job of its own, all in fine sand, at so many times what is calculated."""
    job = extraction_job(first_day=timezone.localdate(), layers=SAND, embedment_ft=30.0)
    made = commit(figured_unit(), job)
    plain = pull_done(made, outcome="came in part", pile_mark="0")
    load_lbf = resistance * (plain.expected_lbf or 0.0) + (plain.weights_lb or 0.0)
    return pull_done(made, hook_load_lbf=load_lbf, **more)


def of_fine_sand() -> SoilLesson:
    return next(each for each in lessons() if each.now.name == FINE)


def take(told: SoilLesson, **more: Any) -> LearnedFactor:
    plain: dict[str, Any] = {
        "submission_id": uuid.uuid4(),
        "soil": told.now.name,
        "factor": told.proposed,
        "source": told.source,
        "reason": "Looked at every sheet.",
        "by": ManagerFactory(),
    }
    return take_into_rules(**plain | more)


def test_a_pull_that_measures_what_was_calculated_gives_the_tables_factor() -> None:
    in_sand(1.0)
    told = of_fine_sand()
    assert [each.seen.factor for each in told.used if each.seen] == [pytest.approx(0.20)]
    assert told.found.posterior.factor == pytest.approx(0.20)
    assert told.found.posterior.high < told.found.prior.high


def test_a_pull_that_measures_half_as_much_lowers_it() -> None:
    in_sand(0.5)
    assert of_fine_sand().found.posterior.factor < 0.20


@pytest.mark.parametrize(
    ("seen", "words"),
    [
        ({"method": "crane alone"}, "crane alone"),
        ({"outcome": "came in part"}, "came in part"),
    ],
)
def test_a_pull_that_says_nothing_is_shown_with_the_reason(
    seen: dict[str, Any], words: str
) -> None:
    pull = in_sand(1.0, **seen)
    said = [each.words for told in lessons() for each in told.data if each.pull == pull]
    assert all(words in each for each in said)
    assert not of_fine_sand().used


def test_a_pull_through_mixed_ground_teaches_nothing_of_one_soil() -> None:
    layers = (replace(GROUND[1], top_ft=0.0, bottom_ft=21.0), replace(
        GROUND[1], top_ft=21.0, soil="angular sand, coarse gravel"))  # fmt: skip
    job = extraction_job(first_day=timezone.localdate(), layers=layers, embedment_ft=30.0)
    pull = pull_done(commit(figured_unit(), job))
    assert 0.5 < (pull.soil_share or 0.0) < 0.7
    told = next(each for each in lessons() if each.now.name == pull.soil)
    assert not told.used
    assert "% of the hold" in told.data[0].why_not


@pytest.mark.parametrize("outcome", ["came", "did not come"])
def test_a_pull_above_all_of_the_static_hold_is_shown_and_teaches_nothing(outcome: str) -> None:
    in_sand(1.0)
    before = of_fine_sand().found
    # The table's factor is 0.20: five times what is calculated is all of the hold at rest.
    in_sand(60.0, outcome=outcome)
    told = of_fine_sand()
    assert told.found == before
    assert [each.words for each in told.data if each.is_beyond] == [
        "more than all of the static hold: look at it again"
    ]
    page = words(signed_in(DispatcherFactory()).get(reverse("pull-lessons")))
    assert "1 pull left out: more was measured than all of the static hold" in page
    assert "more than all of the static hold: look at it again" in page


def test_a_pull_of_nearly_all_of_the_static_hold_still_teaches() -> None:
    for _ in range(2):
        in_sand(4.9)
    told = of_fine_sand()
    assert (len(told.used), told.beyond) == (2, 0)
    # Shown cut at 1, while what is held stays as it was calculated.
    assert told.found.posterior.pull_high > 1.0
    assert told.found.posterior.printed.pull_high == 1.0
    assert told.found.posterior.printed.low == told.found.posterior.low


def test_a_corrected_pull_counts_no_more() -> None:
    wrong = in_sand(2.0)
    pull_done(
        wrong.commitment,
        corrects=wrong,
        correction_reason="Not read at all.",
        load_source="not read",
        hook_load_lbf=None,
    )
    assert not of_fine_sand().used


def test_a_factor_is_taken_into_the_rules_as_a_change_with_its_source() -> None:
    for _ in range(3):
        in_sand(0.6)
    told = of_fine_sand()
    taken = take(told)
    soil = rules_in_force().soil(FINE)
    assert soil.factor == told.proposed < 0.20
    assert soil.factor_source.startswith("the yard’s own 3 pulls on 3 jobs, ")
    assert (taken.prior_factor, len(taken.pulls)) == (0.20, 3)
    assert ExtractionRules.objects.count() == 1
    again = of_fine_sand()
    assert again.is_taken
    # The prior is the table still: no pull counts twice.
    assert again.found.posterior == told.found.posterior


def test_answers_of_before_stay_as_they_were_and_the_next_one_knows_it() -> None:
    pulls = [in_sand(0.6) for _ in range(3)]
    take(of_fine_sand())
    assert [answer_fault(each.answer) for each in pulls] == ["", "", ""]
    later = in_sand(1.0)
    assert (later.expected_lbf or 0.0) < (pulls[0].expected_lbf or 0.0)


def test_what_is_learned_later_begins_from_the_table_also_after_another_change() -> None:
    for _ in range(3):
        in_sand(0.6)
    take(of_fine_sand())
    change_rules(
        submission_id=uuid.uuid4(),
        policy=replace(rules_in_force(), care_margin=1.5),
        reason="More care.",
        by=ManagerFactory(),
    )
    assert of_fine_sand().table.factor == 0.20


def test_a_factor_somebody_enters_by_hand_is_the_table_from_then_on() -> None:
    in_sand(0.6)
    rules = rules_in_force()
    soils = tuple(
        replace(each, factor=0.3, factor_source="our engineer") if each.name == FINE else each
        for each in rules.soils
    )
    change_rules(
        submission_id=uuid.uuid4(),
        policy=replace(rules, soils=soils),
        reason="Borings.",
        by=ManagerFactory(),
    )
    assert of_fine_sand().table.factor == 0.3


def test_a_second_copy_takes_it_once() -> None:
    for _ in range(3):
        in_sand(0.6)
    told, sent = of_fine_sand(), uuid.uuid4()
    assert take(told, submission_id=sent) == take(told, submission_id=sent)
    assert ExtractionRules.objects.count() == 1


def test_too_few_jobs_are_refused() -> None:
    in_sand(0.6)
    with pytest.raises(ValidationError, match="ask for 3"):
        take(of_fine_sand())


def test_pulls_that_came_since_are_looked_at_first() -> None:
    for _ in range(3):
        in_sand(0.6)
    told = of_fine_sand()
    in_sand(1.4)
    with pytest.raises(ValidationError, match="changed since you opened the page"):
        take(told)
    assert not ExtractionRules.objects.exists()


def test_it_takes_a_reason_and_a_soil_of_the_rules() -> None:
    for _ in range(3):
        in_sand(0.6)
    with pytest.raises(ValidationError, match="say what you looked at"):
        take(of_fine_sand(), reason=" ")
    with pytest.raises(ValidationError, match="not in the rules any more"):
        take(of_fine_sand(), soil="moon dust")


def test_the_learning_rules_change_for_a_reason_and_once() -> None:
    by, sent = ManagerFactory(), uuid.uuid4()
    policy = LearningPolicy(10.0, 80.0, 2)
    for _ in range(2):
        change_learning(submission_id=sent, policy=policy, reason="Slower.", by=by)
    assert learning_in_force() == policy
    with pytest.raises(ValidationError, match="Nothing differs"):
        change_learning(submission_id=uuid.uuid4(), policy=policy, reason="Again.", by=by)
    with pytest.raises(ValidationError, match="say why it changes"):
        change_learning(submission_id=uuid.uuid4(), policy=LearningPolicy(), reason="", by=by)


def test_pulls_inside_and_outside_the_range_are_told_with_how_sure_that_is() -> None:
    pulls = [in_sand(each) for each in (1.0, 1.2, 0.3, 3.0)]
    pulls.append(in_sand(1.0, outcome="did not come"))
    pulls.append(in_sand(3.0, outcome="did not come"))
    assert [within_range(each) for each in pulls] == [
        Within.INSIDE,
        Within.INSIDE,
        Within.BELOW,
        Within.ABOVE,
        Within.UNKNOWN,
        Within.ABOVE,
    ]
    found = calibration(pulls)
    assert (found.inside, found.told, found.not_told) == (2, 5, 1)
    # Clopper–Pearson, 90 % two-sided, 2 of 5 (their 1934 chart; by the beta quantiles).
    assert found.interval == pytest.approx((0.0764, 0.8107), abs=2e-3)


def test_they_are_compared_by_soil_and_pile() -> None:
    pulls = [in_sand(0.8), in_sand(1.0), in_sand(1.4), in_sand(2.0, outcome="did not come")]
    row = compared(pulls)[0]
    assert (row.soil, row.pile, row.pulls, row.jobs, row.stayed) == (FINE, "H-pile", 4, 4, 1)
    assert row.middle == pytest.approx(1.0)


def test_the_page_tells_prior_data_and_posterior_and_takes_it() -> None:
    for _ in range(3):
        in_sand(0.6)
    client = signed_in(ManagerFactory())
    page = words(client.get(reverse("pull-lessons")))
    assert "Rests on 3 pulls on 3 jobs" in page
    told = of_fine_sand()
    sent = {
        "submission_id": str(uuid.uuid4()),
        "soil": FINE,
        "factor": repr(told.proposed),
        "source": told.source,
        "reason": "",
    }
    refused = client.post(reverse("take-lesson"), sent)
    assert "say what you looked at" in words(refused)
    done = client.post(reverse("take-lesson"), sent | {"reason": "Read them all."})
    assert done.status_code == 302
    assert rules_in_force().soil(FINE).factor == told.proposed


def test_a_dispatcher_reads_it_and_takes_nothing() -> None:
    for _ in range(3):
        in_sand(0.6)
    client = signed_in(DispatcherFactory())
    assert "into the rules</button>" not in client.get(reverse("pull-lessons")).content.decode()
    assert client.post(reverse("take-lesson"), {}).status_code == 403


def test_bad_learning_rules_are_answered_beside_their_field() -> None:
    client = signed_in(ManagerFactory())
    sent = {
        "submission_id": str(uuid.uuid4()),
        "prior_pulls": "1",
        "least_share_pct": "120",
        "least_jobs": "2.5",
        "reason": "x",
    }
    page = words(client.post(reverse("change-lesson-rules"), sent))
    assert "“1” won’t do: give 2 or more" in page
    assert "“120” won’t do: give 50 or more" in page
    assert "is not a whole number" in page
