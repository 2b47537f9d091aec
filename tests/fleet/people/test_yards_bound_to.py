"""Whoever is bound to yards acts only on what stands there."""

from __future__ import annotations

import ast
import importlib
import inspect
import pkgutil
import uuid
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

import fleet
import inspections
import ratings
from fleet import clock
from fleet.housings import lock_housing
from fleet.machines.recording import fit_clamp
from fleet.models import (
    Mounting,
    OutOfService,
    PersonChange,
    SuppressorHousing,
    Yard,
    YardBinding,
    YardBindingEnd,
)
from fleet.outages import take_out_of_service
from fleet.people.places import EVERY_YARD
from fleet.people.recording import bind_to_yards, change_access, enter_person
from fleet.people.yards import (
    TOUCHES,
    BoundElsewhere,
    Touches,
    in_yard_of,
    must_act_in,
    touches_of,
    yards_bound_to,
)
from fleet.setup.recording import change_thing
from fleet.stock import move_between_yards, move_stock
from inspections.count.signing import Seen, sign_inspection
from inspections.count.submission import Submission
from inspections.forecast.planned import plan_hours
from inspections.models import Inspection, PlannedHours, RepairLine
from ratings.jobs.commitments import release_unit
from ratings.jobs.recording import save_job
from ratings.lots.correcting import correct_lot
from ratings.lots.entering import keep_lot
from ratings.lots.recording import approve_rating, withdraw_rating
from ratings.models import (
    Commitment,
    GaugeCalibration,
    JobAttachment,
    Listing,
    Proposal,
    PullRecord,
)
from ratings.mounting import mount_housing
from ratings.proposals.recording import confirm_proposal, turn_down
from ratings.transfers.recording import plan_transfer, record_arrival
from tests.builders import (
    MONDAY,
    Unit,
    approve,
    count,
    drafted_test,
    list_hammer,
    ordered_repair,
    pads,
    proposed_listing,
    rated_unit,
    used_part,
)
from tests.factories import (
    ClampFactory,
    GaugeFactory,
    HammerFactory,
    HousingFactory,
    ManagerFactory,
    PadLotFactory,
    TestStandFactory,
    YardFactory,
)
from tests.fleet.people.bound import bound_to
from tests.job_builders import (
    GROUND,
    PILE,
    attached,
    commit,
    extraction_job,
    figured_unit,
    pull_done,
)
from tests.site.html_form import words
from tests.stand_builders import calibrate

pytestmark = pytest.mark.django_db


@pytest.fixture
def elsewhere() -> User:
    """A manager bound to a yard in which nothing stands."""
    return bound_to(YardFactory(name="North Pier"))


@pytest.fixture
def after_the_gate(monkeypatch: pytest.MonkeyPatch) -> Callable[[Callable[[], object]], None]:
    """Have something happen between the first look of the gate and what is locked after it."""
    real = Touches.refuse

    def happens(what: Callable[[], object]) -> None:
        waiting = [what]

        def refuse(touches: Touches, person: User, given: Any) -> Any:
            found = real(touches, person, given)
            while waiting:
                waiting.pop()()
            return found

        monkeypatch.setattr(Touches, "refuse", refuse)

    return happens


# Binding somebody


def test_whoever_is_bound_to_none_acts_in_every_yard() -> None:
    must_act_in(ManagerFactory(), YardFactory(), EVERY_YARD)


def test_a_binding_is_on_record_with_its_reason_and_its_end() -> None:
    one, other, manager, person = YardFactory(), YardFactory(), ManagerFactory(), ManagerFactory()
    for yards, why in (([one, other], "Two yards"), ([other], "Left the first"), ([], "Back")):
        bind_to_yards(submission_id=uuid.uuid4(), user=person, yards=yards, reason=why, by=manager)
    assert yards_bound_to(User.objects.get(pk=person.pk)) == ()
    told = {each.yard: (each.reason, each.end.reason) for each in YardBinding.objects.all()}
    assert told == {one: ("Two yards", "Left the first"), other: ("Two yards", "Back")}
    changes = PersonChange.objects.filter(user=person, kind="bound").order_by("pk")
    assert [each.after for each in changes][1:] == [other.name, "every yard"]


def test_somebody_is_bound_to_a_yard_again_once_that_was_lifted() -> None:
    yard, manager, person = YardFactory(), ManagerFactory(), ManagerFactory()
    for yards in ([yard], [], [yard]):
        bind_to_yards(
            submission_id=uuid.uuid4(), user=person, yards=yards, reason="Season", by=manager
        )
    assert [each.turn for each in person.bindings_to_yards.order_by("turn")] == [1, 2]
    assert person.bindings_to_yards.in_force().get().turn == 2


