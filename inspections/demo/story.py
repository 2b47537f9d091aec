"""Record the demo's events through the same functions the site records with.

An event that a table of the register has a row for goes the way that row would.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping
from dataclasses import asdict
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django.contrib.auth.models import User
from django.utils import timezone

from fleet import clock
from fleet.cells import written
from fleet.models import PadLot, SuppressorHousing, Yard
from fleet.models.housing import Condition
from fleet.numbers import Decimals
from fleet.people.qualifications import record_qualification
from fleet.prices import record_price
from inspections.count.findings import Answer, FoundFault, Observations
from inspections.count.signing import Correction
from inspections.count.submission import position_name
from inspections.exchange.acts import entry_of, put_on_record, sign_count
from inspections.exchange.rows import Row, parsed
from inspections.exchange.tables import BY_NAME
from inspections.forecast.recording import keep_monthly
from inspections.models import InspectionKind, ItemAnswer
from inspections.schedule.checklists import checklists_in_force
from ratings.jobs.ahead import Plan
from ratings.jobs.commitments import commit_unit, confirm_commitment, meet_condition
from ratings.jobs.recording import save_job
from ratings.jobs.sections import FILLED_BY_SECTION, sections_by_name
from ratings.ledger.posting import post_stale_rates
from ratings.lots.recording import approve_rating
from ratings.mechanics.bench import Branch
from ratings.mechanics.extraction.holds import OtherHold
from ratings.mechanics.soil import Layer
from ratings.models import (
    Commitment,
    CommitmentCondition,
    ConditionKind,
    ExtractionJob,
    LedgerEntry,
    LoadIndicator,
    LotRating,
    PileSection,
    SoilTemplate,
    Tape,
)
from ratings.proof.recording import BranchReading, ProofSetUp, record_proof_pull
from ratings.pulls.recording import PullDone, record_pull
from ratings.surveillance.plans import set_plan
from ratings.transfers.recording import plan_transfer, record_yard_haul

Event = Mapping[str, Any]

# A record is put in a little after the work it is of.
WRITTEN_AFTER = timedelta(minutes=20)
YEARLY_AFTER = timedelta(days=330)
# What a proof pull's event says by the names that its recording has.
PULL_SET_UP = ("tare_lbf", "weight_below_lb", "rubber_temperature_f", "anchor", "witness", "note")
NAMESPACE = uuid.UUID("6f0f6a52-6b3a-4a57-9d53-0c9d5f7d4a10")


def tell(events: list[dict[str, Any]]) -> None:
    """Record every event at the time it was written down, in that order."""
    for number, event in sorted(enumerate(events), key=lambda pair: _recorded_at(pair[1])):
        with clock.set_to(_recorded_at(event)):
            by = User.objects.get(username=event["by"])
            if event["do"] in BY_NAME:
                put_on_record(row_of(event["do"], event), by)
            else:
                ACTS[event["do"]](event, uuid.uuid5(NAMESPACE, str(number)), by)
            if "approved_by" in event:
                _approve(event)


def row_of(table: str, event: Event) -> Row:
    """Return the row of the register that says what an event does.

    Its parts stand in the event by the name of their table, and share what the event says.
    """
    parts = BY_NAME[table].parts
    shared = dict(event)
    if parts:
        # Any name, the same in its parts.
        shared[BY_NAME[table].columns[0].name] = 1
    if BY_NAME[table].when:
        shared[BY_NAME[table].when] = event["at"]
    cells = {table: [shared]} | {
        name: [shared | part for part in event.get(name, [])] for name in parts
    }
    lines = {
        name: [
            (line, {column: written(value) for column, value in each.items()}, Decimals.POINT)
            for line, each in enumerate(rows, 1)
        ]
        for name, rows in cells.items()
    }
    [row] = parsed(lines)
    if row.faults:
        raise ValueError(f"{event}: {'; '.join(row.faults)}")
    return row


def _happened_at(event: Event) -> datetime:
    return timezone.make_aware(datetime.fromisoformat(event["at"]))


def _recorded_at(event: Event) -> datetime:
    return _happened_at(event) + WRITTEN_AFTER + timedelta(days=event.get("late_days", 0))


def _housing(event: Event) -> SuppressorHousing:
    return SuppressorHousing.objects.get(mark=event["housing"])


def _approve(event: Event) -> None:
    """Let a second person approve the rating that a bench test drafted, where it did."""
    for draft in LotRating.objects.waiting().filter(lot__mark=event["lot"]):
        approve_rating(
            submission_id=uuid.uuid5(NAMESPACE, f"approval of {draft.pk}"),
            rating=draft,
            by=User.objects.get(username=event["approved_by"]),
            has_read_doubts=True,
        )


def _count(event: Event, submission_id: uuid.UUID, by: User) -> None:
    """A count: the pads as known, all of `lot` if one is named, with these faults found."""
    faults = event.get("faults", {})
    pads = []
    for position in _housing(event).positions.select_related("lot"):
        condition = (
            faults.get(position_name((position.side, position.number)))
            or position.condition
            or Condition.SOUND
        )
        lot = event.get("lot") or (position.lot.mark if position.lot else "")
        pads.append(
            {
                "side": position.side,
                "number": position.number,
                "condition": condition,
                "lot": "" if condition == Condition.MISSING else lot,
            }
        )
    sign_count(
        entry_of(row_of("counts", {**event, "pads": pads}), by), observations=_observations(event)
    )


def _observations(event: Event) -> Observations:
    """All of the kind's list done, and what else was found."""
    findings = enumerate(event.get("findings", []), 1)
    items = checklists_in_force()[event["kind"]].items if "kind" in event else ()
    done = ItemAnswer.State.DONE
    return Observations(
        answers=[Answer(item.key, item.part, item.text, done) for item in items],
        findings=[FoundFault(number, **each) for number, each in findings],
    )


