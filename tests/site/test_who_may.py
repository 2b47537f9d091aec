from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import get_resolver, reverse

from fleet.models import Leaf, MachineSort, Passkey
from fleet.setup.yard_things import HAMMER, HOUSING, YARD
from inspections.count.replacement import PadFitted, sign_replacement
from inspections.count.submission import Submission
from inspections.hire.foreign import add_check_photo
from inspections.hire.recording import add_photo as add_hand_over_photo
from inspections.machines.documents import keep_document
from inspections.models import Photo, PullPhoto
from inspections.photos.recording import keep_photo, take_piece
from inspections.repairs.recording import add_photo
from inspections.schedule.calendar import make_feed
from inspections.schedule.recording import add_kind
from ratings.jobs.commitments import confirm_commitment, meet_condition
from ratings.models import Commitment, CommitmentCondition
from ratings.record.seals import make_seal
from ratings.stands.things import INSTRUMENTS
from tests.all_tables import changed, everything
from tests.builders import (
    MONDAY,
    Unit,
    count,
    drafted_test,
    kept_plan,
    ordered_pads,
    ordered_repair,
    picture,
    proof_pull,
    proposed_listing,
    qualified,
    rated_unit,
    received_pads,
    used_part,
)
from tests.factories import (
    AuditorFactory,
    ClampFactory,
    ManagerFactory,
    PowerPackFactory,
    ThermometerFactory,
    UserFactory,
)
from tests.fleet.people.authenticator import given as given_passkey
from tests.inspections.api.asking import token_of
from tests.inspections.field.sent import payload, send, signed_in
from tests.inspections.forecast.foreseen import kept_forecast
from tests.inspections.hire.test_foreign_checks import checked
from tests.inspections.hire.test_hand_overs import out
from tests.inspections.history.made import made_history
from tests.inspections.receiving.arrivals import received
from tests.inspections.sheets.sheet_makers import taken_sheet
from tests.job_builders import attached, commit, figured_unit, pull_done, transfer
from tests.site.html_form import words
from tests.stand_builders import calibrate, check_stand

pytestmark = pytest.mark.django_db

