"""A yard that holds a unit in each state and a record of each kind, and all its pages."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from django.contrib.auth.models import User
from django.test import Client
from django.urls import get_resolver, reverse
from django.utils import timezone

from fleet.machines.recording import connect_power_pack
from fleet.models import Hammer, Leaf, MachineSort, PadLot, Passkey, SuppressorHousing
from fleet.models.clamp import HELD_BY_COLUMN
from fleet.outages import take_out_of_service
from fleet.pad_orders import KindOfPad
from fleet.people.recording import Particulars, enter_person, link_of
from fleet.setup.recording import change_thing
from inspections.count.replacement import PadFitted, sign_replacement
from inspections.count.signing import Correction
from inspections.count.submission import Submission
from inspections.models import Finding, OwnKind, PullPhoto
from inspections.photos.recording import take_piece
from inspections.repairs.recording import add_photo, finish_repair
from inspections.schedule.recording import add_kind, change_sorts
from inspections.units.records import RECORDS_OF_A_UNIT
from ratings.jobs.ahead import Plan
from ratings.jobs.commitments import commit_unit
from ratings.lots.recording import reject_rating, withdraw_rating
from ratings.mechanics.bench import Branch, CycleReading
from ratings.models import BenchTest, Commitment, ConditionKind, LotRating, Paper
from ratings.mounting import mount_housing
from ratings.proof.recording import set_proof_pull_aside
from ratings.transfers.recording import record_arrival
from tests.builders import (
    MONDAY,
    Unit,
    bench_test,
    count,
    days_ago,
    drafted_test,
    kept_plan,
    list_hammer,
    ordered_pads,
    ordered_repair,
    picture,
    proof_pull,
    proposed_listing,
    rated_unit,
    receive,
    received_pads,
    used_part,
)
from tests.factories import (
    ClampFactory,
    DispatcherFactory,
    GaugeFactory,
    HammerFactory,
    HousingFactory,
    LoadIndicatorFactory,
    ManagerFactory,
    PadLotFactory,
    PowerPackFactory,
    ReferencePieceFactory,
    TestStandFactory,
)
from tests.fleet.people.authenticator import given as given_passkey
from tests.inspections.api.asking import token_of
from tests.inspections.field.sent import finding_sent, payload, send, signed_in
from tests.inspections.forecast.foreseen import kept_forecast
from tests.inspections.hire.test_foreign_checks import checked
from tests.inspections.hire.test_hand_overs import back, let, out
from tests.inspections.history.made import history_being_made, made_history
from tests.inspections.lives.worn import failed_lot
from tests.inspections.receiving.arrivals import received
from tests.inspections.sheets.sheet_makers import confirmed, kept, taken_sheet
from tests.job_builders import (
    GROUND,
    attached,
    commit,
    extraction_job,
    figured_unit,
    fitted_clamp,
    pull_done,
    transfer,
)
from tests.ratings.rerating.made import made_rerating
from tests.ratings.surveillance.drawn import Bench
from tests.stand_builders import OFF, calibrate, check_stand


def fill_yard() -> tuple[User, dict[str, str]]:
    """Fill an empty database; return who keeps the yard, and the path of every page by name."""
    good = rated_unit(in_stock=6)
    short = rated_unit(unsound={"A1": "cracked", "A2": "missing", "A3": "swollen"}, in_stock=2)
    unproven = rated_unit(listed_lbf=47_900)
    uncounted = HousingFactory(bumper="rubber block in the lower stop")
    stranger = PadLotFactory(mark="UNTESTED", note="Came fitted.")
    foreseen = kept_forecast()
    unrated = HousingFactory()
    hammer = HammerFactory(yard=unrated.yard, make="Invented", type_name="Long type name 40")
    list_hammer(hammer, good.manager, 90_000)
    mount_housing(housing=unrated, hammer=hammer, at=MONDAY, by=good.manager)
    count(unrated, good.manager, stranger)
    HammerFactory(mark="BARE")
    replaced, corrected = _history(good, short)
    soft, stiff = rated_unit(), rated_unit()
    pulls = _proof_pulls(soft, stiff)
    test = bench_test(
        good.lot,
        good.manager,
        rate_lbf_in=1010,
        at=MONDAY + timedelta(days=2),
        photo=picture(),
        arrangement="one pad, bolted both sides",
        witness="Odo Vance",
        rubber_temperature_f=68.0,
        tape_after_in=10.125,
    )
    ratings = _ratings(short, stranger)
    receive(stranger, good.manager, 3)
    units = {
        "unit that meets its listing": good.housing.pk,
        "unit below its listing": short.housing.pk,
        "unit not proven": unproven.housing.pk,
        "unit unrated": unrated.pk,
        "unit never counted": uncounted.pk,
        "unit out of service": _out_of_service(good.manager).pk,
        "unit softer than its pads": soft.housing.pk,
        "unit stiffer than its pads": stiff.housing.pk,
    }
    return good.manager, {
        "board": reverse("board"),
        **_own_sheets(good),
        "waiting": reverse("waiting"),
        "fleet summary": reverse("fleet-summary"),
        "as of a day, asked": reverse("board-as-of"),
        **{
            f"{name} as of a day": f"{reverse(page, args=keys)}?day={timezone.localdate()}"
            for name, page, keys in (
                ("board", "board-as-of", []),
                ("unit out of service", "unit-as-of", [units["unit out of service"]]),
                ("unit below its listing", "unit-as-of", [short.housing.pk]),
                ("unit never counted", "unit-as-of", [uncounted.pk]),
                ("hammer", "machine-as-of", ["hammer", good.hammer.pk]),
                ("lot", "lot-as-of", [good.lot.pk]),
            )
        },
        "as of a day that can't be": reverse("board-as-of") + "?day=2999-01-01",
        "what differs between two days": reverse("as-of-differences")
        + f"?day=2020-01-01&other={timezone.localdate()}",
        "fleet summary asked what can't be": reverse("fleet-summary") + "?first=x&last=",
        "history": reverse("history"),
        "history asked what can't be": reverse("history") + "?of=x&first=x&last=",
        "history that is made": reverse("history-run", args=[made_history(good.manager).pk]),
        "history being made": reverse(
            "history-run", args=[history_being_made(good.manager, done=1).pk]
        ),
        **{
            f"rating again, {name}": reverse(
                "rerating",
                args=[made_rerating(LotRating.objects.earliest("pk"), good.manager, **more).pk],
            )
            for name, more in (
                ("recorded", {"result": {"rated": 1_990}}),
                ("refused", {"result": {"refused": [["Why it is withdrawn", "Too long."]]}}),
                ("under way", {"done": 1_200}),
            )
        },
        "search": reverse("search"),
        "search that finds": reverse("search") + "?q=a",
        "search that finds nothing": reverse("search") + "?q=no+such+words",
        "all that is overdue": reverse("waiting-section", args=["overdue"]),
        "board with nothing on it": reverse("board") + "?search=nothing",
        **{name: reverse("unit", args=[pk]) for name, pk in units.items()},
        "count": reverse("count-pads", args=[short.housing.pk]),
        "correction": reverse("count-pads", args=[good.housing.pk]) + "?corrects=2",
        "replace": reverse("replace-pads", args=[short.housing.pk]),
        "mounting": reverse("mounting", args=[good.housing.pk]),
        "guide": reverse("guide", args=[good.housing.pk]),
        "take out of service": reverse("take-out-of-service", args=[good.housing.pk]),
        "release that waits": reverse("release-to-service", args=[units["unit out of service"]]),
        **{
            f"all {what} of a unit": reverse("unit-records", args=[short.housing.pk, what])
            for what in RECORDS_OF_A_UNIT
        },
        "archive of a unit": reverse("unit-archive", args=[short.housing.pk]),
        "receive a unit": reverse("receive-unit"),
        "before a unit came": reverse("received-unit", args=[received(good).pk]),
        "pads over time": reverse("unit-pads", args=[short.housing.pk]),
        "life of a lot": reverse("lot-life", args=[good.lot.pk]),
        "life of a lot, told": reverse("lot-life", args=[failed_lot().pk]),
        "lots": reverse("lots"),
        "lot": reverse("lot", args=[good.lot.pk]),
        "lot of days asked": reverse("lot", args=[good.lot.pk]) + "?since=2024-01-01",
        "lot of days that can't be": reverse("lot", args=[good.lot.pk])
        + "?since=2026-03-05&until=2026-03-04",
        "lot untested": reverse("lot", args=[stranger.pk]),
        "lot that softens": reverse("lot", args=[Bench().watched().lot.pk]),
        "lot form": reverse("new-lot"),
        "price of a lot": reverse("lot-price", args=[good.lot.pk]),
        "set filled in": reverse("replace-pads", args=[short.housing.pk])
        + f"?set=all&lot={good.lot.pk}&fit=A99:1",
        "restore a unit": f"{reverse('restore')}?unit={short.housing.pk}",
        "restore the fleet": f"{reverse('restore')}?goal=cheapest&take=on&buy=on",
        "restoring plan": reverse("restoring-plan", args=[kept_plan().pk]),
        "restoring plans": reverse("restoring-plans"),
        "plans held to what came": reverse("plans-record"),
        "forecast of a unit": reverse("unit-forecast", args=[foreseen.housing_id]),
        "forecast of a unit that can't be told": reverse("unit-forecast", args=[short.housing.pk]),
        "forecast of the fleet": reverse("fleet-forecast"),
        "forecast kept": reverse("forecast", args=[foreseen.pk]),
        "how good forecasts were": reverse("forecasts-held"),
        "hours planned": reverse("new-planned-hours", args=[short.housing.pk]),
        "stock": reverse("lot-stock", args=[good.lot.pk]),
        "bench form": reverse("new-bench-test", args=[good.lot.pk]),
        "bench test": reverse("bench-test", args=[test.test.pk]),
        "bench test that warns": reverse("bench-test", args=[ratings["draft"].tests.get().pk]),
        "bench test not for rating": reverse("bench-test", args=[ratings["test kept"].pk]),
        "rating approved": reverse("lot-rating", args=[test.rating.pk]),
        "rating withdrawn": reverse("lot-rating", args=[ratings["withdrawn"].pk]),
        "rating drafted": reverse("lot-rating", args=[ratings["draft"].pk]),
        "rating rejected": reverse("lot-rating", args=[ratings["rejected"].pk]),
        "lot stale": reverse("lot", args=[ratings["stale"].lot_id]),
        "bench correction": reverse("new-bench-test", args=[good.lot.pk])
        + f"?corrects={test.test.pk}",
        **_stands(test.test),
        "listings": reverse("listings"),
        "listing form": reverse("new-listing", args=[hammer.pk]),
        **_machines(),
        **_people(),
        **_set_up(short.housing),
        "policy": reverse("policy"),
        "proposals": reverse("proposals"),
        "proposal": reverse("proposal", args=[proposed_listing(hammer, ManagerFactory()).pk]),
        "surveillance": reverse("surveillance"),
        "record": reverse("record"),
        "check a paper": reverse("ask-paper"),
        "check a paper, no code": reverse("ask-paper") + "?code=AB",
        "paper given out": _paper_of(good),
        "no stretch card": reverse("stretch-card", args=[HousingFactory().pk]),
        "surveillance of a lot": reverse("lot-surveillance", args=[good.lot.pk]),
        "inspection corrected": reverse("inspection", args=[corrected]),
        "inspection that corrects": reverse("inspection", args=[corrected + 1]),
        "proof pull form": reverse("new-proof-pull", args=[soft.housing.pk]),
        "proof pull correction": reverse("new-proof-pull", args=[soft.housing.pk])
        + f"?corrects={pulls['proof pull set aside']}",
        **{name: reverse("proof-pull", args=[pk]) for name, pk in pulls.items()},
        "replacement": reverse("replacement", args=[replaced]),
        **_jobs(),
        **_transfers(),
        **_repairs(good.hammer),
        **_pad_orders(),
        **_hires(),
        **_at_the_hammer(good),
        **{
            name: reverse(name)
            for name in get_resolver().reverse_dict
            if isinstance(name, str) and name.startswith("how")
        },
        "words": reverse("words"),
        "how long files are kept": reverse("retention"),
        "photos of inspections kept": reverse("retention-kind", args=["inspection-photos"]),
        "rule of photos kept": reverse("retention-rule", args=["inspection-photos"]),
        "who did what": reverse("who-did-what"),
        "a line of the journal": reverse(
            "leaf", args=[Leaf.objects.filter(model="ratings.listing").latest("pk").pk]
        ),
        "lines of the journal refused": reverse("journal-lines", args=["csv"]) + "?first=x",
        "404": "/units/999999/",
    }


def _own_sheets(unit: Unit) -> dict[str, str]:
    """A sheet of the yard's own that waits, with something in doubt and something left."""
    rows = f"Log of last year\nUnit,Date,Travel,Condition\n{unit.housing.mark},3/4/25,abt 7,meh\n"
    draft = confirmed(kept(rows, unit.housing.yard, owner=unit.manager))
    return {
        "own sheets": reverse("sheets"),
        "what was taken in": reverse("taken-imports"),
        "what each row became": reverse("taken-import", args=[taken_sheet(unit).pk]),
        "columns of a sheet": reverse("sheet", args=[draft.pk]),
        "rehearsal of a sheet": reverse("sheet-rehearsal", args=[draft.pk]),
    }