def _round(event: Event, submission_id: uuid.UUID, by: User) -> None:
    """A round: all of the list done, the pads and the travel found as they are on record."""
    housing = _housing(event)
    since = _happened_at(event) - YEARLY_AFTER
    yearly = housing.inspections.filter(kind=InspectionKind.YEARLY, seen_at__gt=since)
    kind = InspectionKind.MONTHLY if yearly.exists() else InspectionKind.YEARLY
    seen = {**event, "travel_in": housing.travel_in, "kind": kind}
    if housing.is_taped_beyond_design:
        reasons = housing.inspections.exclude(travel_reason="")
        seen["travel_reason"] = reasons.values_list("travel_reason", flat=True).first()
    if not housing.mountings.current().exists():
        seen.pop("hours", None)
    _count(seen, submission_id, by)


def _correct(event: Event, submission_id: uuid.UUID, by: User) -> None:
    """Put right the housing's last inspection, at the time it was made."""
    wrong = _housing(event).inspections.latest("recorded_at")
    pads = [
        {
            "side": pad.side,
            "number": pad.number,
            "condition": pad.condition,
            "lot": pad.lot.mark if pad.lot else "",
        }
        for pad in wrong.pads.select_related("lot")
    ]
    row = row_of("counts", {**event, "at": wrong.seen_at, "pads": pads})
    sign_count(entry_of(row, by), correction=Correction(event["reason"], wrong))


def _refresh(event: Event, submission_id: uuid.UUID, by: User) -> None:
    post_stale_rates(by)


def _keep_forecasts(event: Event, submission_id: uuid.UUID, by: User) -> None:
    """What the daily job keeps: the forecast of every unit that has none of that month."""
    keep_monthly(by=by)


def _price_pads(event: Event, submission_id: uuid.UUID, by: User) -> None:
    """What a pad of a lot costs, in all yards where none is named."""
    record_price(
        submission_id=submission_id,
        lot_id=PadLot.objects.get(mark=event["lot"]).pk,
        yard=Yard.objects.get(name=event["yard"]) if "yard" in event else None,
        amount=Decimal(event["amount"]),
        valid_from=event["valid_from"],
        source=event["source"],
        lead_days=event["lead_days"],
        by=by,
    )


def _plan_draws(event: Event, submission_id: uuid.UUID, by: User) -> None:
    """How many pads of each lot are drawn from service a year."""
    set_plan(
        submission_id=submission_id,
        lot=None,
        pads_a_year=event["pads_a_year"],
        reason=event["reason"],
        by=by,
    )


def _pull(event: Event, submission_id: uuid.UUID, by: User) -> None:
    """A whole unit pulled, its readings as [load, stretch] going up and coming down."""
    housing = _housing(event)
    set_up = {name: event[name] for name in PULL_SET_UP if name in event}
    record_proof_pull(
        submission_id=submission_id,
        housing=housing,
        set_up=ProofSetUp(
            indicator=LoadIndicator.objects.get(mark=event["indicator"]),
            tape=Tape.objects.get(mark=event["tape"]),
            pulled_at=_happened_at(event),
            is_vibrating=False,
            are_pads_as_recorded=True,
            **set_up,
        ),
        readings=[
            BranchReading(load_lbf, stretch_in, branch)
            for branch in Branch
            for load_lbf, stretch_in in event[branch.value]
        ],
        based_on=LedgerEntry.objects.filter(housing=housing).latest("sequence").sequence,
        by=by,
    )


def _add_section(event: Event, submission_id: uuid.UUID, by: User) -> None:
    PileSection.objects.create(recorded_by=by, **event["section"])


