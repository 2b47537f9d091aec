from __future__ import annotations

import json
import uuid
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from io import StringIO
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.db import DatabaseError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django.utils.timezone import localdate

from fleet.models import SuppressorHousing
from ratings.jobs import candidates
from ratings.jobs.commitments import (
    CannotCommit,
    CareNotKnown,
    NotWatched,
    commit_unit,
    release_unit,
)
from ratings.jobs.recording import save_job
from ratings.jobs.rules import change_rules
from ratings.jobs.validity import commitment_now
from ratings.ledger.answers import answer_fault
from ratings.ledger.canonical import canonical_text, digest
from ratings.mechanics.extraction.record import verdict_again
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.record import read_inputs, results_of_format
from ratings.models import Commitment, ExtractionJob, JobAnswer, LedgerEntry
from ratings.mounting import mount_housing
from tests.builders import Unit, count
from tests.conftest import append_only_lifted
from tests.factories import DispatcherFactory
from tests.job_builders import GROUND, PILE, commit, extraction_job, figured_unit
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def day() -> date:
    return localdate() + timedelta(days=2)


def held(unit: Unit, job: ExtractionJob, first: date, last: date, **changes: Any) -> Commitment:
    """A commitment put in by hand, past every function that looks first."""
    answer = JobAnswer.objects.latest("pk")
    copy = JobAnswer.objects.create(
        submission_id=uuid.uuid4(),
        job=job,
        housing=answer.housing,
        hammer=answer.hammer,
        entry=answer.entry,
        verdict=answer.verdict,
        document=answer.document,
        hash=answer.hash,
        recorded_by=answer.recorded_by,
    )
    plain = {"housing": answer.housing, "hammer": answer.hammer}
    return Commitment.objects.create(
        answer=copy, job=job, first_day=first, last_day=last, **plain | changes
    )


def test_a_suitable_unit_is_committed_for_the_days_of_the_job() -> None:
    unit, job = figured_unit(), extraction_job(first_day=day(), days=3)
    made = commit(unit, job)
    assert (made.first_day, made.last_day) == (day(), day() + timedelta(days=2))
    assert made.answer.entry == unit.housing.current_rating.head


def test_a_second_copy_commits_once() -> None:
    unit, job = figured_unit(), extraction_job()
    sent = uuid.uuid4()
    for _ in range(2):
        commit_unit(
            is_care_known=True,
            watched_by="Odd Brandt",
            submission_id=sent,
            job=job,
            housing=unit.housing,
            by=DispatcherFactory(),
        )
    assert Commitment.objects.count() == 1


def test_a_form_sent_for_one_unit_commits_no_other() -> None:
    unit, other, by = figured_unit(), figured_unit(), DispatcherFactory()
    sent: dict[str, Any] = {"submission_id": uuid.uuid4(), "job": extraction_job(), "by": by}
    commit_unit(is_care_known=True, watched_by="Odd Brandt", housing=unit.housing, **sent)
    with pytest.raises(CannotCommit, match=f"sent for {unit.housing} already"):
        commit_unit(is_care_known=True, watched_by="Odd Brandt", housing=other.housing, **sent)


def test_a_unit_that_takes_care_is_committed_by_nobody_who_does_not_say_that_they_know() -> None:
    sent: Any = {
        "housing": figured_unit().housing,
        "job": extraction_job(),
        "by": DispatcherFactory(),
    }
    with pytest.raises(CareNotKnown, match="knows that it is suitable with care only"):
        commit_unit(submission_id=uuid.uuid4(), **sent)
    assert not JobAnswer.objects.exists()


@pytest.mark.parametrize(
    ("named", "said"),
    [("", "Who watches the pull is blank"), ("  ", "is blank"), ("x" * 81, "has 81 characters")],
)
def test_nor_by_anybody_who_does_not_name_who_watches_the_pull(named: str, said: str) -> None:
    with pytest.raises(NotWatched, match=said) as refusal:
        commit_unit(
            submission_id=uuid.uuid4(),
            housing=figured_unit().housing,
            job=extraction_job(),
            by=DispatcherFactory(),
            is_care_known=True,
            watched_by=named,
        )
    assert list(refusal.value.message_dict) == ["watched_by"]
    assert not JobAnswer.objects.exists()