def _stands(test: BenchTest) -> dict[str, str]:
    """A stand whose last check is out of its limits, another, and a gauge found off."""
    piece, by, stand = ReferencePieceFactory(), ManagerFactory(), test.stand
    rates = (500.0, 502.0, 499.5, 501.0, 500.5, 503.0, 520.0)
    checks = [
        check_stand(stand, by, piece=piece, at=MONDAY + timedelta(days=day), rate_lbf_in=rate)
        for day, rate in enumerate(rates)
    ]
    check_stand(TestStandFactory(), by, piece=piece, rate_lbf_in=430.0)
    found = calibrate(test.gauge, by, on=date(2026, 6, 1), points=OFF)
    fresh = GaugeFactory(due_on=None)
    return {
        "stands": reverse("stands"),
        "stand out of its limits": reverse("stand", args=[stand.pk]),
        "stand never checked": reverse("stand", args=[TestStandFactory().pk]),
        "check form": reverse("new-reference-check", args=[stand.pk]),
        "check correction": reverse("new-reference-check", args=[stand.pk])
        + f"?corrects={checks[0].pk}",
        "check": reverse("reference-check", args=[checks[-1].pk]),
        "gauge found off": reverse("gauge", args=[test.gauge_id]),
        "gauge not in calibration": reverse("gauge", args=[fresh.pk]),
        "certificate form": reverse("new-gauge-calibration", args=[fresh.pk]),
        "certificate correction": reverse("new-gauge-calibration", args=[test.gauge_id])
        + f"?corrects={found.pk}",
        "gauge certificate": reverse("gauge-calibration", args=[found.pk]),
        "recall": reverse("recall", args=[found.pk]),
    }