THINGS = (YARD, HAMMER, HOUSING, *INSTRUMENTS)
READ = {
    "machine-list",
    "machine-page",
    "machine-documents",
    "machine-document",
    "board",
    "waiting",
    "waiting-section",
    "search",
    "fleet-summary",
    "board-as-of",
    "board-as-of-csv",
    "as-of-differences",
    "unit-as-of",
    "machine-as-of",
    "lot-as-of",
    "job-as-of",
    "how-as-of",
    "taken-imports",
    "taken-import",
    "unit",
    "unit-records",
    "lots",
    "lot",
    "lot-life",
    "unit-pads",
    "bench-test",
    "bench-photo",
    "lot-rating",
    "lot-certificate",
    "stands",
    "stand",
    "reference-check",
    "gauge",
    "gauge-calibration",
    "recall",
    "listings",
    "machines",
    "clamp",
    "power-pack",
    "people",
    "person",
    "set-up",
    "first-steps",
    *(name for thing in THINGS for name in (thing.list_page, thing.page)),
    "policy",
    "proposals",
    "proposal",
    "surveillance",
    "record",
    "journal-export",
    "journal-lines",
    "who-did-what",
    "retention",
    "retention-kind",
    "who-did-what-list",
    "leaf",
    "check-record-script",
    "seal-text",
    "history-report",
    "unit-archive",
    "received-unit",
    "received-archive",
    "received-file",
    "entry-document",
    "entry-proof",
    "history",
    "history-run",
    "history-file",
    "stretch-card",
    "proof-pull",
    "inspection",
    "replacement",
    "jobs",
    "job",
    "job-unit",
    "job-history",
    "job-attachments",
    "job-attachment",
    "commitment",
    "pull-sheet",
    "answer-document",
    "compare-answers",
    "pile-sections",
    "soil-templates",
    "extraction-rules",
    "transfers",
    "transfer",
    "units-calendar",
    "yard-hauls",
    "transport-rules",
    "due",
    "schedule",
    "checklists",
    "checklist",
    "export",
    "labels",
    "inspection-photo",
    "repairs",
    "what-to-buy",
    "order-list",
    "order-list-csv",
    "how-restoring",
    "pad-orders",
    "pad-order",
    "plans-record",
    "unit-forecast",
    "fleet-forecast",
    "forecasts-held",
    "forecast",
    "restoring-plans",
    "restore-brief",
    "restoring-plan",
    "repair-order",
    "repair-photo",
    "work-list",
    "hires",
    "hire",
    "hand-over-paper",
    "hand-over-photo",
    "foreign-checks",
    "foreign-check",
    "foreign-check-paper",
    "foreign-check-photo",
    "how",
    "words",
    "how-standing",
    "how-ledger",
    "how-archive",
    "how-bench",
    "how-proof",
    "how-job",
    "how-plan",
    "how-pulls",
    "pulls",
    "pulls-csv",
    "pull-record",
    "pull-lessons",
    "pull-photo",
    "how-lives",
    "how-forecast",
    "how-hire",
    "how-machines",
    "how-repairs",
    "how-inspecting",
    "how-due",
    "how-register",
    "how-sheets",
    "how-api",
    "how-running",
}
# Leads to another page, by who asks.
LEADS = {"scan-housing"}
# What a phone talks to; it answers a visitor with words for the phone, not with a page.
PHONE = {"field-pack", "field-inspections", "field-photo", "field-pulls"}
PLAN = {
    "restore",
    "new-planned-hours",
    "meet-condition",
    "plan",
    "new-transfer",
    "new-job",
    "new-pull",
    "new-pile-section",
    "new-soil-template",
    "release-commitment",
    "copy-job",
    "withdraw-attachment",
}
PLAN_POSTED = {"confirm-commitment"}
# Posted by whoever may read, and keeping nothing.
ASKED = {
    "job-layers",
    "job-piles",
    "job-holds",
    "job-set-up",
    "job-answer",
    "job-answer-unit",
    "begin-history",
}
WRITE = {
    "retention-rule",
    *(
        name
        for thing in THINGS
        for name in (thing.new_page, thing.change_page, thing.retire_page, thing.back_page)
    ),
    "read-meters",
    "enter-hours",
    "inspect-machine",
    "take-machine-out",
    "release-machine",
    "withdraw-machine-document",
    "new-repair",
    "new-hire",
    "new-foreign-check",
    "take-back-repair-line",
    "new-person",
    "change-person",
    "person-role",
    "person-access",
    "person-lock",
    "person-second-step",
    "person-password",
    "new-clamp",
    "change-clamp",
    "fit-clamp",
    "new-power-pack",
    "change-power-pack",
    "connect-power-pack",
    "new-proof-pull",
    "set-aside-proof-pull",
    "mounting",
    "guide",
    "new-lot",
    "lot-stock",
    "lot-keeping",
    "lot-price",
    "new-pad-order",
    "take-back-receipt",
    "close-restoring",
    "order-restoring",
    "keep-forecast",
    "lot-surveillance",
    "correct-lot",
    "decide-tests",
    "new-bench-test",
    "bench-preview",
    "approve-rating",
    "new-reference-check",
    "new-gauge-calibration",
    "reject-rating",
    "withdraw-rating",
    "new-listing",
    "count-pads",
    "replace-pads",
    "replace-preview",
    "correct-entry",
    "take-out-of-service",
    "close-finding",
    "move-finding",
    "second-look",
    "new-proposal",
    "confirm-proposal",
    "turn-proposal-down",
    "new-qualification",
    "withdraw-qualification",
    "exchange",
    "receive-unit",
    "sheets",
    "sheet",
    "sheet-rehearsal",
    "throw-sheet-away",
    "meter",
    "pack-meter",
    "move-yards",
    "stock-take",
    "release-to-service",
    "kinds",
    "kind-sorts",
    "retire-lot",
    "bring-back-lot",
    "retire-kind",
    "take-lesson",
    "change-lesson-rules",
}
POSTED = {
    "new-proposal",
    "confirm-proposal",
    "turn-proposal-down",
    "close-restoring",
    "order-restoring",
    "throw-sheet-away",
    "take-lesson",
    "change-lesson-rules",
    "set-aside-proof-pull",
    "retire-kind",
    "bench-preview",
    "replace-preview",
    "approve-rating",
    "reject-rating",
    "withdraw-rating",
}
# Of a sheet that waits for the person who sent it.
OWN = {"sheet", "sheet-rehearsal", "throw-sheet-away"}
OPEN = {
    # What programs that watch the site ask: tests of their own.
    "health",
    "ready",
    "metrics",
    "second-step",
    "set-up-second-step",
    "hide-first-steps",
    "own-password",
    "new-token",
    "end-token",
    "passkey-options",
    "new-passkey",
    "end-passkey",
    "password-by-link",
    "sign-in",
    "sign-out",
    "choose-units",
    "calendar",
    "calendar-feed",
    "crew",
    "ask-paper",
    "paper",
    "paper-file",
    "field",
    "field-manifest",
    "field-worker",
}