def test_a_second_copy_of_a_binding_changes_nothing() -> None:
    yard, manager, person, key = YardFactory(), ManagerFactory(), ManagerFactory(), uuid.uuid4()
    for _ in range(2):
        bind_to_yards(submission_id=key, user=person, yards=[yard], reason="Season", by=manager)
    assert YardBinding.objects.count() == 1


@pytest.mark.parametrize("case", ["own", "same", "blank"])
def test_a_binding_that_cannot_be_is_refused_in_words(case: str) -> None:
    manager, yard = ManagerFactory(), YardFactory()
    user = manager if case == "own" else ManagerFactory()
    yards = [] if case == "same" else [yard]
    said = {"own": "This is yourself", "same": "acts in every yard already", "blank": "say why"}
    with pytest.raises(ValidationError, match=said[case]):
        bind_to_yards(
            submission_id=uuid.uuid4(),
            user=user,
            yards=yards,
            reason=" " if case == "blank" else "Season",
            by=manager,
        )
    assert not YardBinding.objects.exists()


def test_who_is_bound_frees_nobody_not_even_who_bound_them(elsewhere: User) -> None:
    other = bound_to(YardFactory())
    for yards in ([], [YardFactory()]):
        with pytest.raises(BoundElsewhere, match="This concerns every yard"):
            bind_to_yards(
                submission_id=uuid.uuid4(), user=other, yards=yards, reason="Help", by=elsewhere
            )


def test_two_who_bind_each_other_at_one_moment_leave_one_who_is_free() -> None:
    one, other, yard = ManagerFactory(), ManagerFactory(), YardFactory()
    # As read when each page was opened, before the other was bound.
    assert yards_bound_to(other) == ()
    first: dict[str, Any] = {"yards": [yard], "reason": "Season"}
    bind_to_yards(submission_id=uuid.uuid4(), user=User.objects.get(pk=other.pk), by=one, **first)
    with pytest.raises(BoundElsewhere):
        bind_to_yards(submission_id=uuid.uuid4(), user=one, by=other, **first)


def test_who_was_bound_a_moment_ago_shuts_nobody_out() -> None:
    one, other = ManagerFactory(), ManagerFactory()
    # As read when the page was opened.
    assert yards_bound_to(other) == ()
    bind_to_yards(
        submission_id=uuid.uuid4(),
        user=User.objects.get(pk=other.pk),
        yards=[YardFactory()],
        reason="Season",
        by=one,
    )
    with pytest.raises(BoundElsewhere):
        change_access(
            submission_id=uuid.uuid4(), user=one, may_sign_in=False, reason="Left", by=other
        )


def test_the_database_holds_one_binding_of_a_yard_at_a_time() -> None:
    yard = YardFactory()
    person = bound_to(yard)
    first = YardBinding.objects.get()
    common: dict[str, Any] = {"user": person, "yard": yard, "reason": "Twice"}
    for turn in ({"turn": 1}, {"turn": 2}):
        with pytest.raises(IntegrityError), transaction.atomic():
            YardBinding.objects.create(
                submission_id=uuid.uuid4(), recorded_by=first.recorded_by, **turn, **common
            )


def test_the_database_lets_nobody_bind_themselves() -> None:
    person = ManagerFactory()
    with pytest.raises(IntegrityError), transaction.atomic():
        YardBinding.objects.create(
            submission_id=uuid.uuid4(),
            user=person,
            yard=YardFactory(),
            reason="Mine",
            recorded_by=person,
        )


def test_bindings_and_their_ends_are_never_changed_or_removed() -> None:
    person = bound_to(YardFactory())
    manager = YardBinding.objects.get().recorded_by
    bind_to_yards(submission_id=uuid.uuid4(), user=person, yards=[], reason="Over", by=manager)
    for model in (YardBinding, YardBindingEnd):
        with pytest.raises(IntegrityError), transaction.atomic():
            model.objects.update(reason="Other")
        with pytest.raises(IntegrityError), transaction.atomic():
            model.objects.all().delete()


# What recording functions say that they touch


def _modules() -> Iterator[ModuleType]:
    for app in (fleet, ratings, inspections):
        for found in pkgutil.walk_packages(app.__path__, f"{app.__name__}."):
            if ".migrations" not in found.name and ".demo" not in found.name:
                yield importlib.import_module(found.name)


def _recording_functions() -> Iterator[tuple[str, Callable[..., Any]]]:
    """Every public function of the three apps that records by somebody's hand."""
    for module in _modules():
        for name, function in vars(module).items():
            if (
                inspect.isfunction(function)
                and function.__module__ == module.__name__
                and not name.startswith("_")
                and "by" in inspect.signature(function).parameters
            ):
                yield f"{module.__name__}.{name}", function