def _set_up(housing: SuppressorHousing) -> dict[str, str]:
    """The pages that set a yard up, of a housing whose record was changed and of a gauge."""
    change_thing(
        housing,
        {"bumper": "rubber block in the lower stop"},
        submission_id=uuid.uuid4(),
        reason="Fitted at the refit.",
        by=ManagerFactory(),
    )
    return {
        "set-up": reverse("set-up"),
        "first steps": reverse("first-steps"),
        "housings set up": reverse("set-up-housings"),
        "housing set up": reverse("set-up-housing", args=[housing.pk]),
        "housing changed": reverse("change-housing", args=[housing.pk]),
        "housing out of use": reverse("retire-housing", args=[housing.pk]),
        "gauge form": reverse("new-gauge"),
    }


def _passkey_of(user: User) -> Passkey:
    given_passkey(user)
    return Passkey.objects.get(person=user)


def _people() -> dict[str, str]:
    """Somebody who waits for a link to be used, and the forms of people."""
    kay = enter_person(
        submission_id=uuid.uuid4(),
        username="kay.lund",
        particulars=Particulars("Kay", "Lund", "kay.lund@saltmere.example"),
        role="dispatcher",
        by=ManagerFactory(),
    )
    return {
        "people": reverse("people"),
        "person": reverse("person", args=[kay.pk]),
        "person form": reverse("new-person"),
        "person changed": reverse("change-person", args=[kay.pk]),
        "role of a person": reverse("person-role", args=[kay.pk]),
        "yards of a person": reverse("person-yards", args=[kay.pk]),
        "access of a person": reverse("person-access", args=[kay.pk]),
        "second step set up": reverse("set-up-second-step"),
        "new recovery codes": reverse("new-recovery-codes"),
        "second step of a person": reverse("person-second-step", args=[kay.pk]),
        "lock of a person": reverse("person-lock", args=[kay.pk]),
        "password reset": reverse("person-password", args=[kay.pk]),
        "own password": reverse("own-password"),
        "token form": reverse("new-token"),
        "token withdrawn": reverse("end-token", args=[token_of(kay).token.pk]),
        "passkey form": reverse("new-passkey"),
        "passkey taken away": reverse("end-passkey", args=[_passkey_of(kay).pk]),
        "link to a password": link_of(kay),
        "link that holds no more": reverse("password-by-link", args=["x", "y"]),
    }


