from __future__ import annotations

import csv
import re
import uuid
from datetime import timedelta
from io import StringIO
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from ratings.jobs.answer import recorded_answer
from ratings.jobs.commitments import release_unit
from ratings.jobs.validity import ReasonKey, commitments_of_unit
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.soil import Density, Layer, LayerKind
from ratings.models import Commitment, CommitmentCondition, PullRecord
from ratings.pulls.recording import PullDoubted
from tests.builders import count
from tests.factories import DispatcherFactory
from tests.inspections.field.sent import signed_in
from tests.job_builders import commit, extraction_job, figured_unit, pull_done
from tests.site.html_form import words as words_of

pytestmark = pytest.mark.django_db

SAND = (
    Layer(
        LayerKind.GRANULAR,
        0.0,
        50.0,
        120.0,
        density=Density.MEDIUM_DENSE_SAND,
        soil="round fine sand",
    ),
)
# Hook block, rigging, housing, exciter and clamp; the pile of 50 ft at 73 lb/ft.
UNIT_LB, PILE_LB = 2000.0 + 800.0 + 4000.0 + 8000.0 + 2000.0, 3650.0


@pytest.fixture
def made() -> Commitment:
    """A unit committed to a job of today."""
    return commit(figured_unit(), extraction_job(first_day=timezone.localdate(), count=4))


def refused(made: Commitment, field: str, words: str, **seen: Any) -> None:
    """The pull is refused at a field, also where doubts are said to be known; nothing is kept."""
    with pytest.raises(ValidationError) as refusal:
        pull_done(made, **seen)
    assert field in refusal.value.message_dict
    assert re.search(words, " ".join(refusal.value.message_dict[field]))
    assert not PullRecord.objects.exists()


def doubted(made: Commitment, field: str, words: str, **seen: Any) -> PullRecord:
    """The pull is doubted at a field, and recorded with the doubt where it is said to be right."""
    with pytest.raises(PullDoubted) as doubt:
        pull_done(made, are_doubts_known=False, **seen)
    assert re.search(words, " ".join(doubt.value.message_dict[field]))
    assert not PullRecord.objects.exists()
    pull = pull_done(made, **seen)
    assert pull.doubts
    return pull


def test_what_was_measured_is_the_hook_load_less_all_that_hangs(made: Commitment) -> None:
    pull = pull_done(made, hook_load_lbf=45_000.0, are_doubts_known=False)
    assert pull.weights_lb == pytest.approx(UNIT_LB + PILE_LB)
    assert pull.measured_lbf == pytest.approx(45_000.0 - UNIT_LB - PILE_LB)


def test_it_stands_beside_what_the_answer_calculated(made: Commitment) -> None:
    pull, answer = pull_done(made), recorded_answer(made.answer)
    assert pull.answer == made.answer
    assert pull.expected_lbf == pytest.approx(answer.ground.resistance_lbf)
    assert pull.low_lbf == pytest.approx(answer.ground.low_lbf)
    assert pull.high_lbf == pytest.approx(answer.ground.high_lbf)


def test_with_less_in_the_ground_less_was_to_be_expected(made: Commitment) -> None:
    answer = recorded_answer(made.answer)
    pull = pull_done(made, toe_depth_ft=25.0)
    assert pull.expected_lbf == pytest.approx(
        ground(answer.job, answer.policy, 25.0).resistance_lbf
    )
    assert (pull.expected_lbf or 0.0) < answer.ground.resistance_lbf


def test_by_the_crane_alone_it_stands_beside_the_hold_at_rest(made: Commitment) -> None:
    pull = pull_done(made, method="crane alone")
    assert pull.expected_lbf == pytest.approx(recorded_answer(made.answer).ground.static_lbf)
    assert pull.soil == ""


def test_an_indicator_read_with_the_hammer_free_takes_the_place_of_the_weights(
    made: Commitment,
) -> None:
    pull = pull_done(made, hook_load_lbf=45_000.0, tare_lbf=0.0)
    assert pull.measured_lbf == pytest.approx(45_000.0 - PILE_LB)


def test_the_soil_that_holds_most_is_kept_with_its_share() -> None:
    job = extraction_job(first_day=timezone.localdate(), layers=SAND, embedment_ft=30.0)
    pull = pull_done(commit(figured_unit(), job))
    assert pull.soil == "round fine sand"
    assert pull.soil_share == pytest.approx(1.0)
    assert pull.expected_lbf == pytest.approx(0.20 * (pull.soil_static_lbf or 0.0))