@pytest.fixture(scope="module")
def urls(module_db: None) -> dict[str, str]:
    """Every page of the site by its name, on a unit that has one of everything."""
    unit = rated_unit(unsound={"A1": "cracked"}, in_stock=2)
    replaced = sign_replacement(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=MONDAY + timedelta(days=1),
        pads=[PadFitted("A", 1, unit.lot.pk)],
        by=unit.manager,
    )
    signed = count(
        unit.housing,
        unit.manager,
        unit.lot,
        unsound={"A2": "cracked"},
        at=MONDAY + timedelta(days=2),
    )
    assert signed.entry is not None
    drafted = drafted_test(unit.lot, unit.manager, photo=picture())
    assert drafted.draft is not None
    made = commit(figured_unit())
    photo, pulled = _with_photo(unit), pull_done(made)
    pull_photo = PullPhoto.objects.create(pk=uuid.uuid4(), pull=pulled)
    keep_photo(pull_photo, picture().read(), unit.manager)
    repair = ordered_repair(unit.hammer, unit.manager)
    kind = add_kind(
        submission_id=uuid.uuid4(),
        name="oil change",
        looks_at=[MachineSort.HAMMER],
        by=unit.manager,
    )
    keys = {
        "pull_id": proof_pull(unit.housing, ManagerFactory(), 0.7).pull.pk,
        "pull_record_id": pulled.pk,
        "pull_photo_id": pull_photo.pk,
        "job_id": made.job_id,
        "attachment_id": attached(made.job).pk,
        "commitment_id": made.pk,
        "transfer_id": transfer(rated_unit()).pk,
        "housing_id": unit.housing.pk,
        "what": "ledger",
        "lot_id": unit.lot.pk,
        "hammer_id": unit.hammer.pk,
        "test_id": drafted.test.pk,
        "stand_id": drafted.test.stand_id,
        "gauge_id": drafted.test.gauge_id,
        "check_id": check_stand(drafted.test.stand, unit.manager).pk,
        "calibration_id": calibrate(drafted.test.gauge, unit.manager).pk,
        "rating_id": drafted.draft.pk,
        "inspection_id": signed.inspection.pk,
        "replacement_id": replaced.replacement.pk,
        "entry_id": signed.entry.pk,
        "finding_id": photo.finding_id,
        "photo_id": photo.pk,
        "order_id": repair.pk,
        "plan_id": kept_plan().pk,
        "forecast_id": kept_forecast().pk,
        "line_id": used_part(repair, unit.manager).pk,
        "pad_order_id": (pads := ordered_pads()).pk,
        "receipt_id": received_pads(pads).pk,
        "repair_photo_id": add_photo(
            photo_id=uuid.uuid4(),
            order=repair,
            when="before",
            sent=picture().read(),
            by=unit.manager,
        ).pk,
        "sort": "hammer",
        "document_id": keep_document(
            submission_id=uuid.uuid4(),
            machine=unit.hammer,
            kind="plate",
            title="Plate",
            sent=picture().read(),
            by=unit.manager,
        ).pk,
        **_hired(),
        "name": "monthly",
        "section": "overdue",
        "kind_id": kind.pk,
        "kind": "inspection-photos",
        "proposal_id": proposed_listing(unit.hammer, unit.manager).pk,
        "form": "xlsx",
        "secret": "none",
        "code": made.code,
        "condition_id": _condition(made).pk,
        "user_id": ManagerFactory().pk,
        "qualification_id": qualified().qualifications.get().pk,
        "key": "none",
        "draft_id": 1,
        "import_id": taken_sheet(unit).pk,
        "received_id": received(unit).pk,
        "member": "papers/history.pdf",
        "token": "none",
        "token_id": token_of(unit.manager).token.pk,
        "passkey_id": _passkey_of(unit.manager).pk,
        "number": make_seal().number,
        "leaf_id": Leaf.objects.latest("pk").pk,
        "run_id": made_history(unit.manager).pk,
    }
    machines = {"clamp": ClampFactory().pk, "pack": PowerPackFactory().pk}
    found = {}
    named: dict[Any, Any] = dict(get_resolver().reverse_dict.items())
    for name, ways in named.items():
        if isinstance(name, str):
            wanted, keys["machine_id"] = (
                ways[0][0][1],
                machines["pack" if "pack" in name else "clamp"],
            )
            if "sort" in wanted:
                keys["machine_id"] = unit.hammer.pk
            if "record_id" in wanted:
                keys["record_id"] = _one_of(ways[2]["thing"])
            found[name] = reverse(name, kwargs={each: keys[each] for each in wanted})
    return found