def _machines() -> dict[str, str]:
    """Clamps fitted, never looked at and out of use; a power pack that drives a hammer."""
    unit = rated_unit()
    clamp = fitted_clamp(
        unit, weight_lb=2_000.0, clamp_force_lbf=250_000.0, jaws_note="Wide jaws, 24 in"
    )
    unknown = ClampFactory(
        **dict.fromkeys(HELD_BY_COLUMN), retired_on=date(2026, 1, 5), note="Jaws worn.\nSold."
    )
    pack = PowerPackFactory(power_hp=325.0, flow_gpm=110.0, pressure_psi=4_500.0)
    connect_power_pack(power_pack=pack, hammer=unit.hammer, at=MONDAY, by=unit.manager)
    take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=unknown,
        since=MONDAY,
        reason="Jaw cracked",
        by=unit.manager,
    )
    return {
        "hammer list": reverse("machine-list", args=["hammer"]),
        "hammer page": reverse("machine-page", args=["hammer", unit.hammer.pk]),
        "clamp page": reverse("machine-page", args=["clamp", unknown.pk]),
        "hours of a hammer": reverse("enter-hours", args=["hammer", unit.hammer.pk]),
        "meters": reverse("read-meters"),
        "hammer inspected": reverse("inspect-machine", args=["hammer", unit.hammer.pk]),
        "documents of a hammer": reverse("machine-documents", args=["hammer", unit.hammer.pk]),
        "clamp released": reverse("release-machine", args=["clamp", unknown.pk]),
        "hammer taken out": reverse("take-machine-out", args=["hammer", unit.hammer.pk]),
        "machines": reverse("machines"),
        "clamp": reverse("clamp", args=[clamp.pk]),
        "clamp nobody looked at": reverse("clamp", args=[unknown.pk]),
        "clamp form": reverse("new-clamp"),
        "clamp changed": reverse("change-clamp", args=[clamp.pk]),
        "clamp fitted": reverse("fit-clamp", args=[clamp.pk]),
        "power pack": reverse("power-pack", args=[pack.pk]),
        "power pack form": reverse("new-power-pack"),
        "power pack connected": reverse("connect-power-pack", args=[pack.pk]),
    }