def test_a_pull_without_a_load_read_is_kept_and_measures_nothing(made: Commitment) -> None:
    pull = pull_done(made, load_source="not read", hook_load_lbf=None)
    assert (pull.measured_lbf, pull.ratio) == (None, None)


def test_a_pile_that_stayed_gives_a_lower_bound(made: Commitment) -> None:
    assert pull_done(made, outcome="did not come").is_lower_bound
    assert not pull_done(made, outcome="came in part").is_lower_bound


def test_a_second_copy_changes_nothing(made: Commitment) -> None:
    sent = uuid.uuid4()
    assert pull_done(made, submission_id=sent) == pull_done(made, submission_id=sent)
    assert PullRecord.objects.count() == 1


def test_a_form_sent_for_another_commitment_is_refused(made: Commitment) -> None:
    sent = uuid.uuid4()
    pull_done(made, submission_id=sent)
    other = commit(figured_unit(), extraction_job(first_day=timezone.localdate()))
    with pytest.raises(ValidationError, match="another commitment already"):
        pull_done(other, submission_id=sent)


def test_a_pile_that_is_out_is_not_pulled_twice(made: Commitment) -> None:
    pull_done(made, pile_mark="B3")
    with pytest.raises(ValidationError, match="Pile b3 came out"):
        pull_done(made, pile_mark="b3 ")
    assert pull_done(made, pile_mark="B4").pile_mark == "B4"


def test_more_piles_than_the_group_has_are_doubted() -> None:
    job = extraction_job(first_day=timezone.localdate(), count=2)
    made = commit(figured_unit(), job)
    first = pull_done(made, pile_mark="1", are_doubts_known=False)
    pull_done(made, pile_mark="2", are_doubts_known=False)
    with pytest.raises(PullDoubted, match="All 2 piles of this group are out already"):
        pull_done(made, pile_mark="3", are_doubts_known=False)
    told: dict[str, Any] = {"corrects": first, "correction_reason": "It was pile 3."}
    assert pull_done(made, pile_mark="3", are_doubts_known=False, **told).doubts == []


def test_nor_by_another_unit_of_the_same_job(made: Commitment) -> None:
    pull_done(made, pile_mark="B3")
    other = commit(figured_unit(), made.job)
    with pytest.raises(ValidationError, match="Pile B3 came out"):
        pull_done(other, pile_mark="B3")


def test_a_pile_that_stayed_is_tried_again(made: Commitment) -> None:
    pull_done(made, outcome="did not come", pulled_at=timezone.now())
    assert pull_done(made).outcome == "came"


def test_a_pull_before_its_commitment_is_refused(made: Commitment) -> None:
    early = made.answer.recorded_at - timedelta(hours=2)
    refused(made, "pulled_at", "before .* was committed", pulled_at=early)


def test_a_pull_after_its_release_is_refused(made: Commitment) -> None:
    release_unit(commitment=made, reason="Done early.", by=DispatcherFactory())
    later = timezone.now() + timedelta(minutes=5)
    refused(made, "pulled_at", "after .* was released", pulled_at=later)


def test_a_pull_before_a_release_is_recorded_after_it(made: Commitment) -> None:
    at = timezone.now()
    release_unit(commitment=made, reason="Done early.", by=DispatcherFactory())
    assert pull_done(made, pulled_at=at).pk


def test_a_pull_to_come_is_refused(made: Commitment) -> None:
    refused(made, "pulled_at", "in the future", pulled_at=timezone.now() + timedelta(days=1))


def test_a_day_it_was_not_committed_for_is_doubted() -> None:
    made = commit(
        figured_unit(), extraction_job(first_day=timezone.localdate() + timedelta(days=3))
    )
    pull = doubted(made, "pulled_at", "not of the days")
    assert pull.doubts == ["not its days"]


def test_the_pull_at_the_pads_typed_for_the_hook_load_is_doubted(made: Commitment) -> None:
    # Eight sound pads of 1,000 lbf/in at 4.5 in, as the answer has them.
    pads_lbf = recorded_answer(made.answer)
    from ratings.pulls.sheet_answer import pads_pull_lbf

    at_pads = pads_pull_lbf(pads_lbf.unit, 4.5) or 0.0
    pull = doubted(
        made, "hook_load_lbf", "the pads alone carry", hook_load_lbf=at_pads, stretch_in=4.5
    )
    assert "read as the pads’ pull" in pull.doubts


def test_less_than_what_hangs_is_refused_and_kilonewtons_are_recognised(made: Commitment) -> None:
    refused(made, "hook_load_lbf", "not the pull at the pads", hook_load_lbf=15_000.0)
    refused(made, "hook_load_lbf", "as kN it would be 60,0", hook_load_lbf=267.0)