def _passkey_of(user: Any) -> Passkey:
    given_passkey(user)
    return Passkey.objects.get(person=user)


def _hired() -> dict[str, Any]:
    """A unit on hire with a photo, and a hammer that is not ours."""
    hire = out(rated_unit())
    photo = add_hand_over_photo(
        photo_id=uuid.uuid4(),
        hand_over=hire.hand_overs.get(),
        sent=picture().read(),
        by=hire.recorded_by,
    )
    check = checked()
    not_ours = add_check_photo(
        photo_id=uuid.uuid4(), check=check, sent=picture().read(), by=hire.recorded_by
    )
    return {
        "hire_id": hire.pk,
        "hand_over_photo_id": photo.pk,
        "foreign_check_id": check.pk,
        "foreign_photo_id": not_ours.pk,
    }


def _one_of(thing: Any) -> int:
    """The key of one thing of a kind."""
    there = thing.model._default_manager.order_by("pk").first()
    if there is None:
        there = ThermometerFactory()
    return int(there.pk)


def _condition(made: Commitment) -> CommitmentCondition:
    """Something a commitment may wait for that a person says is done, once it is met already."""
    condition = CommitmentCondition.objects.create(
        submission_id=uuid.uuid4(),
        commitment=made,
        kind="other",
        from_day=made.first_day,
        to_day=made.last_day,
        words="Permit of the harbor",
        recorded_by=made.answer.recorded_by,
    )
    meet_condition(
        submission_id=uuid.uuid4(),
        condition=condition,
        note="Permit 12 came.",
        by=made.answer.recorded_by,
    )
    confirm_commitment(
        is_care_known=True,
        watched_by="Odd Brandt",
        submission_id=uuid.uuid4(),
        commitment=made,
        by=made.answer.recorded_by,
    )
    return condition


def _with_photo(unit: Unit) -> Photo:
    """A photo of a finding, its file come whole."""
    photo_id = uuid.uuid4()
    found = {"number": 1, "severity": "note", "text": "Paint gone"}
    named = {"id": str(photo_id), "caption": "Side A", "finding": 1}
    sent = payload(unit, pads=[], travel_in=None, findings=[found], photos=[named])
    assert send(signed_in(unit.manager), sent).status_code == 201
    file = picture().read()
    take_piece(photo_id=photo_id, offset=0, length=len(file), piece=file, by=unit.manager)
    return Photo.objects.get(pk=photo_id)


