"""Every page of the site by its name, by who may open it, on a unit that has one of everything."""

from __future__ import annotations

import uuid
from typing import Any

from django.urls import get_resolver, reverse

from fleet.models import Leaf, MachineSort, Passkey
from fleet.setup.yard_things import HAMMER, HOUSING, YARD
from inspections.hire.foreign import add_check_photo
from inspections.hire.recording import add_photo as add_hand_over_photo
from inspections.machines.documents import keep_document
from inspections.models import Photo, PullPhoto
from inspections.photos.recording import keep_photo, take_piece
from inspections.repairs.recording import add_photo
from inspections.schedule.recording import add_kind
from ratings.jobs.commitments import confirm_commitment, meet_condition
from ratings.models import Commitment, CommitmentCondition, LotRating
from ratings.record.seals import make_seal
from ratings.stands.things import INSTRUMENTS
from tests.builders import (
    Unit,
    drafted_test,
    kept_plan,
    mended_unit,
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
    ClampFactory,
    ManagerFactory,
    PowerPackFactory,
    ThermometerFactory,
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
from tests.ratings.rerating.made import made_rerating
from tests.stand_builders import calibrate, check_stand

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
    "rerating",
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
    "person-yards",
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
    "see-rerating",
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
    "see-rerating",
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
    "new-recovery-codes",
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


def every_page() -> dict[str, str]:
    """Every page of the site by its name, on a unit that has one of everything."""
    unit, replaced, signed = mended_unit({"A2": "cracked"})
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
        name="filter change",
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
        "work_id": made_rerating(
            LotRating.objects.earliest("pk"), unit.manager, result={"rated": 1_990}
        ).pk,
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