def _at_the_hammer(unit: Unit) -> dict[str, str]:
    """An inspection with a list, findings and photos, and the pages of schedule and stock."""
    finding, photo = uuid.uuid4(), uuid.uuid4()
    done = {"key": "guards-on", "part": "Guards", "text": "Guards and covers on and fast"}
    sent = payload(
        unit,
        kind="monthly",
        hours=100,
        pads=[],
        travel_in=None,
        weather="Rain, 40 °F",
        note="Seen by " + "x" * 300,
        answers=[
            done | {"state": "done", "reason": ""},
            done | {"key": "other", "state": "not applicable", "reason": "Has no guard there."},
        ],
        findings=[finding_sent()],
        photos=[
            {"id": str(finding), "caption": "The swivel", "finding": 1},
            {"id": str(photo), "caption": "", "finding": None},
        ],
    )
    answer = send(signed_in(unit.manager), sent)
    file = picture().read()
    take_piece(photo_id=finding, offset=0, length=len(file), piece=file, by=unit.manager)
    healed = rated_unit(unsound={"A1": "swollen"})
    again = count(healed.housing, healed.manager, healed.lot, at=days_ago(1))
    return {
        "second look": reverse("second-look", args=[again.inspection.pk]),
        "inspection that waits": reverse("inspection", args=[again.inspection.pk]),
        "inspection with findings": answer.json()["url"],
        "close a finding": reverse("close-finding", args=[Finding.objects.latest("pk").pk]),
        "put a finding to its machine": reverse(
            "move-finding", args=[Finding.objects.latest("pk").pk]
        ),
        "inspect by kind, plain": reverse("count-pads", args=[healed.housing.pk]) + "?kind=monthly",
        "due": reverse("due"),
        "schedule": reverse("schedule"),
        "kinds": reverse("kinds"),
        "what a kind looks at": reverse("kind-sorts", args=[_oil_change(unit.manager).pk]),
        "checklists": reverse("checklists"),
        "checklist": reverse("checklist", args=["monthly"]),
        "labels": reverse("labels"),
        "register": reverse("exchange"),
        "meter": reverse("meter", args=[unit.hammer.pk]),
        "meter of a power pack": reverse("pack-meter", args=[PowerPackFactory().pk]),
        "reorder point": reverse("lot-keeping", args=[unit.lot.pk]),
        "lot out of use": reverse("retire-lot", args=[unit.lot.pk]),
        "correct a lot": reverse("correct-lot", args=[unit.lot.pk]),
        "which tests count": reverse("decide-tests", args=[unit.lot.pk]),
        "stock take": reverse("stock-take"),
        "move to another yard": reverse("move-yards", args=[unit.lot.pk]),
        "at the hammer": reverse("field"),
    }