def test_every_page_is_spoken_of_here(urls: dict[str, str]) -> None:
    assert set(urls) == READ | LEADS | PHONE | PLAN | PLAN_POSTED | ASKED | WRITE | OPEN


@pytest.mark.parametrize("method", ["get", "post"])
def test_a_visitor_who_has_not_signed_in_sees_only_the_sign_in_page(
    urls: dict[str, str], method: str
) -> None:
    before = everything()
    for name in (
        READ
        | LEADS
        | PLAN
        | PLAN_POSTED
        | ASKED
        | WRITE
        | {"choose-units", "calendar-feed", "own-password", "hide-first-steps"}
        | {"new-token", "end-token", "second-step", "set-up-second-step"}
        | {"new-passkey", "end-passkey"}
    ):
        response = getattr(Client(), method)(urls[name])
        assert response.status_code == 302, name
        assert response["Location"].startswith(reverse("sign-in")), name
    assert changed(before) == set()


@pytest.mark.parametrize("name", sorted(PHONE))
def test_a_phone_nobody_is_signed_in_on_is_told_so(urls: dict[str, str], name: str) -> None:
    before = everything()
    for method in ("get", "post", "put"):
        answer = getattr(Client(), method)(urls[name])
        assert answer.status_code == 401, name
        assert "sign in" in answer.json()["errors"][""][0], name
    assert changed(before) == set()


@pytest.mark.parametrize("role", ["dispatcher", "auditor"])
def test_a_reader_signs_nothing_on_a_phone(
    urls: dict[str, str], role: str, request: pytest.FixtureRequest
) -> None:
    client = request.getfixturevalue(f"{role}_client")
    before = everything()
    assert client.post(urls["field-inspections"]).status_code == 403
    assert client.put(urls["field-photo"]).status_code == 403
    assert changed(before) == set()


NOBODY_S = {"own-password", "sign-out", "second-step", "set-up-second-step", "new-passkey"}
# Open to whoever has the address, or to everybody: what they show is theirs to say.
WITHOUT_SIGN_IN = {
    "paper-file",
    "health",
    "ready",
    "metrics",
    "password-by-link",
    "sign-in",
    "passkey-options",
    "calendar",
    "crew",
    "ask-paper",
    "paper",
    "field",
    "field-manifest",
    "field-worker",
}
METHODS = ("get", "head", "post", "put", "patch", "delete", "options")


@pytest.mark.parametrize("method", METHODS)
def test_who_has_no_role_sees_nothing_by_any_method(urls: dict[str, str], method: str) -> None:
    client = Client()
    client.force_login(UserFactory())
    before = everything()
    for name in set(urls) - NOBODY_S - WITHOUT_SIGN_IN:
        answer = getattr(client, method)(urls[name])
        assert answer.status_code == 403, name
        assert method == "head" or "no role" in answer.content.decode(), name
    assert changed(before) == set()


@pytest.mark.parametrize("role", ["manager", "dispatcher", "auditor"])
def test_a_role_taken_away_takes_reading_with_it_on_pages_that_are_open(
    urls: dict[str, str], role: str, request: pytest.FixtureRequest
) -> None:
    client = request.getfixturevalue(f"{role}_client")
    shown = ("board", "unit", "lot-certificate", "field-pack")
    assert [client.get(urls[name]).status_code for name in shown] == [200] * len(shown)
    User.objects.get(pk=client.session["_auth_user_id"]).groups.clear()
    assert [client.get(urls[name]).status_code for name in shown] == [403] * len(shown)


def test_a_calendar_ends_with_the_role_of_its_person(auditor_client: Client) -> None:
    person = AuditorFactory()
    address = f"/calendar/{make_feed(person)}.ics"
    assert Client().get(address).status_code == 200
    person.groups.clear()
    assert Client().get(address).status_code == 404