def test_a_unit_suitable_outright_asks_nobody_what_they_know() -> None:
    unit = figured_unit(rate_lbf_in=1500.0)
    sent: Any = {"housing": unit.housing, "job": extraction_job(), "by": DispatcherFactory()}
    assert commit_unit(submission_id=uuid.uuid4(), **sent).housing == unit.housing


def test_a_unit_that_is_not_suitable_is_refused_with_what_governs() -> None:
    unit = figured_unit({"clamp_force_lbf": 20_000.0})
    with pytest.raises(CannotCommit, match=r"not suitable for this job \(clamp grip\)"):
        commit(unit)
    assert not JobAnswer.objects.exists()


def test_a_unit_whose_conditions_are_not_met_is_refused_with_which() -> None:
    unit = figured_unit(listed_lbf=90_000)
    with pytest.raises(CannotCommit, match="not ready for this job: its standing"):
        commit(unit)
    assert not JobAnswer.objects.exists()


def test_a_unit_that_cannot_be_judged_is_refused() -> None:
    unit = figured_unit({"eccentric_moment_lb_in": None})
    with pytest.raises(CannotCommit, match="cannot be judged"):
        commit(unit)


def test_a_unit_held_by_another_job_is_refused() -> None:
    unit = figured_unit()
    commit(unit, extraction_job(first_day=day(), site="Lock gate"))
    with pytest.raises(CannotCommit, match=r"held by Lock gate, .*release it there"):
        commit(unit, extraction_job(first_day=day() + timedelta(days=2)))
    assert JobAnswer.objects.count() == 1


def test_a_unit_is_committed_to_one_job_once() -> None:
    unit, job = figured_unit(), extraction_job()
    commit(unit, job)
    with pytest.raises(CannotCommit, match="held by Ferry slip"):
        commit(unit, job)


def test_where_two_jobs_ask_at_once_the_refusal_of_the_database_is_told_plainly(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    unit = figured_unit()
    commit(unit, extraction_job(first_day=day()))
    # As if the other had been put in between the look and the write.
    monkeypatch.setattr(candidates, "commitments_overlapping", lambda *_: ({}, {}))
    with pytest.raises(CannotCommit, match="held by another job on some of these days"):
        commit(unit, extraction_job(first_day=day()))
    assert JobAnswer.objects.count() == 1


def test_a_housing_on_no_hammer_is_refused() -> None:
    unit = figured_unit()
    mount_housing(housing=unit.housing, hammer=None, at=timezone.now(), by=unit.manager)
    with pytest.raises(CannotCommit, match="on no hammer"):
        commit(unit)


def test_the_database_refuses_days_that_overlap() -> None:
    unit = figured_unit()
    job = extraction_job(first_day=day(), days=3)
    commit(unit, job)
    with pytest.raises(DatabaseError, match=r"overlap|held by"), transaction.atomic():
        held(unit, job, day() + timedelta(days=2), day() + timedelta(days=5))


def test_the_database_refuses_one_hammer_under_two_housings_on_one_day() -> None:
    unit, other = figured_unit(), figured_unit()
    job = extraction_job(first_day=day(), days=3)
    commit(unit, job)
    with pytest.raises(DatabaseError, match=r"overlap|held by"), transaction.atomic():
        held(unit, job, day(), day(), housing=other.housing)


def test_the_database_refuses_days_moved_onto_others() -> None:
    unit = figured_unit()
    job = extraction_job(first_day=day(), days=3)
    commit(unit, job)
    later = held(unit, job, day() + timedelta(days=3), day() + timedelta(days=4))
    with pytest.raises(DatabaseError, match=r"overlap|held by"), transaction.atomic():
        Commitment.objects.filter(pk=later.pk).update(first_day=day())


def test_the_database_refuses_a_hammer_moved_onto_days_it_is_held() -> None:
    unit, other = figured_unit(), figured_unit()
    job = extraction_job(first_day=day(), days=3)
    commit(unit, job)
    elsewhere = held(unit, job, day(), day(), housing=other.housing, hammer=other.hammer)
    with pytest.raises(DatabaseError, match=r"overlap|held by"), transaction.atomic():
        Commitment.objects.filter(pk=elsewhere.pk).update(hammer=unit.hammer)


def test_to_the_database_a_released_commitment_holds_nothing_until_it_is_taken_back() -> None:
    unit, job = figured_unit(), extraction_job(first_day=day(), days=3)
    first = commit(unit, job)
    release_unit(commitment=first, reason="Rained off.", by=DispatcherFactory())
    held(unit, job, day(), day() + timedelta(days=2))
    with pytest.raises(DatabaseError, match=r"overlap|held by"), transaction.atomic():
        Commitment.objects.filter(pk=first.pk).update(
            released_at=None, released_by=None, release_reason=""
        )


def test_days_that_touch_do_not_overlap() -> None:
    unit = figured_unit()
    commit(unit, extraction_job(first_day=day(), days=3))
    commit(unit, extraction_job(first_day=day() + timedelta(days=3), days=3))
    assert Commitment.objects.count() == 2


def test_a_released_unit_may_be_committed_again() -> None:
    unit, job = figured_unit(), extraction_job()
    release_unit(commitment=commit(unit, job), reason="Rained off.", by=DispatcherFactory())
    assert commit(unit, job).is_in_force


def test_a_release_wants_a_reason() -> None:
    made = commit(figured_unit())
    with pytest.raises(ValidationError, match="say why"):
        release_unit(commitment=made, reason=" ", by=DispatcherFactory())


def test_it_is_void_once_the_rating_changes() -> None:
    unit = figured_unit()
    made = commit(unit)
    assert not commitment_now(made.pk).is_void
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=timezone.now())
    assert commitment_now(made.pk).is_void