def _ahead() -> Commitment:
    """A unit committed on a count to come, and on what somebody must say."""
    today = timezone.localdate()
    unit = figured_unit(counted_at=days_ago(60))
    first = today + timedelta(days=1)
    return commit_unit(
        is_care_known=True,
        watched_by="Odd Brandt",
        submission_id=uuid.uuid4(),
        job=extraction_job(site="Lock gate"),
        housing=unit.housing,
        by=DispatcherFactory(),
        plans=[
            Plan(ConditionKind.COUNT, today, first),
            Plan(ConditionKind.OTHER, today, first, words="Permit of the harbor master is in hand"),
        ],
    )


def _jobs() -> dict[str, str]:
    """A job with a unit committed, another whose unit fell, and what goes with them."""
    made, fallen = commit(figured_unit()), figured_unit()
    fell = commit(fallen, extraction_job(site="Coal quay"))
    count(
        fallen.housing,
        fallen.manager,
        fallen.lot,
        unsound={"A1": "cracked", "A2": "missing"},
        at=timezone.now(),
    )
    late = figured_unit(counted_at=days_ago(60))
    ahead = _ahead()
    return {
        "jobs": reverse("jobs"),
        "files of a job": reverse("job-attachments", args=[made.job_id]),
        "withdraw a file": reverse("withdraw-attachment", args=[attached(made.job).pk]),
        "copy a job": reverse("copy-job", args=[made.job_id]),
        "history of a job": reverse("job-history", args=[made.job_id]),
        "new job": reverse("new-job"),
        "job": reverse("job", args=[made.job_id]),
        "job whose unit fell": reverse("job", args=[fell.job_id]),
        "job as of a day": f"{reverse('job-as-of', args=[made.job_id])}?day={timezone.localdate()}",
        "unit for a job": reverse("job-unit", args=[made.job_id, fallen.housing.pk]),
        "two answers": reverse("compare-answers")
        + f"?job={made.job_id}&unit={fallen.housing.pk}&other_job={fell.job_id}&other_unit=",
        "commitment": reverse("commitment", args=[made.pk]),
        "commitment void": reverse("commitment", args=[fell.pk]),
        "crew": reverse("crew", args=[made.code]),
        "crew void": reverse("crew", args=[fell.code]),
        "commitment ahead of time": reverse("commitment", args=[ahead.pk]),
        "unit to commit ahead of time": reverse("job-unit", args=[made.job_id, late.housing.pk]),
        "condition": reverse("meet-condition", args=[ahead.conditions.latest("pk").pk]),
        "release": reverse("release-commitment", args=[made.pk]),
        "pile sections": reverse("pile-sections"),
        "pile section form": reverse("new-pile-section"),
        "soil templates": reverse("soil-templates"),
        "soil template form": reverse("new-soil-template", args=[made.job_id]),
        "extraction rules": reverse("extraction-rules"),
        **_pulls(made),
    }


def _repairs(hammer: Hammer) -> dict[str, str]:
    """A repair to be made and one that is done, with a part and a photo each."""
    planned, done = ordered_repair(hammer), ordered_repair(hammer)
    line = used_part(planned)
    add_photo(
        photo_id=uuid.uuid4(),
        order=planned,
        when="before",
        sent=picture().read(),
        by=planned.recorded_by,
    )
    finish_repair(
        submission_id=uuid.uuid4(),
        order=done,
        ended_at=timezone.now(),
        text="Hose changed and bled",
        done_by="Odd Brandt",
        closes_finding=False,
        by=done.recorded_by,
    )
    return {
        "repairs": reverse("repairs"),
        "repair form": reverse("new-repair"),
        "repair order": reverse("repair-order", args=[planned.pk]),
        "repair done": reverse("repair-order", args=[done.pk]),
        "line taken back": reverse("take-back-repair-line", args=[line.pk]),
        "work list without a yard": reverse("work-list") + "?yard=",
    }