# Take part in what another function records, or keep nothing on record: why each needs no look.
PARTS = {
    "fleet.hours.put_reading": "of record_hours and correct_hours",
    "fleet.journal.spelling.document_of": "spells a row",
    "fleet.long_work.queue.ask": "asks for work, which records by functions of its own",
    "fleet.people.passkeys.end_all": "of take_away",
    "fleet.people.recording.on_record_by_manager": "looks",
    "fleet.people.recording.write_change": "of those that change a person",
    "fleet.signers.signer_words": "words",
    "fleet.units.put_to_machines_of_then": "of moves of machines",
    "inspections.api.bench_sent.record_sent_test": "reads what record_bench_test records",
    "inspections.count.findings.record_observations": "of sign_inspection",
    "inspections.count.findings.out_of_service_for": "of findings",
    "inspections.count.preview.preview_inspection": "keeps nothing",
    "inspections.count.replacement.preview_replacement": "keeps nothing",
    "inspections.count.second_look.who_trouble": "looks",
    "inspections.count.signing.put_on_record": "of sign_inspection",
    "inspections.exchange.acts.entry_of": "reads a row",
    "inspections.exchange.acts.put_on_record": "of take_register",
    "inspections.exchange.acts.recount": "of take_register",
    "inspections.exchange.long_export.begin": "reading",
    "inspections.exchange.long_export.work_of": "reading",
    "inspections.exchange.long_register.keep": "lets a file wait for its person",
    "inspections.exchange.long_register.take": "by take_and_keep",
    "inspections.exchange.long_register.throw_away": "lets a file wait no more",
    "inspections.exchange.long_register.waiting": "looks",
    "inspections.exchange.long_register.work_of": "looks",
    "inspections.exchange.moves.figures_now": "looks",
    "inspections.exchange.moves.moved_since": "looks",
    "inspections.field.pulls.receive_pull": "reads what record_pull records",
    "inspections.field.receive.receive": "reads what sign_inspection records",
    "inspections.history.report.give_out_report": "reading",
    "inspections.history.runs.begin": "reading",
    "inspections.photos.recording.keep_photo": "of those that take photos",
    "inspections.receiving.recording.rehearse": "keeps nothing",
    "inspections.sheets.recording.answer_doubts": "of a sheet not yet taken",
    "inspections.sheets.recording.confirm_columns": "of a sheet not yet taken",
    "inspections.sheets.recording.take_back": "of a sheet not yet taken",
    "inspections.sheets.rehearsal.rehearse": "keeps nothing",
    "inspections.sheets.rehearsal.take": "of take_sheet",
    "ratings.bench.recording.draft_rating": "of record_bench_test",
    "ratings.ledger.posting.post": "of what changes a figure",
    "ratings.ledger.posting.post_stale_rates": "the site's own, for rates that grew old",
    "ratings.mechanics.load_curve.continued": "a curve",
    "ratings.record.papers.contents_of": "reading",
    "ratings.record.papers.give_out": "reading",
    "ratings.record.papers.give_out_lasting": "reading",
    "ratings.record.papers.self_proving": "reading",
    "ratings.rerating.long_work.record_or_begin": "records by what it is given",
}


def test_every_recording_function_says_what_it_touches() -> None:
    unsaid = {name for name, each in _recording_functions() if not hasattr(each, TOUCHES)}
    assert unsaid == set(PARTS)


def test_few_are_free_of_yards_and_each_says_why() -> None:
    free = {
        name: touches_of(each).why
        for name, each in _recording_functions()
        if getattr(touches_of(each) if hasattr(each, TOUCHES) else None, "why", "")
    }
    assert set(free) == {
        "fleet.people.tokens.make_token",
        "inspections.hire.foreign.add_check_photo",
        "inspections.hire.foreign.record_check",
        "inspections.photos.recording.take_piece",
        "ratings.jobs.copying.copy_job",
        "ratings.jobs.sections.add_section",
        "ratings.jobs.soil_profiles.keep_profile",
        "ratings.lots.entering.enter_lot",
        "ratings.plan.promising.promise",
        "ratings.rerating.telling.see",
    }


WRITES = {"save", "create", "bulk_create", "get_or_create", "update_or_create", "bulk_update"}
# What pages write by themselves, and why no gate is asked.
BY_THEMSELVES = {
    "fleet.people.passkeys.enter": "a passkey counts its own uses",
    "fleet.refusals.keep": "refusals",
    "fleet.throttle._begin": "how often something was guessed or refused, whoever it was",
    "fleet.views.choose_units": "a reader’s own choice",
    "inspections.api.writing._record": "the answer, beside what a recording function recorded",
    "inspections.count.replacement._write": "of preview_replacement, which keeps nothing",
    "inspections.first_steps.views.show_or_hide": "a reader’s own choice",
    "inspections.receiving.views._send": "a file that waits for whoever sent it",
    "inspections.units.board._keep_filters": "a reader’s own choice",
}


