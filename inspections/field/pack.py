"""What a phone takes along: units, lots, lists and people, in a fixed number of queries.

Of units, by far the most of it, the JSON is kept until anything is put on record.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import QuerySet
from django.urls import reverse

from fleet import clock
from fleet.models import (
    HourReading,
    HousingGuide,
    MachineSort,
    MeterChange,
    OutOfService,
    PadLot,
    PadPosition,
    SuppressorHousing,
    Yard,
)
from fleet.people.yards import yards_bound_to
from fleet.roles import PLAN, RECORD, managers_but, who_words
from fleet.unchanged import as_recorded
from fleet.units import Hung, hung_today
from inspections.count.signing import kinds_by_hours
from inspections.field.pulls import commitments_along
from inspections.field.reading import findings_by_housing, reading
from inspections.models import InspectionKind
from inspections.schedule.checklists import WORDS_OF_SORTS, checklists_in_force, sort_of_part
from inspections.schedule.due import Due, due_of_fleet
from inspections.schedule.kinds import kinds_in_use
from ratings.ledger.facts import lot_rate
from ratings.mechanics.unit_rating import LotRate, Policy, StaleRates, kept_share, strain_limit_of
from ratings.models import LedgerEntry, Listing, LotRating, RatingPolicy
from ratings.models.policy import policy_in_force
from ratings.rerating.telling import rated_again_since

Row = dict[str, Any]
Shown = tuple[datetime, float]

# Asked for each kind of each unit, and made anew each time it is asked of the enumeration.
_COMMON_KINDS = frozenset(InspectionKind.values)


def pack_json(user: User, system: str, more: Row) -> str:
    """Return all that a person needs beside a hammer with no signal, as JSON, with more in it."""
    # Before all that is read: what is recorded meanwhile is then made anew for whoever asks next.
    known, bound = as_recorded(), yards_bound_to(user)
    units = known.once(UnitsOf(system, tuple(bound)))
    beside = json.dumps(_beside_units(user, system, bound) | more, cls=DjangoJSONEncoder)
    return f'{{"units": {units}, {beside[1:]}'


def _beside_units(user: User, system: str, bound: Sequence[Yard]) -> Row:
    policy = policy_in_force(RatingPolicy.objects.first())
    return {
        "made_at": clock.now().isoformat(),
        "user": {
            "id": user.pk,
            "name": who_words(user),
            "units": system,
            "may_record": user.has_perm(RECORD),
            "may_plan": user.has_perm(PLAN),
        },
        "commitments": commitments_along(bound),
        "rated_again": _rated_again(bound),
        "lots": _lots(policy),
        "checklists": _checklists(),
        "finding_words": [[sort.value, pattern] for pattern, sort in WORDS_OF_SORTS],
        "people": _people(),
        "lookers": [{"id": each.pk, "name": who_words(each)} for each in managers_but(user)],
    }


def _rated_again(bound: Sequence[Yard]) -> Row:
    """Return since when each unit is being rated again, where one is: by its key.

    Beside the units, since no line of the journal tells of it.
    """
    since = rated_again_since(_along(bound).order_by().values_list("pk", flat=True))
    return {str(key): moment.isoformat() for key, moment in since.items()}


def _along(bound: Sequence[Yard]) -> QuerySet[SuppressorHousing]:
    """Every housing that may be counted; of who is bound to yards, those that stand there."""
    in_use = SuppressorHousing.objects.in_use()
    return in_use.filter(yard__in=bound) if bound else in_use


@dataclass(frozen=True)
class UnitsOf:
    """Makes the JSON of units, of those that stand in some yards where any are given.

    Every row it is made of is journaled, or changes only together with one that is.
    """

    system: str
    bound: tuple[Yard, ...] = ()

    def __call__(self) -> str:
        return json.dumps(_units(self.system, self.bound), cls=DjangoJSONEncoder)


def _units(system: str, bound: Sequence[Yard]) -> list[Row]:
    along: Any = _along(bound)
    housings: list[Any] = list(
        along.with_last_seen().select_related("yard", "current_rating__head")
    )
    known = {housing.pk: housing for housing in housings}
    # Asked once: what is due goes by it too.
    hung = hung_today(list(known), known=known)
    hammers = {each.hammer.pk: each.hammer for each in hung.values() if each.hammer}
    listings = Listing.objects.in_force_by_hammer(hammers)
    packs = {each.power_pack.pk for each in hung.values() if each.power_pack}
    hours, pack_hours = _hours("hammer", hammers), _hours("power_pack", packs)
    guides = HousingGuide.objects.in_force_by_housing(housing.pk for housing in housings)
    due = {
        unit.housing.pk: [_due(kind) for kind in unit.kinds]
        for unit in due_of_fleet(housings, hung=hung)
        if unit.housing
    }
    out = dict(OutOfService.objects.open().with_unit().values_list("unit_today", "reason"))
    findings, pads = findings_by_housing(housings, hung), _pads()
    hours_kinds, pack_kinds = kinds_by_hours(), kinds_by_hours(MachineSort.POWER_PACK)
    return [
        _unit(housing, hung.get(housing.pk), listings, hours, due)
        | {"pads": pads.get(housing.pk, [])}
        | {"reading": reading(housing, system, findings)}
        | {
            "is_guided": housing.pk in guides and guides[housing.pk].is_guided,
            "out_of_service": out.get(housing.pk, ""),
            "hours_kinds": hours_kinds,
        }
        | _hung(housing, hung.get(housing.pk), pack_hours, pack_kinds)
        for housing in housings
    ]


def _hung(
    housing: SuppressorHousing,
    hung: Hung | None,
    pack_hours: dict[int, Shown],
    pack_kinds: Sequence[str],
) -> Row:
    """What hangs together with a housing, and what the meter of its power pack showed last."""
    machines = hung.by_sort if hung else {MachineSort.HOUSING: housing}
    pack = hung.power_pack if hung else None
    shown = pack_hours.get(pack.pk) if pack else None
    # As meters_needed has it: of a meter never read a common kind asks for nothing.
    asking = [each for each in pack_kinds if shown or each not in _COMMON_KINDS]
    return {
        "pack_hours_kinds": asking,
        "machines": [{"sort": sort.value, "mark": each.mark} for sort, each in machines.items()],
        "power_pack": pack.mark if pack else None,
        "pack_hours": shown[1] if shown else None,
        "pack_hours_at": shown[0].isoformat() if shown else None,
    }


def _due(kind: Due) -> Row:
    return {
        "kind": kind.row.kind,
        "due_on": kind.due_on.isoformat() if kind.due_on else None,
        "overdue": kind.is_overdue,
        "words": kind.words_with_machine,
        "is_common": kind.row.kind in _COMMON_KINDS,
    }


def _unit(
    housing: Any,
    hung: Hung | None,
    listings: dict[int, Any],
    hours: dict[int, Shown],
    due: dict[int, list[Row]],
) -> Row:
    hammer = hung.hammer if hung else None
    shown = hours.get(hammer.pk) if hammer else None
    listing = listings.get(hammer.pk) if hammer else None
    rating = getattr(housing, "current_rating", None)
    return {
        "id": housing.pk,
        "url": reverse("unit", args=[housing.pk]),
        "mark": housing.mark,
        "yard": housing.yard.name,
        "hammer": hammer.mark if hammer else None,
        "positions_per_side": housing.positions_per_side,
        "design_travel_in": housing.design_travel_in,
        "bumper": housing.bumper,
        "travel_in": housing.travel_in,
        "listed_lbf": listing.listed_lbf if listing else None,
        "proof": _proof(rating.head) if rating else None,
        "standing": rating.head.standing if rating else "unrated",
        "working_capacity_lbf": rating.head.working_capacity_lbf if rating else None,
        "hours": shown[1] if shown else None,
        "hours_at": shown[0].isoformat() if shown else None,
        "due": due.get(housing.pk, []),
    }


def _pads() -> dict[int, list[Row]]:
    """Each position and what is known of its pad, by housing.

    Without records made of them: a yard has more pads than all else together.
    """
    pads: dict[int, list[Row]] = {}
    columns = ("housing_id", "side", "number", "condition", "lot_id", "was")
    for key, side, number, condition, lot, was in PadPosition.objects.order_by(
        "housing", "side", "number"
    ).values_list(*columns):
        pads.setdefault(key, []).append(
            {"side": side, "number": number, "condition": condition, "lot": lot, "was": was}
        )
    return pads


def _proof(head: LedgerEntry) -> Row | None:
    """What a proof pull holds a unit to, and whether it does so whatever its pads are."""
    proof = head.inputs.get("proof")
    if proof is None:
        return None
    pull = head.contents["provenance"]["proof_pull"]
    return {"ratio": proof["ratio"], "is_softer": pull["is_softer"]}


def _hours(column: str, keys: Iterable[int]) -> dict[int, Shown]:
    """When each meter of hammers or power packs was last read and what it showed.

    Of the one in place now. column: which of the two.
    """
    of_these = {f"{column}__in": list(keys)}
    readings = HourReading.objects.standing().filter(**of_these)
    changes = MeterChange.objects.filter(**of_these)
    shown = [(each.read_at, 0, each.machine_id, each.hours) for each in readings]
    # At one moment the old meter is read, then changed.
    shown += [(each.changed_at, 1, each.machine_id, each.new_hours) for each in changes]
    return {key: (at, hours) for at, _order, key, hours in sorted(shown)}


def _lots(policy: Policy) -> list[Row]:
    lots = list(PadLot.objects.to_choose())
    ratings = LotRating.objects.in_force_by_lot(lot.pk for lot in lots)
    rates = {pk: lot_rate(rating, policy) for pk, rating in ratings.items()}
    return [_lot(lot, rates.get(lot.pk), policy) for lot in lots]


def _lot(lot: PadLot, rate: LotRate | None, policy: Policy) -> Row:
    row: Row = {
        "id": lot.pk,
        "mark": lot.mark,
        "rate_lbf_in": None,
        "tested_stretch_in": None,
        "curve": None,
        # Of every lot, rated or not: rubber torn by its stretch is torn whatever it counts for.
        "strain_limit_in": strain_limit_of(lot.rubber_thickness_in, policy),
    }
    if rate is None or (rate.stale and policy.stale_rates == StaleRates.DROP):
        return row
    knots = [[knot.stretch_in, knot.force_lbf, knot.slope_lbf_in] for knot in rate.curve]
    return row | {
        "rate_lbf_in": rate.rate_lbf_in,
        "tested_stretch_in": rate.tested_stretch_in,
        "curve": knots,
        "kept_share": kept_share(rate, policy),
    }


def _checklists() -> Row:
    needs = {kind.name: kind.needs for kind in kinds_in_use()}
    return {
        kind: {
            "id": given.edition,
            "needs": list(needs[kind]),
            "items": [
                {
                    "key": item.key,
                    "part": item.part,
                    "text": item.text,
                    "sort": sort_of_part(item.part, item.text).value,
                }
                for item in given.items
            ],
        }
        for kind, given in checklists_in_force().items()
    }


def _people() -> list[str]:
    people = User.objects.filter(is_active=True, groups__isnull=False).distinct()
    return sorted(who_words(person) for person in people)