def _pad_orders() -> dict[str, str]:
    """Pads of a lot that came in part, of a kind in no yard yet, late, and of an old price."""
    day = days_ago(0).date()
    order = ordered_pads(supplier_words="Offer 4711")
    came = received_pads(order, 5, note="One box open")
    kind = KindOfPad("Soft pad, 4 in", hardness_shore_a=50.0, rubber_thickness_in=2.0)
    late = ordered_pads(
        what=kind, ordered_on=day - timedelta(days=20), promised_on=day - timedelta(days=2)
    )
    return {
        "what to buy": reverse("what-to-buy"),
        "what all yards are to buy": reverse("what-to-buy")
        + f"?until={(day + timedelta(days=90)).isoformat()}",
        "orders of pads": reverse("pad-orders"),
        "order of pads": reverse("pad-order", args=[order.pk]),
        "order of pads late": reverse("pad-order", args=[late.pk]),
        "pad order form": reverse("new-pad-order") + f"?lot={order.lot_id}",
        "receipt taken back": reverse("take-back-receipt", args=[came.pk]),
    }


def _hires() -> dict[str, str]:
    """A unit let, one that is late, one that is back, and a hammer that is not ours."""
    unit = rated_unit()
    late, done = out(rated_unit()), out(unit)
    back(unit, done, unsound={"A1": "cracked"})
    check = checked(stated_listed_lbf=40_000.0)
    return {
        "hires": reverse("hires"),
        "hire form": reverse("new-hire"),
        "hire agreed": reverse("hire", args=[let(rated_unit()).pk]),
        "hire out": reverse("hire", args=[late.pk]),
        "hire done": reverse("hire", args=[done.pk]),
        "not ours": reverse("foreign-checks"),
        "not ours form": reverse("new-foreign-check"),
        "not ours checked": reverse("foreign-check", args=[check.pk]),
    }


def _transfers() -> dict[str, str]:
    """A transfer to come, one that is late and one that arrived."""
    planned, late, done = (transfer(rated_unit(), ahead) for ahead in (5, -9, -3))
    record_arrival(
        submission_id=uuid.uuid4(),
        transfer=done,
        arrived_on=timezone.localdate(),
        by=done.recorded_by,
    )
    return {
        "calendar": reverse("units-calendar"),
        "calendar of a month": reverse("units-calendar") + "?span=31",
        "calendar of those free": reverse("units-calendar") + "?free_from=2026-03-02",
        "calendar asked what can't be": reverse("units-calendar") + "?span=9",
        "plan": reverse("plan"),
        "plan asked what can't be": reverse("plan") + "?start=x",
        "transfers": reverse("transfers"),
        "transfer form": reverse("new-transfer"),
        "transfer planned": reverse("transfer", args=[planned.pk]),
        "transfer late": reverse("transfer", args=[late.pk]),
        "transfer done": reverse("transfer", args=[done.pk]),
        "distances between yards": reverse("yard-hauls"),
        "transport rules": reverse("transport-rules"),
    }


def _paper_of(unit: Unit) -> str:
    """The page of the code of a paper just printed."""
    client = Client()
    client.force_login(unit.manager)
    assert client.get(reverse("history-report", args=[unit.housing.pk])).status_code == 200
    return reverse("paper", args=[Paper.objects.latest("pk").code])


def _pulls(made: Commitment) -> dict[str, str]:
    """Pulls of every fate in two jobs of sand, and the pages about them."""
    sand = (replace(GROUND[1], top_ft=0.0),)
    other = commit(figured_unit(), extraction_job(site="Fish dock", layers=sand, embedment_ft=30))
    wrong = pull_done(other, pile_mark="1", hook_load_lbf=25_000.0, in_the_way="A boulder.")
    right = pull_done(
        other, corrects=wrong, correction_reason="Read in kN.", hook_load_lbf=34_000.0
    )
    PullPhoto.objects.create(pk=uuid.uuid4(), pull=right, caption="The toe")
    for number, load_lbf in enumerate((31_000.0, 36_000.0, 75_000.0), start=2):
        pull_done(other, pile_mark=str(number), hook_load_lbf=load_lbf, stretch_in=2.0)
    pull_done(other, pile_mark="5", outcome="did not come", hook_load_lbf=40_000.0)
    pull_done(other, pile_mark="6", outcome="came in part", minutes=12.0, toe_depth_ft=20.0)
    stayed = pull_done(made, outcome="broke", hook_load_lbf=121_000.0)
    return {
        "pulls": reverse("pulls"),
        "pulls narrowed": reverse("pulls") + "?search=dock&outcome=came",
        "what pulls teach": reverse("pull-lessons"),
        "pull": reverse("pull-record", args=[right.pk]),
        "pull corrected": reverse("pull-record", args=[wrong.pk]),
        "pull doubted": reverse("pull-record", args=[stayed.pk]),
        "pull form": reverse("new-pull", args=[made.pk]),
        "pull correction": reverse("new-pull", args=[other.pk]) + f"?corrects={right.pk}",
        "job with pulls": reverse("job", args=[other.job_id]),
        "commitment with pulls": reverse("commitment", args=[other.pk]),
    }