def _keep_ground(event: Event, submission_id: uuid.UUID, by: User) -> None:
    SoilTemplate.objects.create(
        name=event["name"],
        note=event["note"],
        water_depth_ft=event["water_depth_ft"],
        layers=[asdict(Layer(**layer)) for layer in event["layers"]],
        recorded_by=by,
    )


def _save_job(event: Event, submission_id: uuid.UUID, by: User) -> None:
    """A job saved: its piles from the table of sections, its ground, its crane."""
    sections = sections_by_name()
    save_job(
        submission_id=submission_id,
        job=None,
        fields=event["job"],
        piles=[
            {
                **pile,
                **{name: getattr(section, name) for name in FILLED_BY_SECTION},
                "kind": section.kind,
            }
            for pile in event["piles"]
            for section in [sections[pile["section"]]]
        ],
        layers=[Layer(**layer) for layer in event["layers"]],
        holds=[OtherHold(**hold) for hold in event.get("holds", [])],
        distances={
            Yard.objects.get(name=name).pk: miles
            for name, miles in event.get("distances", {}).items()
        },
        by=by,
    )


def _commit(event: Event, submission_id: uuid.UUID, by: User) -> None:
    """A unit committed to a job, on condition of what `until_then` says is to be done."""
    commit_unit(
        is_care_known=True,
        watched_by=event.get("watched_by", ""),
        submission_id=submission_id,
        job=ExtractionJob.objects.get(site=event["site"]),
        housing=_housing(event),
        by=by,
        plans=[_planned(each) for each in event.get("until_then", [])],
    )


def _planned(told: Mapping[str, Any]) -> Plan:
    lot = PadLot.objects.get(mark=told["lot"]) if "lot" in told else None
    return Plan(**{**told, "kind": ConditionKind(told["kind"]), "lot": lot})


def _commitment(event: Event) -> Commitment:
    return Commitment.objects.in_force().get(
        job__site=event["site"], housing__mark=event["housing"]
    )


def _meet(event: Event, submission_id: uuid.UUID, by: User) -> None:
    """What no record can show of a commitment's conditions is done."""
    meet_condition(
        submission_id=submission_id,
        condition=CommitmentCondition.objects.get(
            commitment=_commitment(event), kind=ConditionKind.OTHER
        ),
        note=event["note"],
        by=by,
    )


def _confirm(event: Event, submission_id: uuid.UUID, by: User) -> None:
    confirm_commitment(
        is_care_known=True,
        watched_by=event.get("watched_by", ""),
        submission_id=submission_id,
        commitment=_commitment(event),
        by=by,
    )


def _pull_pile(event: Event, submission_id: uuid.UUID, by: User) -> None:
    """What happened when a pile of a committed job was pulled."""
    record_pull(
        submission_id=submission_id,
        commitment=_commitment(event),
        done=PullDone(pulled_at=_happened_at(event), **{"pile_group": 1} | event["pull"]),
        by=by,
    )


def _measure_haul(event: Event, submission_id: uuid.UUID, by: User) -> None:
    record_yard_haul(
        submission_id=submission_id,
        one=Yard.objects.get(name=event["one"]),
        other=Yard.objects.get(name=event["other"]),
        haul_mi=event["haul_mi"],
        by=by,
    )


def _qualify(event: Event, submission_id: uuid.UUID, by: User) -> None:
    record_qualification(
        submission_id=submission_id,
        holder=User.objects.get(username=event["holder"]),
        purpose=event["purpose"],
        certificate=event["certificate"],
        issued_on=event["issued_on"],
        expires_on=event["expires_on"],
        by=by,
    )


def _transfer(event: Event, submission_id: uuid.UUID, by: User) -> None:
    plan_transfer(
        submission_id=submission_id,
        housing=_housing(event),
        hammer=None,
        goal=Yard.objects.get(name=event["goal"]),
        leaves_on=event["leaves_on"],
        arrives_on=event["arrives_on"],
        note=event["note"],
        by=by,
    )


# What no table of the register has a row for.
ACTS: dict[str, Callable[[Event, uuid.UUID, User], None]] = {
    "count": _count,
    "round": _round,
    "correct": _correct,
    "refresh": _refresh,
    "forecasts": _keep_forecasts,
    "pad price": _price_pads,
    "surveillance plan": _plan_draws,
    "proof pull": _pull,
    "pile section": _add_section,
    "keep ground": _keep_ground,
    "job": _save_job,
    "commit": _commit,
    "meet": _meet,
    "confirm": _confirm,
    "pull pile": _pull_pile,
    "qualification": _qualify,
    "yard haul": _measure_haul,
    "transfer": _transfer,
}