def _written_by_pages(module: ModuleType) -> Iterator[str]:
    """Name each function that writes what a page of its module reaches past no gate."""
    functions = {
        each.name: each
        for each in ast.walk(ast.parse(Path(str(module.__file__)).read_text()))
        if isinstance(each, ast.FunctionDef)
    }
    waiting = [
        name
        for name, each in functions.items()
        if any("HttpRequest" in ast.unparse(of) for of in _annotations(each))
    ]
    seen: set[str] = set()
    while waiting:
        name = waiting.pop()
        if name in seen or hasattr(getattr(module, name, None), TOUCHES):
            continue
        seen.add(name)
        for part in ast.walk(functions[name]):
            if isinstance(part, ast.Name) and part.id in functions:
                waiting.append(part.id)
            if isinstance(part, ast.Call) and _is_write(part.func):
                yield f"{module.__name__}.{name}"


def _annotations(function: ast.FunctionDef) -> Iterator[ast.expr]:
    for each in (*function.args.args, *function.args.kwonlyargs):
        if each.annotation is not None:
            yield each.annotation


def _is_write(called: ast.expr) -> bool:
    if not isinstance(called, ast.Attribute):
        return False
    # Of a dict or a cache these are something else.
    is_of_rows = "objects" in ast.unparse(called.value)
    return called.attr in WRITES or (called.attr in {"update", "delete"} and is_of_rows)


def test_no_page_writes_past_the_recording_functions() -> None:
    assert {name for module in _modules() for name in _written_by_pages(module)} == set(
        BY_THEMSELVES
    )


# What it comes to


def test_a_refusal_says_where_it_stands_where_they_are_bound_and_who_can_change_that() -> None:
    unit = rated_unit()
    person = bound_to(YardFactory(name="North Pier"))
    with pytest.raises(BoundElsewhere) as refused:
        must_act_in(person, unit.housing)
    told = " ".join(refused.value.messages)
    assert f"{unit.housing} stands in {unit.housing.yard}" in told
    assert "is bound to North Pier" in told
    assert "an equipment manager who is bound to no yard changes that" in told


def test_nobody_counts_pads_of_a_unit_in_another_yard(elsewhere: User) -> None:
    unit = rated_unit()
    before = Inspection.objects.count()
    with pytest.raises(BoundElsewhere):
        count(unit.housing, elsewhere, unit.lot, at=MONDAY + timedelta(days=3))
    assert Inspection.objects.count() == before


def test_a_second_copy_of_a_count_is_no_refusal_once_the_unit_has_left() -> None:
    unit = rated_unit()
    person = bound_to(unit.housing.yard)
    sent: dict[str, Any] = {
        "housing": unit.housing,
        "submission": Submission(uuid.uuid4()),
        "seen": Seen(
            seen_at=MONDAY + timedelta(days=3),
            pads=pads(unit.housing, unit.lot),
            travel_in=6.0,
            kind="pad count",
        ),
        "by": person,
    }
    first = sign_inspection(**sent)
    type(unit.housing).objects.update(yard=YardFactory())
    assert sign_inspection(**sent).inspection == first.inspection


def test_a_count_in_their_own_yard_is_signed_as_ever() -> None:
    unit = rated_unit()
    person = bound_to(unit.housing.yard, YardFactory())
    signed = count(unit.housing, person, unit.lot, at=MONDAY + timedelta(days=3))
    assert signed.inspection.recorded_by == person


def test_where_it_stands_is_read_anew_and_not_of_an_older_copy() -> None:
    unit, other = rated_unit(), YardFactory()
    person = bound_to(unit.housing.yard)
    type(unit.hammer).objects.filter(pk=unit.hammer.pk).update(yard=other)
    with pytest.raises(BoundElsewhere, match=other.name):
        take_out_of_service(
            submission_id=uuid.uuid4(),
            machine=unit.hammer,
            since=clock.now(),
            reason="Leaks",
            by=person,
        )