def _proof_pulls(soft: Unit, stiff: Unit) -> dict[str, int]:
    """Pulls of each kind; the first was set aside and the second holds. Returns their keys."""
    other = ManagerFactory()
    aside = proof_pull(soft.housing, soft.manager, 0.7, witness="Odo Vance").pull
    set_proof_pull_aside(
        submission_id=uuid.uuid4(), pull=aside, reason="A sling chafed on the guide.", by=other
    )
    later = MONDAY + timedelta(days=3)
    held = proof_pull(
        soft.housing, other, 0.5, pulled_at=later, rubber_temperature_f=35.0, note="Seen twice."
    )
    crane = LoadIndicatorFactory(kind="crane", accuracy_pct=3.0, due_on=None)
    old = proof_pull(stiff.housing, other, 0.9, indicator=crane)
    high = proof_pull(stiff.housing, other, 1.8, pulled_at=later, weight_below_lb=4_900.0)
    return {
        "proof pull set aside": aside.pk,
        "proof pull that holds": held.pull.pk,
        "proof pull that decides nothing": old.pull.pk,
        "proof pull of a stiff unit": high.pull.pk,
    }


def _out_of_service(by: User) -> SuppressorHousing:
    """A unit pulled out after its last count."""
    housing = rated_unit().housing
    take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=housing,
        since=MONDAY + timedelta(days=1),
        reason="Crack at the yoke weld; waits for the welder.",
        by=by,
    )
    return housing


def _ratings(short: Unit, untested: PadLot) -> dict[str, Any]:
    """Ratings withdrawn, rejected, of cold rubber, and a draft with every warning there is."""
    withdrawn = bench_test(short.lot, short.manager, rate_lbf_in=990).rating
    withdraw_rating(
        submission_id=uuid.uuid4(), rating=withdrawn, reason="The tape slipped.", by=short.manager
    )
    stale = bench_test(PadLotFactory(), short.manager, rubber_temperature_f=20.0).rating
    odd = PadLotFactory(hardness_shore_a=60.0, bonded_area_in2=20.0, rubber_thickness_in=2.0)
    up = [CycleReading(10 + x, 3 * x**2 + 5) for x in (1, 2, 3, 4, 5, 6, 7, 8)]
    down = [CycleReading(each.tape_in, each.gauge_psi - 4, 1, Branch.UNLOADING) for each in up]
    draft = drafted_test(odd, short.manager, readings=up + down).draft
    kept = drafted_test(untested, short.manager, gauge=GaugeFactory(due_on=None)).test
    rejected = drafted_test(PadLotFactory(), short.manager).draft
    assert rejected is not None
    reject_rating(
        submission_id=uuid.uuid4(), rating=rejected, reason="Pads were cold.", by=short.manager
    )
    return {
        "withdrawn": withdrawn,
        "stale": stale,
        "draft": draft,
        "rejected": rejected,
        "test kept": kept,
    }


def _history(good: Unit, short: Unit) -> tuple[int, int]:
    """A replacement, and an inspection with the one that corrects it; returns their keys."""
    later = MONDAY + timedelta(days=1)
    replacement = sign_replacement(
        housing=short.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=later,
        pads=[PadFitted("A", 1, short.lot.pk)],
        by=short.manager,
        note="From the shelf.",
    )
    wrong = count(good.housing, good.manager, good.lot, at=later, unsound={"A1": "cracked"})
    count(
        good.housing,
        good.manager,
        good.lot,
        at=later,
        correction=Correction("It was the next pad over.", wrong.inspection),
        unsound={"A2": "cracked"},
    )
    return replacement.replacement.pk, wrong.inspection.pk


def _oil_change(by: User) -> OwnKind:
    """A kind of the yard's own, changed once."""
    kind = add_kind(
        submission_id=uuid.uuid4(), name="oil change", looks_at=[MachineSort.HAMMER], by=by
    )
    change_sorts(
        submission_id=uuid.uuid4(),
        kind=kind,
        looks_at=[MachineSort.HAMMER, MachineSort.POWER_PACK],
        reason="The pack has oil of its own.",
        by=by,
    )
    return kind