@pytest.mark.parametrize("method", ["put", "patch", "delete"])
def test_no_page_takes_any_other_method_from_a_reader(
    urls: dict[str, str], method: str, auditor_client: Client
) -> None:
    before = everything()
    for name in set(urls) - {"sign-out"} - PHONE:
        assert getattr(auditor_client, method)(urls[name]).status_code < 500, name
    # That a paper was given out is on record, by whatever method it was asked for.
    assert changed(before) <= {"fleet.Leaf", "ratings.Paper"}


def test_a_page_that_is_not_there_tells_a_visitor_nothing() -> None:
    assert Client().get("/units/999999/").status_code == 302


@pytest.mark.parametrize("role", ["dispatcher", "auditor"])
def test_a_reader_reads_every_page(
    urls: dict[str, str], role: str, request: pytest.FixtureRequest
) -> None:
    client = request.getfixturevalue(f"{role}_client")
    for name in READ:
        # The unit was never inspected, so that no card may hang on it: the page says so.
        expected = 409 if name == "stretch-card" else 200
        assert client.get(urls[name]).status_code == expected, name


@pytest.mark.parametrize("role", ["dispatcher", "auditor"])
@pytest.mark.parametrize("method", ["get", "post"])
def test_a_reader_is_refused_every_page_that_writes(
    urls: dict[str, str], role: str, method: str, request: pytest.FixtureRequest
) -> None:
    client = request.getfixturevalue(f"{role}_client")
    before = everything()
    for name in WRITE:
        response = getattr(client, method)(urls[name])
        assert response.status_code == 403, name
        assert "the equipment manager writes them" in words(response), name
    assert changed(before) == set()


def test_a_dispatcher_opens_every_page_that_plans(
    urls: dict[str, str], dispatcher_client: Client
) -> None:
    for name in PLAN:
        assert dispatcher_client.get(urls[name]).status_code == 200, name


@pytest.mark.parametrize("method", ["get", "post"])
def test_an_auditor_is_refused_every_page_that_plans(
    urls: dict[str, str], method: str, auditor_client: Client
) -> None:
    before = everything()
    for name in PLAN | PLAN_POSTED:
        response = getattr(auditor_client, method)(urls[name])
        assert response.status_code == 403, name
        assert "who dispatches plans jobs" in words(response), name
    for name in ("job", "job-unit", "transfer", "yard-hauls", "transport-rules"):
        assert auditor_client.post(urls[name]).status_code == 403, name
    assert changed(before) == set()


@pytest.mark.parametrize("role", ["manager", "dispatcher", "auditor"])
def test_anybody_signed_in_may_ask_and_nothing_is_kept(
    urls: dict[str, str], role: str, request: pytest.FixtureRequest
) -> None:
    client = request.getfixturevalue(f"{role}_client")
    before = everything()
    for name in ASKED:
        assert client.post(urls[name]).status_code == 200, name
        assert client.get(urls[name]).status_code == 405, name
    assert changed(before) == set()


@pytest.mark.parametrize("role", ["dispatcher", "auditor"])
def test_a_reader_cannot_change_the_policy(role: str, request: pytest.FixtureRequest) -> None:
    client = request.getfixturevalue(f"{role}_client")
    before = everything()
    sent = {
        "submission_id": uuid.uuid4(),
        "confidence_pct": "90",
        "pad_spread_pct": "5",
        "linearity_limit_pct": "5",
        "tape_resolution_in": "0.125",
        "rate_valid_days": "365",
        "coldest_f": "40",
        "warmest_f": "100",
        "stale_rates": "drop",
        "reason": "mine",
    }
    assert client.post(reverse("policy"), sent).status_code == 403
    assert changed(before) == set()