def test_a_load_above_the_crane_is_doubted(made: Commitment) -> None:
    pull = doubted(made, "hook_load_lbf", "above the crane’s capacity", hook_load_lbf=120_001.0)
    assert pull.doubts == [
        "above the pads",
        "above the crane",
        "above the rigging",
        "above the clamp",
    ]


def test_a_load_is_held_against_each_limit_by_the_weights_that_hang_on_it(
    made: Commitment,
) -> None:
    # Hook block, rigging and housing hang above the pads.
    words = "53,200 lbf at the pads, above their working capacity"
    pull = doubted(made, "hook_load_lbf", words, hook_load_lbf=60_000.0)
    assert pull.doubts == ["above the pads"]
    # Of an indicator set to nothing beforehand the same pull reads less by the whole unit.
    words = "at the pads, above their working capacity"
    with pytest.raises(PullDoubted, match=words):
        pull_done(made, tare_lbf=0.0, pile_mark="2", are_doubts_known=False)


def test_an_overload_is_open_until_a_later_full_count() -> None:
    unit = figured_unit()
    made = commit(unit, extraction_job(first_day=timezone.localdate()))
    pull = pull_done(made, hook_load_lbf=60_000.0)
    (now,) = commitments_of_unit(unit.housing)
    assert (now.word, now.lead) == ("void", "Do not send it out.")
    assert "overloaded in a pull on" in now.words
    client = signed_in(DispatcherFactory())
    for name, key in (("unit", unit.housing.pk), ("commitment", made.pk), ("board", None)):
        url = reverse(name, args=[key] if key else [])
        assert pull.overload_words in words_of(client.get(url)).replace("Overloaded", "overloaded")
    count(unit.housing, unit.manager, unit.lot, at=timezone.now())
    assert not PullRecord.objects.open_overloads({unit.housing.pk: timezone.now()})
    (now,) = commitments_of_unit(unit.housing)
    assert ReasonKey.OVERLOAD not in now.keys
    assert "overloaded" not in words_of(client.get(reverse("board")))


def test_an_overload_that_was_misread_and_corrected_is_none(made: Commitment) -> None:
    wrong = pull_done(made, hook_load_lbf=60_000.0)
    assert PullRecord.objects.open_overloads({made.housing_id: None}) == {made.housing_id: wrong}
    pull_done(made, corrects=wrong, correction_reason="Misread.")
    assert not PullRecord.objects.open_overloads({made.housing_id: None})


def test_a_pull_on_a_void_sheet_is_doubted_and_before_it_was_void_is_not() -> None:
    unit = figured_unit()
    made = commit(unit, extraction_job(first_day=timezone.localdate(), count=4))
    before = timezone.now()
    faults = {f"A{number}": "cracked" for number in (1, 2, 3)}
    count(unit.housing, unit.manager, unit.lot, unsound=faults, at=timezone.now())
    pull = doubted(made, "pulled_at", "no sheet was valid then: The standing of .* fell")
    assert pull.doubts == ["no valid sheet"]
    assert pull_done(made, pile_mark="2", pulled_at=before, are_doubts_known=False).doubts == []


def test_a_pull_before_its_commitment_is_confirmed_is_doubted_and_not_offered() -> None:
    made = commit(figured_unit(), extraction_job(first_day=timezone.localdate()))
    CommitmentCondition.objects.create(
        submission_id=uuid.uuid4(),
        commitment=made,
        kind="other",
        words="Permit to come.",
        from_day=made.first_day,
        to_day=made.first_day,
        recorded_by=DispatcherFactory(),
    )
    pull = doubted(made, "pulled_at", "no sheet was valid then: what it was promised on was not")
    assert pull.doubts == ["no valid sheet"]
    page = signed_in(DispatcherFactory()).get(reverse("commitment", args=[made.pk]))
    assert "Record a pull" not in words_of(page)


def test_a_stretch_beyond_the_usable_travel_is_doubted_and_beyond_the_stops_refused(
    made: Commitment,
) -> None:
    refused(made, "stretch_in", "meets its stops at 8 in", stretch_in=8.5)
    usable = recorded_answer(made.answer).unit.usable_travel_in or 0.0
    pull = doubted(made, "stretch_in", "beyond the usable travel", stretch_in=usable + 0.1)
    assert "beyond usable travel" in pull.doubts