def test_a_machine_is_sent_away_and_none_is_fetched() -> None:
    unit, goal = rated_unit(), YardFactory()
    today = timezone.localdate()
    way: dict[str, Any] = {
        "housing": unit.housing,
        "hammer": None,
        "goal": goal,
        "leaves_on": today,
        "arrives_on": today,
    }
    with pytest.raises(BoundElsewhere):
        plan_transfer(submission_id=uuid.uuid4(), by=bound_to(goal), **way)
    sent = plan_transfer(submission_id=uuid.uuid4(), by=bound_to(unit.housing.yard), **way)
    with pytest.raises(BoundElsewhere):
        record_arrival(
            submission_id=uuid.uuid4(),
            transfer=sent,
            arrived_on=today,
            by=bound_to(YardFactory()),
        )
    record_arrival(
        submission_id=uuid.uuid4(),
        transfer=sent,
        arrived_on=today,
        by=User.objects.get(bindings_to_yards__yard=goal),
    )
    unit.housing.refresh_from_db()
    assert unit.housing.yard == goal


def test_a_change_of_yard_on_record_is_of_who_may_act_where_it_is() -> None:
    unit, other = rated_unit(), YardFactory()
    change: dict[str, Any] = {"submission_id": uuid.uuid4(), "reason": "Wrong on record"}
    with pytest.raises(BoundElsewhere):
        change_thing(unit.hammer, {"yard": other}, by=bound_to(other), **change)
    change_thing(unit.hammer, {"yard": other}, by=bound_to(unit.hammer.yard), **change)
    unit.hammer.refresh_from_db()
    assert unit.hammer.yard == other


def test_no_machine_is_taken_off_a_hammer_of_another_yard() -> None:
    unit = rated_unit()
    mine = ClampFactory()
    theirs = ClampFactory(yard=unit.hammer.yard)
    fit_clamp(clamp=theirs, hammer=unit.hammer, at=MONDAY, by=ManagerFactory())
    person = bound_to(mine.yard)
    for clamp, hammer in ((mine, unit.hammer), (theirs, None)):
        with pytest.raises(BoundElsewhere):
            fit_clamp(clamp=clamp, hammer=hammer, at=clock.now(), by=person)
    with pytest.raises(BoundElsewhere):
        mount_housing(housing=unit.housing, hammer=None, at=clock.now(), by=person)


def test_pads_are_moved_from_the_shelf_of_who_sends_them() -> None:
    here, there, lot = YardFactory(), YardFactory(), PadLotFactory()
    move_stock(
        lot_id=lot.pk,
        kind="received",
        change=8,
        occurred_at=MONDAY,
        by=ManagerFactory(),
        yard=here,
    )
    moved: dict[str, Any] = {"lot_id": lot.pk, "pads": 2, "occurred_at": clock.now()}
    with pytest.raises(BoundElsewhere):
        move_between_yards(
            origin=here, goal=there, submission_id=uuid.uuid4(), by=bound_to(there), **moved
        )
    move_between_yards(
        origin=here, goal=there, submission_id=uuid.uuid4(), by=bound_to(here), **moved
    )
    assert lot.shelves.get(yard=there).pads == 2


def test_a_rating_is_approved_by_who_may_act_wherever_the_pads_of_its_lot_are() -> None:
    unit, shelf = rated_unit(), YardFactory()
    draft = drafted_test(unit.lot, unit.manager).draft
    assert draft is not None
    move_stock(
        lot_id=unit.lot.pk,
        kind="received",
        change=4,
        occurred_at=MONDAY,
        by=unit.manager,
        yard=shelf,
    )
    for person in (bound_to(unit.housing.yard), bound_to(shelf)):
        with pytest.raises(BoundElsewhere, match=f"Pads of lot {unit.lot.mark} are in"):
            approve_rating(submission_id=uuid.uuid4(), rating=draft, by=person)
    person = bound_to(unit.housing.yard, shelf)
    approved = approve_rating(
        submission_id=uuid.uuid4(), rating=draft, by=person, has_read_doubts=True
    )
    assert approved is not None


def test_when_to_order_a_lot_is_said_by_who_may_act_wherever_its_pads_are() -> None:
    unit = rated_unit()
    kept: dict[str, Any] = {"lot_id": unit.lot.pk, "reorder_point": 12, "use_by": None}
    with pytest.raises(BoundElsewhere, match=f"Pads of lot {unit.lot.mark} are in"):
        keep_lot(by=bound_to(YardFactory()), **kept)
    assert keep_lot(by=bound_to(unit.housing.yard), **kept).needs_reorder


def test_a_second_person_confirms_only_what_stands_in_their_yards(elsewhere: User) -> None:
    unit = rated_unit()
    proposal = proposed_listing(unit.hammer, unit.manager)
    with pytest.raises(BoundElsewhere):
        confirm_proposal(submission_id=uuid.uuid4(), proposal=proposal, by=elsewhere)
    confirm_proposal(submission_id=uuid.uuid4(), proposal=proposal, by=bound_to(unit.hammer.yard))