def test_a_manager_opens_every_page_that_writes(
    urls: dict[str, str], manager_client: Client
) -> None:
    # Of these one leads elsewhere, one is of a kind in use, one takes what a page before held, and
    # two order and close what another unit's plan doesn't have, and one keeps what can't be
    # forecast.
    elsewhere = {
        "correct-entry",
        "retire-kind",
        "new-proposal",
        "close-restoring",
        "order-restoring",
        "keep-forecast",
    }
    for name in WRITE - OWN - elsewhere:
        method = manager_client.post if name in POSTED else manager_client.get
        assert method(urls[name]).status_code == 200, name


@pytest.mark.parametrize(
    "name",
    [
        "unit",
        "lots",
        "lot",
        "bench-test",
        "lot-rating",
        "listings",
        "policy",
        "surveillance",
        "proof-pull",
    ],
)
def test_only_a_manager_is_shown_the_way_to_write(
    urls: dict[str, str], name: str, manager_client: Client, dispatcher_client: Client
) -> None:
    for_manager, for_reader = (
        client.get(urls[name]).content.decode() for client in (manager_client, dispatcher_client)
    )
    ways = [urls[each] for each in WRITE if f'href="{urls[each]}' in for_manager]
    ways += [each for each in ("Put in force", "Approve the rating") if each in for_manager]
    assert ways, "the manager is offered nothing to write here"
    assert not [way for way in ways if way in for_reader]
    assert 'class="main"' not in for_reader


SHOWN = {"condition-A1": "missing", "show": "1"}


def test_previews_save_nothing(urls: dict[str, str], manager_client: Client) -> None:
    before = everything()
    for name in ("bench-preview", "count-pads", "replace-preview"):
        assert manager_client.post(urls[name], SHOWN).status_code == 200
    assert changed(before) == set()


@pytest.mark.parametrize(
    ("name", "kwargs"),
    [
        ("unit", {"housing_id": 999}),
        ("count-pads", {"housing_id": 10**30}),
        ("lot", {"lot_id": 999}),
        ("lot-rating", {"rating_id": 999}),
        ("lot-certificate", {"rating_id": 10**20}),
        ("bench-photo", {"test_id": 999}),
        ("proof-pull", {"pull_id": 999}),
        ("new-proof-pull", {"housing_id": 999}),
        ("new-listing", {"hammer_id": 10**19}),
        ("inspection", {"inspection_id": 10**25}),
        ("correct-entry", {"entry_id": 999}),
        ("history-report", {"housing_id": 2**63}),
    ],
)
def test_a_record_that_is_not_there_is_not_found(
    manager_client: Client, name: str, kwargs: dict[str, Any]
) -> None:
    response = manager_client.get(reverse(name, kwargs=kwargs))
    assert response.status_code == 404
    assert "There is no such page or record" in words(response)


def test_signing_in_with_a_wrong_password_says_so(manager: Any) -> None:
    response = Client().post(
        reverse("sign-in"), {"username": manager.username, "password": "wrong"}
    )
    assert response.status_code == 200
    assert "Nothing was saved" not in words(response)
    assert "correct username and password" in words(response)


def test_signing_in_leads_to_the_page_that_was_asked_for(manager: Any) -> None:
    response = Client().post(
        reverse("sign-in") + "?next=/lots/",
        {"username": manager.username, "password": "line-pull-test", "next": "/lots/"},
    )
    assert response["Location"] == "/lots/"


def test_signing_in_never_leads_to_another_site(manager: Any) -> None:
    response = Client().post(
        reverse("sign-in"),
        {
            "username": manager.username,
            "password": "line-pull-test",
            "next": "https://elsewhere.example/",
        },
    )
    assert response["Location"] == reverse("waiting")


def test_signing_out_needs_a_button_and_ends_the_session(manager_client: Client) -> None:
    assert manager_client.get(reverse("sign-out")).status_code == 405
    manager_client.post(reverse("sign-out"))
    assert manager_client.get(reverse("board")).status_code == 302


def test_a_preview_asked_for_after_the_session_ended_says_so_in_its_place(client: Client) -> None:
    answer = client.get("/sign-in/", headers={"HX-Request": "true"})
    assert "You are signed out" in answer.text
    assert "<html" not in answer.text