def test_a_toe_deeper_than_the_pile_stood_is_refused(made: Commitment) -> None:
    refused(made, "toe_depth_ft", "deeper than the pile stood, 40 ft", toe_depth_ft=41.0)


def test_another_way_of_pulling_than_the_answer_is_doubted() -> None:
    job = extraction_job(
        first_day=timezone.localdate(),
        method="by the crane alone, hammer still",
        layers=SAND,
        embedment_ft=8.0,
    )
    pull = doubted(commit(figured_unit(), job), "method", "calculated for a pull by the crane")
    assert pull.doubts == ["other method"]


@pytest.mark.parametrize(
    ("seen", "field", "words"),
    [
        ({"pile_mark": "  "}, "pile_mark", "blank"),
        ({"pile_group": 7}, "pile_group", "no piles of number 7"),
        ({"outcome": "perhaps"}, "outcome", "whether it came"),
        ({"method": "pushed"}, "method", "how it was pulled"),
        ({"load_source": "guessed"}, "load_source", "whether the hook load was read"),
        ({"hook_load_lbf": None}, "hook_load_lbf", "say that it was not read"),
        ({"load_source": "not read"}, "load_source", "A guess is no reading"),
        (
            {"load_source": "not read", "hook_load_lbf": None, "tare_lbf": 100.0},
            "tare_lbf",
            "leave this blank",
        ),
        ({"tare_lbf": 60_000.0}, "tare_lbf", "not less than the highest"),
        ({"hook_load_lbf": -5.0}, "hook_load_lbf", "more than 0"),
        ({"hook_load_lbf": 1e9}, "hook_load_lbf", "up to 10,000,000"),
        ({"stretch_in": -1.0}, "stretch_in", "0 in or more"),
        ({"minutes": 0.0}, "minutes", "more than 0"),
        ({"minutes": 5_000.0}, "minutes", "up to 1,440"),
        ({"toe_depth_ft": 0.0}, "toe_depth_ft", "more than 0"),
        ({"toe_depth_ft": float("nan")}, "toe_depth_ft", "won’t do"),
    ],
)
def test_bad_input_is_refused_at_its_field(
    made: Commitment, seen: dict[str, Any], field: str, words: str
) -> None:
    refused(made, field, words, **seen)


def test_a_later_record_corrects_an_earlier_one_for_a_reason(made: Commitment) -> None:
    wrong = pull_done(made)
    with pytest.raises(ValidationError, match="why it is corrected"):
        pull_done(made, corrects=wrong)
    right = pull_done(made, corrects=wrong, correction_reason="Read in kN.", hook_load_lbf=70_000.0)
    assert list(PullRecord.objects.standing()) == [right]
    with pytest.raises(ValidationError, match="was corrected already"):
        pull_done(made, corrects=wrong, correction_reason="Again.")


def test_the_database_refuses_to_change_or_remove_a_pull(made: Commitment) -> None:
    pull = pull_done(made)
    for change in (
        lambda: PullRecord.objects.update(outcome="broke"),
        lambda: PullRecord.objects.filter(pk=pull.pk).delete(),
    ):
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
            change()
    pull.refresh_from_db()
    assert pull.outcome == "came"


def test_the_database_refuses_a_load_that_was_not_read(made: Commitment) -> None:
    pull = pull_done(made)
    pull.pk, pull.submission_id, pull.load_source = None, uuid.uuid4(), "not read"
    with pytest.raises(IntegrityError), transaction.atomic():
        pull.save(force_insert=True)


def test_pulls_are_sent_as_a_file_that_no_spreadsheet_runs() -> None:
    made = commit(figured_unit(), extraction_job(site="=2+2", layers=SAND))
    pull_done(made, in_the_way="-boulder")
    pull_done(made, pile_mark="2", outcome="did not come", hook_load_lbf=40_000.0)
    client = signed_in(DispatcherFactory())
    sent = client.get(reverse("pulls-csv"))
    assert sent["Content-Type"] == "text/csv; charset=utf-8"
    assert 'filename="pulls-' in sent["Content-Disposition"]
    rows = list(csv.DictReader(StringIO(sent.content.decode())))
    assert [row["pile"] for row in rows] == ["2", "1"]
    assert rows[1]["job"] == "'=2+2"
    assert rows[1]["in_the_way"] == "'-boulder"
    assert float(rows[1]["hook_load_lbf"]) == 45_000.0
    narrowed = client.get(reverse("pulls-csv") + "?outcome=came&sort=pk&page=9")
    assert [row["pile"] for row in csv.DictReader(StringIO(narrowed.content.decode()))] == ["1"]