def test_what_was_proposed_is_recorded_only_while_its_proposer_may_act_there() -> None:
    unit = rated_unit()
    proposal = proposed_listing(unit.hammer, unit.manager)
    bound_to(YardFactory(), person=unit.manager)
    with pytest.raises(ValidationError, match="can’t be recorded any more"):
        confirm_proposal(submission_id=uuid.uuid4(), proposal=proposal, by=ManagerFactory())


def test_nobody_enters_people_who_is_bound_to_a_yard(elsewhere: User) -> None:
    with pytest.raises(BoundElsewhere, match="This concerns every yard"):
        enter_person(
            submission_id=uuid.uuid4(),
            username="new",
            particulars=None,  # type: ignore[arg-type]  # refused before it is looked at
            role="auditor",
            by=elsewhere,
        )


def test_a_unit_of_another_yard_is_committed_to_no_job(elsewhere: User) -> None:
    made = commit(figured_unit())
    with pytest.raises(BoundElsewhere, match="stands in"):
        must_act_in(elsewhere, made)
    with pytest.raises(BoundElsewhere, match="which this job holds"):
        must_act_in(elsewhere, made.job)
    must_act_in(bound_to(made.housing.yard), made, made.job)


def test_a_repair_of_another_yard_gets_no_line(elsewhere: User) -> None:
    unit = rated_unit()
    repair = ordered_repair(unit.hammer, unit.manager)
    with pytest.raises(BoundElsewhere, match=f"{unit.hammer} stands in"):
        used_part(repair, elsewhere)
    assert not repair.lines.exists()


# The pages


def test_a_manager_binds_somebody_on_their_page(manager_client: Client) -> None:
    one, other, person = YardFactory(), YardFactory(), ManagerFactory()
    url = reverse("person-yards", args=[person.pk])
    assert one.name in words(manager_client.get(url))
    manager_client.post(
        url,
        {
            "submission_id": str(uuid.uuid4()),
            "yards": [one.pk, other.pk],
            "reason": "Works at both",
        },
    )
    page = words(manager_client.get(reverse("person", args=[person.pk])))
    assert "Works at both" in page
    assert {each.yard for each in person.bindings_to_yards.all()} == {one, other}


def test_a_page_of_another_yards_unit_tells_who_is_bound_why_it_stays_shut(
    elsewhere: User,
) -> None:
    unit, client = rated_unit(), Client()
    client.force_login(elsewhere)
    refused = client.get(reverse("count-pads", args=[unit.housing.pk]))
    assert refused.status_code == 403
    assert f"{unit.housing} stands in {unit.housing.yard}" in words(refused)
    assert client.get(reverse("unit", args=[unit.housing.pk])).status_code == 200


# Moved while somebody records


def moves(thing: Any, yard: Yard) -> Callable[[], object]:
    return lambda: type(thing)._default_manager.filter(pk=thing.pk).update(yard=yard)


def test_a_unit_moved_in_the_very_moment_it_is_signed_for_is_its_new_yard_s(
    after_the_gate: Callable[[Callable[[], object]], None],
) -> None:
    unit = rated_unit()
    person = bound_to(unit.housing.yard, person=unit.manager)
    before = Inspection.objects.count()
    after_the_gate(moves(unit.housing, YardFactory(name="North Pier")))
    with pytest.raises(BoundElsewhere, match="stands in North Pier"):
        count(unit.housing, person, unit.lot, unsound={"A1": "cracked"}, at=timezone.now())
    assert Inspection.objects.count() == before


def test_a_unit_moved_meanwhile_between_yards_of_whoever_signs_is_signed_for(
    after_the_gate: Callable[[Callable[[], object]], None],
) -> None:
    unit, other = rated_unit(), YardFactory()
    person = bound_to(unit.housing.yard, other, person=unit.manager)
    after_the_gate(moves(unit.housing, other))
    assert count(unit.housing, person, unit.lot, at=timezone.now()).inspection.pk


def test_a_machine_moved_in_the_very_moment_it_is_taken_out_of_service_is_its_new_yard_s(
    after_the_gate: Callable[[Callable[[], object]], None],
) -> None:
    clamp = ClampFactory()
    person = bound_to(clamp.yard)
    after_the_gate(moves(clamp, YardFactory()))
    with pytest.raises(BoundElsewhere):
        take_out_of_service(
            submission_id=uuid.uuid4(),
            machine=clamp,
            since=timezone.now(),
            reason="A jaw is cracked",
            by=person,
        )
    assert not OutOfService.objects.exists()


@pytest.mark.parametrize("what", ["clamp", "housing"])
def test_what_is_moved_in_the_very_moment_it_is_changed_stays_as_it_was(
    what: str, after_the_gate: Callable[[Callable[[], object]], None]
) -> None:
    thing = ClampFactory() if what == "clamp" else HousingFactory()
    person = bound_to(thing.yard)
    after_the_gate(moves(thing, YardFactory()))
    with pytest.raises(BoundElsewhere):
        change_thing(
            thing, {"mark": "K-99"}, submission_id=uuid.uuid4(), reason="Misread", by=person
        )
    assert type(thing)._default_manager.get().mark == thing.mark