def test_an_answer_recomputes_from_its_document_alone() -> None:
    unit, job = figured_unit(), extraction_job()
    answer = commit(unit, job).answer
    save_job(
        submission_id=uuid.uuid4(),
        job=job,
        fields={},
        piles=[PILE | {"embedment_ft": 12.0}],
        layers=GROUND,
        distances={},
        by=DispatcherFactory(),
    )
    SuppressorHousing.objects.filter(pk=unit.housing.pk).update(weight_lb=9.0)
    change_rules(
        submission_id=uuid.uuid4(),
        policy=replace(ExtractionPolicy(), care_margin=9.0),
        reason="A wet season.",
        by=DispatcherFactory(),
    )
    answer.refresh_from_db()
    assert answer_fault(answer) == ""
    assert answer.contents["piles"][0]["job"]["pile"]["embedment_ft"] == 40.0


def test_an_answer_names_the_rating_it_used() -> None:
    answer = commit(figured_unit()).answer
    assert answer.contents["ledger"] == {
        "sequence": answer.entry.sequence,
        "hash": answer.entry.hash,
    }
    assert answer.contents["housing"] == answer.housing.mark
    assert answer.contents["verdict"]["verdict"] == answer.verdict


def test_the_days_of_a_job_that_holds_units_do_not_change() -> None:
    unit, job = figured_unit(), extraction_job(first_day=day())
    commit(unit, job)
    with pytest.raises(ValidationError, match="release it first"):
        save_job(
            submission_id=uuid.uuid4(),
            job=job,
            fields={"first_day": day() + timedelta(days=1)},
            piles=[PILE],
            layers=GROUND,
            distances={},
            by=DispatcherFactory(),
        )


def test_an_answer_tampered_with_is_found() -> None:
    answer = commit(figured_unit()).answer
    contents = json.loads(answer.document)
    contents["piles"][0]["job"]["crane"]["capacity_lbf"] = 999_000
    with append_only_lifted():
        JobAnswer.objects.filter(pk=answer.pk).update(document=json.dumps(contents))
    answer.refresh_from_db()
    assert "hash" in answer_fault(answer)
    with pytest.raises(CommandError, match="does not hold"):
        call_command("ledger", "verify")


def forge(
    answer: JobAnswer, change: Callable[[dict[str, Any]], None], *, is_judged_again: bool = False
) -> JobAnswer:
    """Change an answer's document and give it the hash that fits, as a forger would.

    is_judged_again: whether the forger also gives it the verdict that its inputs come to.
    """
    contents = answer.contents
    change(contents)
    if is_judged_again:
        contents["verdict"] = verdict_again(contents)
    document = canonical_text(contents)
    with append_only_lifted():
        JobAnswer.objects.filter(pk=answer.pk).update(
            document=document,
            hash=digest(document),
            verdict=verdict_again(contents)["verdict"] if is_judged_again else answer.verdict,
        )
    return JobAnswer.objects.get(pk=answer.pk)