@pytest.mark.parametrize("what", ["hammer", "gauge", "order"])
def test_what_an_act_names_and_is_moved_in_that_very_moment_is_its_new_yard_s(
    what: str, after_the_gate: Callable[[Callable[[], object]], None]
) -> None:
    thing = GaugeFactory() if what == "gauge" else HammerFactory()
    person = bound_to(thing.yard)
    acts: dict[str, Callable[[Any], object]] = {
        "hammer": lambda hammer: list_hammer(hammer, person, 61_000.0),
        "gauge": lambda gauge: calibrate(gauge, person),
        "order": lambda order: used_part(order, person),
    }
    named = ordered_repair(thing, person) if what == "order" else thing
    after_the_gate(moves(thing, YardFactory(name="North Pier")))
    with pytest.raises(BoundElsewhere, match="stands in North Pier"):
        acts[what](named)
    for model in (GaugeCalibration, RepairLine, Listing):
        assert not model.objects.exists()


def _gate_of(record: Callable[..., Any]) -> tuple[Callable[..., Any], dict[str, Any]]:
    """The gate of a recording function, below whatever else is around it, and what it closes on."""
    while "touches" not in record.__code__.co_freevars:
        record = record.__wrapped__  # type: ignore[attr-defined]
    return record, dict(zip(record.__code__.co_freevars, record.__closure__ or (), strict=True))