@pytest.mark.parametrize(
    ("part", "name", "value", "said"),
    [
        ("verdict", "margin", 9.5, "margin is written as 9.5 but its inputs give 1.2"),
        ("verdict", "verdict", "suitable", "verdict is written as"),
        ("policy", "care_margin", 1.0, "but its inputs give"),
        ("ledger", "hash", "0" * 64, "ledger is stored as"),
        ("unit", "frequency_vpm", "fast", "can’t be read"),
    ],
)
def test_an_answer_forged_with_the_hash_that_fits_is_found(
    part: str, name: str, value: Any, said: str
) -> None:
    answer = forge(
        commit(figured_unit()).answer, lambda contents: contents[part].update({name: value})
    )
    assert said in answer_fault(answer)


def stronger(unit: dict[str, Any]) -> None:
    """Rate the pads of an answer half as high again."""
    for name in ("groups", "stiff_groups"):
        for group in unit[name]:
            group["rate_lbf_in"] *= 1.5
            for knot in group["curve"]["knots"]:
                knot["force_lbf"] *= 1.5
                knot["slope_lbf_in"] *= 1.5


@pytest.mark.parametrize(
    ("change", "name"),
    [
        (stronger, "pads"),
        (lambda unit: unit.update(usable_travel_in=7.5), "usable travel"),
        (lambda unit: unit.update(standing="not proven"), "standing"),
        (lambda unit: unit.update(confidence=0.9), "confidence"),
        (lambda unit: unit.pop("stiff_groups"), "pads at their full force"),
    ],
)
def test_an_answer_is_held_to_the_entry_it_names(
    change: Callable[[dict[str, Any]], None], name: str
) -> None:
    answer = commit(figured_unit()).answer
    answer = forge(answer, lambda contents: change(contents["unit"]), is_judged_again=True)
    assert f"its unit’s {name} is not what ledger entry" in answer_fault(answer)
    with pytest.raises(CommandError, match="does not hold"):
        call_command("ledger", "verify")


def of_format(number: int, entry: LedgerEntry) -> None:
    """Write an entry as one of an earlier method is written."""
    contents = entry.contents
    contents |= {"format": number, "results": results_of_format(number, read_inputs(entry.inputs))}
    with append_only_lifted():
        LedgerEntry.objects.filter(pk=entry.pk).update(document=canonical_text(contents))


def test_an_answer_on_an_entry_of_the_third_method_is_held_to_all_it_says() -> None:
    answer = commit(figured_unit()).answer
    of_format(3, answer.entry)
    assert answer_fault(JobAnswer.objects.get(pk=answer.pk)) == ""
    answer = forge(
        answer, lambda contents: contents["unit"].update(confidence=0.9), is_judged_again=True
    )
    assert "its unit’s confidence is not what ledger entry" in answer_fault(answer)


def test_of_an_answer_that_is_not_its_entry_no_sheet_prints(manager_client: Client) -> None:
    made = commit(figured_unit())
    forge(made.answer, lambda contents: stronger(contents["unit"]), is_judged_again=True)
    page = manager_client.get(reverse("pull-sheet", args=[made.pk]))
    assert page.status_code == 409
    assert "The answer on record does not hold: what it says of its unit’s pads" in words(page)


def test_an_answer_of_a_format_not_known_does_not_pass() -> None:
    answer = forge(commit(figured_unit()).answer, lambda contents: contents.update({"format": 99}))
    assert "format 99 is not known" in answer_fault(answer)


def test_a_commitment_moved_to_days_of_no_answer_is_found() -> None:
    made = commit(figured_unit())
    Commitment.objects.filter(pk=made.pk).update(last_day=made.last_day + timedelta(days=1))
    answer = JobAnswer.objects.get(pk=made.answer_id)
    assert "last_day is stored as" in answer_fault(answer)


def test_the_command_says_how_many_answers_hold() -> None:
    commit(figured_unit())
    commit(figured_unit())
    out = StringIO()
    call_command("ledger", "verify", stdout=out)
    assert "2 answers given to jobs hold" in out.getvalue()


def test_the_database_refuses_to_change_an_answer() -> None:
    answer = commit(figured_unit()).answer
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        JobAnswer.objects.filter(pk=answer.pk).update(verdict="suitable")