def test_every_act_is_held_to_where_it_stands_once_more_before_it_is_kept(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    here, there, clamp = YardFactory(), YardFactory(), ClampFactory()
    person = bound_to(here)
    looked = set()
    acts = {name: each for name, each in _recording_functions() if hasattr(each, TOUCHES)}
    gated = {name: each for name, each in acts.items() if not touches_of(each).why}
    for name, act in gated.items():
        moves(clamp, here)()
        with monkeypatch.context() as patched:
            gate, cells = _gate_of(act)
            patched.setattr(cells["record"], "cell_contents", lambda **_: moves(clamp, there)())
            touched = Touches(lambda given: (clamp,))
            patched.setattr(cells["touches"], "cell_contents", touched)
            try:
                gate(by=person, submission_id=uuid.uuid4())
            except BoundElsewhere:
                looked.add(name)
        clamp.refresh_from_db()
        assert clamp.yard == here, name
    assert looked == set(gated)


def _plan_hours(unit: Unit, by: User) -> object:
    return plan_hours(
        submission_id=uuid.uuid4(),
        housing=unit.housing,
        first_day=timezone.localdate(),
        last_day=timezone.localdate(),
        hours=4.0,
        per=PlannedHours.Per.DAY,
        reason="A short day",
        by=by,
    )


def _correct_lot(unit: Unit, by: User) -> object:
    return correct_lot(
        submission_id=uuid.uuid4(),
        lot_id=unit.lot.pk,
        hardness_shore_a=61.0,
        bonded_area_in2=None,
        rubber_thickness_in=None,
        reason="Misread",
        by=by,
    )


# What changes the figures of a lot, by whoever is bound to the yard of the unit that holds it.
OF_ITS_LOT: dict[str, Callable[[Unit, User], object]] = {
    "approved": lambda unit, by: approve(unit.lot.ratings.latest("pk"), by),
    "withdrawn": lambda unit, by: withdraw_rating(
        submission_id=uuid.uuid4(), rating=unit.lot.ratings.earliest("pk"), reason="Off", by=by
    ),
    "corrected": _correct_lot,
    "kept": lambda unit, by: keep_lot(lot_id=unit.lot.pk, reorder_point=12, use_by=None, by=by),
}


@pytest.mark.parametrize("act", OF_ITS_LOT)
def test_a_lot_whose_unit_is_moved_in_the_very_moment_it_is_acted_on_is_of_its_new_yard(
    act: str, after_the_gate: Callable[[Callable[[], object]], None]
) -> None:
    unit = rated_unit()
    assert drafted_test(unit.lot, unit.manager).draft is not None
    person = bound_to(unit.housing.yard)
    after_the_gate(moves(unit.housing, YardFactory(name="North Pier")))
    with pytest.raises(BoundElsewhere, match="are in North Pier"):
        OF_ITS_LOT[act](unit, person)


def test_a_lot_of_no_yard_that_is_put_on_a_shelf_meanwhile_is_of_that_yard(
    after_the_gate: Callable[[Callable[[], object]], None],
) -> None:
    lot, there = PadLotFactory(), YardFactory(name="North Pier")
    person = bound_to(YardFactory())
    after_the_gate(
        lambda: move_stock(
            lot_id=lot.pk,
            kind="received",
            change=8,
            occurred_at=MONDAY,
            by=ManagerFactory(),
            yard=there,
        )
    )
    with pytest.raises(BoundElsewhere, match="are in North Pier"):
        keep_lot(lot_id=lot.pk, reorder_point=12, use_by=None, by=person)


OF_A_COMMITTED_UNIT: dict[str, Callable[[Unit, Commitment, User], object]] = {
    "released": lambda unit, made, by: release_unit(commitment=made, reason="Ill", by=by),
    "pulled": lambda unit, made, by: pull_done(made, by),
    "asked otherwise": lambda unit, made, by: save_job(
        submission_id=uuid.uuid4(),
        job=made.job,
        fields={},
        piles=[PILE | {"embedment_ft": 12.0}],
        layers=GROUND,
        distances={},
        by=by,
    ),
    "attached to": lambda unit, made, by: attached(made.job, by=by),
    "planned": lambda unit, made, by: _plan_hours(unit, by),
}


@pytest.mark.parametrize("act", OF_A_COMMITTED_UNIT)
def test_a_committed_unit_moved_in_the_very_moment_it_is_acted_on_is_its_new_yard_s(
    act: str, after_the_gate: Callable[[Callable[[], object]], None]
) -> None:
    unit = figured_unit()
    made = commit(unit)
    person = bound_to(unit.housing.yard)
    after_the_gate(moves(unit.housing, YardFactory(name="North Pier")))
    with pytest.raises(BoundElsewhere, match="stands in North Pier"):
        OF_A_COMMITTED_UNIT[act](unit, made, person)
    for model in (PullRecord, JobAttachment, PlannedHours):
        assert not model.objects.exists()
    assert Commitment.objects.get().is_in_force
    assert made.job.versions.count() == 1


def test_a_job_that_gets_a_unit_of_another_yard_meanwhile_is_that_yard_s_too(
    after_the_gate: Callable[[Callable[[], object]], None],
) -> None:
    unit, job = figured_unit(), extraction_job()
    person = bound_to(YardFactory())
    after_the_gate(lambda: commit(unit, job))
    with pytest.raises(BoundElsewhere, match="which this job holds"):
        attached(job, by=person)


def test_a_proposal_of_what_is_moved_in_that_very_moment_is_not_turned_down(
    after_the_gate: Callable[[Callable[[], object]], None],
) -> None:
    hammer = HammerFactory()
    proposal = proposed_listing(hammer, ManagerFactory())
    person = bound_to(hammer.yard)
    after_the_gate(moves(hammer, YardFactory(name="North Pier")))
    with pytest.raises(BoundElsewhere, match="stands in North Pier"):
        turn_down(submission_id=uuid.uuid4(), proposal=proposal, reason="No", by=person)
    assert proposal in Proposal.objects.open()


def test_a_stand_moved_in_the_very_moment_a_test_on_it_is_recorded_is_its_new_yard_s(
    after_the_gate: Callable[[Callable[[], object]], None],
) -> None:
    stand, lot = TestStandFactory(), PadLotFactory()
    person = bound_to(stand.yard)
    after_the_gate(moves(stand, YardFactory(name="North Pier")))
    with pytest.raises(BoundElsewhere, match="stands in North Pier"):
        drafted_test(lot, person, stand=stand)
    assert not lot.bench_tests.exists()


def test_what_comes_apart_only_since_the_gate_looked_is_held_to_it_too(
    after_the_gate: Callable[[Callable[[], object]], None],
) -> None:
    housing, other = HousingFactory(), HousingFactory(yard=YardFactory())
    hammer = HammerFactory(yard=housing.yard)
    person = bound_to(housing.yard)
    after_the_gate(lambda: Mounting.objects.create(housing=other, hammer=hammer, mounted_at=MONDAY))
    with pytest.raises(BoundElsewhere, match=f"{other} stands in"):
        mount_housing(housing=housing, hammer=hammer, at=timezone.now(), by=person)
    assert not Mounting.objects.filter(housing=housing).exists()


def test_what_stands_where_the_gate_saw_it_asks_no_more_of_the_database(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    housing = HousingFactory()
    person = bound_to(housing.yard)
    with django_assert_num_queries(5):

        @in_yard_of("housing")
        def lock(*, housing: SuppressorHousing, by: User) -> SuppressorHousing:
            return lock_housing(housing.pk)

        # Which yards they are bound to, where it stands, the lock, and the transaction around it.
        assert lock(housing=housing, by=person) == housing
