"""The best plan for the short units of a unit, a yard or the fleet, from what is on record."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Q

from fleet import clock
from fleet.dates import day_words, days_words
from fleet.models import (
    Hire,
    Mounting,
    PadLot,
    PadPosition,
    PadPrice,
    ShelfCount,
    SuppressorHousing,
    Transfer,
    Yard,
)
from fleet.models.housing import Condition
from fleet.prices import price_of
from inspections.models import RestorePlan
from inspections.restoring.promises import promise, repair_days
from ratings.jobs.needs import needs_of_pads
from ratings.ledger.facts import gather, lot_rate
from ratings.mechanics.restoring import (
    MOST_RATINGS,
    Goal,
    Need,
    Restored,
    RestoringPlan,
    ShortUnit,
    Source,
    best_plan,
)
from ratings.mechanics.standing import Standing
from ratings.mechanics.unit_rating import LotRate, UnitInputs, UnitRating, rate_unit
from ratings.models import Commitment, CurrentRating, LotRating, RatingPolicy
from ratings.models.policy import policy_in_force

GOALS = {"fewest": Goal.FEWEST, "cheapest": Goal.CHEAPEST, "ready": Goal.READY}
# Of a lot that is bought so many can be had at once.
MOST_BOUGHT = 400
# Where pads lie that the books have on no yard's shelf.
LOOSE = "pads whose yard is not on record"
# Ways rated over all units of a plan; each unit gets its share, and no fewer than the least.
RATINGS_OF_A_PLAN, LEAST_RATINGS = 3_200, 16


@dataclass(frozen=True)
class Asked:
    """What a plan is asked for: of one housing, of a yard, or with neither of the whole fleet.

    takes_from_units: whether pads of spare housings and of short units no job holds, in the same
    yard, may be used. buys: whether pads may be bought that have a price. buys_unpriced: whether
    those of lots without a price too, so that the want is told at least.
    """

    goal: str
    housing: SuppressorHousing | None = None
    yard: Yard | None = None
    takes_from_units: bool = False
    buys: bool = False
    buys_unpriced: bool = False


@dataclass(frozen=True)
class Made:
    """A plan as it is shown and kept, and what it rests on."""

    document: dict[str, Any]
    basis: dict[str, Any]

    @property
    def digest(self) -> str:
        """SHA-256 of what it rests on: who keeps a plan says by it which one was seen."""
        return hashlib.sha256(json.dumps(self.basis, sort_keys=True).encode()).hexdigest()


class _Records:
    """All that a plan rests on, read once."""

    def __init__(self, asked: Asked) -> None:
        self.asked, today = asked, clock.today()
        policy = RatingPolicy.objects.first()
        self.policy_key, self.policy = policy.pk if policy else None, policy_in_force(policy)
        housings = list(
            SuppressorHousing.objects.filter(Q(retired_on__isnull=True) | Q(retired_on__gt=today))
            .select_related("yard")
            .order_by("mark")
        )
        keys = [each.pk for each in housings]
        self.away = {
            key: f"it is on its way to {each.goal}: plan for it once it has arrived"
            for key, each in Transfer.objects.open_by_housing(keys).items()
            if each.has_left
        } | {
            key: f"it is let to {hire.hirer}: plan for it once that hire is over"
            for key, hire in Hire.objects.open_by_housing(keys).items()
        }
        self.not_at_hand = [
            each
            for each in housings
            if each.pk in self.away and self.asked.housing is None and self._is_near(each)
        ]
        self.housings = {each.pk: each for each in housings if each.pk not in self.away}
        near = [each for each in self.housings.values() if self._is_near(each)]
        facts = gather(near)
        self.inputs = {key: each.inputs for key, each in facts.items()}
        # A unit found softer than its pads stays held to that, whatever is fitted; a pull that
        # agreed told of the pads as they hung, and no more of it once one is new.
        self.softer = {
            key
            for key, each in facts.items()
            if each.provenance.get("proof_pull", {}).get("is_softer")
        }
        self.ratings = {key: rate_unit(inputs) for key, inputs in self.inputs.items()}
        self.commitments = list(
            Commitment.objects.not_over(today)
            .select_related("job__indicator")
            .prefetch_related("job__layers", "job__pile_groups", "job__holds")
        )
        self.committed = {each.housing_id for each in self.commitments}
        self.sequences = dict(CurrentRating.objects.values_list("housing_id", "sequence"))
        self.hammers = Mounting.objects.hammers_by_housing(list(self.housings))
        self.prices = PadPrice.objects.in_force(today)
        self.rates, self.left_out = self._rates(today)
        self.held = {
            key
            for key in self.inputs
            if self._is_below(self.ratings[key])
            and not self._is_below(rate_unit(self._without_agreeing_pull(key)))
        }
        self.digests: dict[int, str] = {}
        self.needs = self._needs(today) if asked.goal == "ready" else {}
        self.held_for_a_job = {key for key in self.needs if self._is_held_for_a_job(key)}
        self.short = [
            key
            for key in self.inputs
            if self.is_asked(key) and (self._is_short(key) or self._is_short_for_a_job(key))
        ]
        self.without = {
            key: self.ratings[key].missing
            for key in self.inputs
            if self.is_asked(key)
            and self.ratings[key].missing
            and (key in self.hammers or self._is_the_one(key))
        }
        self.sources = {each.key: each for each in self._sources()}

    def _is_near(self, housing: SuppressorHousing) -> bool:
        if self.asked.housing is not None:
            return housing.pk == self.asked.housing.pk or (
                self.asked.takes_from_units and housing.yard_id == self.asked.housing.yard_id
            )
        return self.asked.yard is None or housing.yard_id == self.asked.yard.pk

    def is_asked(self, key: int) -> bool:
        return self.asked.housing is None or key == self.asked.housing.pk

    def _without_agreeing_pull(self, key: int) -> UnitInputs:
        inputs = self.inputs[key]
        return inputs if key in self.softer else replace(inputs, proof=None)

    @staticmethod
    def _is_below(rating: UnitRating) -> bool:
        return rating.working_capacity_lbf is not None and rating.standing not in (
            Standing.MEETS_LISTING,
            Standing.UNRATED,
        )

    def _is_short(self, key: int) -> bool:
        """Say whether it lacks pads; one that only a proof pull holds lower does not."""
        return key not in self.held and self._is_below(self.ratings[key])

    def _needs(self, today: date) -> dict[int, list[Need]]:
        """Return what the jobs that hold units ask of their pads, by the key of the housing."""
        near = [each for each in self.commitments if each.housing_id in self.inputs]
        found: dict[int, list[Need]] = {}
        for each, asked in needs_of_pads(near).items():
            days = max(0, (each.first_day - today).days)
            need = Need(str(each.pk), days, asked.is_met, asked.least_lbf)
            found.setdefault(each.housing_id, []).append(need)
            self.digests[each.pk] = asked.digest
        return found

    def _is_short_for_a_job(self, key: int) -> bool:
        """Say whether its pads fall short of what a job that holds it asks; not by a pull alone."""
        return (
            key not in self.held
            and key not in self.held_for_a_job
            and self._is_rated_for_jobs(key)
            and self.met_now(key) < {each.key for each in self.needs.get(key, ())}
        )

    def _is_held_for_a_job(self, key: int) -> bool:
        """Say whether only a pull that agreed keeps its pads from all that its jobs ask."""
        inputs = self._without_agreeing_pull(key)
        rating = rate_unit(inputs)
        return (
            key not in self.held
            and self._is_rated_for_jobs(key)
            and self.met_now(key) < {each.key for each in self.needs[key]}
            and all(each.is_met(inputs, rating) for each in self.needs[key])
        )

    def _is_rated_for_jobs(self, key: int) -> bool:
        rating = self.ratings[key]
        return rating.working_capacity_lbf is not None and rating.listed_lbf is not None

    def met_now(self, key: int) -> frozenset[str]:
        """Return the needs that a unit's pads meet as it is rated now, a proof pull and all."""
        inputs, rating = self.inputs[key], self.ratings[key]
        needs = self.needs.get(key, ())
        return frozenset(each.key for each in needs if each.is_met(inputs, rating))

    def _rates(self, today: Any) -> tuple[dict[int, tuple[PadLot, LotRate, int]], dict[str, str]]:
        """Return each lot that may be fitted with its rate, and why others may not."""
        lots = {each.pk: each for each in PadLot.objects.in_use()}
        ratings = LotRating.objects.in_force_by_lot(lots)
        found, left_out = {}, {}
        for key, lot in lots.items():
            if key not in ratings:
                left_out[lot.mark] = "it has no approved rate"
            elif (rate := lot_rate(ratings[key], self.policy)).stale:
                left_out[lot.mark] = f"its rate is stale: {rate.stale}"
            elif lot.use_by and lot.use_by < today:
                left_out[lot.mark] = "it is past its use-by day"
            else:
                found[key] = (lot, rate, ratings[key].pk)
        return found, left_out

    @cached_property
    def yards(self) -> set[int]:
        """The yards of the short units."""
        return {self.housings[key].yard_id for key in self.short}

    def price(self, lot_id: int, yard_id: int | None) -> PadPrice | None:
        """What a pad of a lot costs a yard today; for none, the one yard there is, or all.

        One in a currency that the yard has no more is no price of it.
        """
        if yard_id is None and len(self.yards) == 1:
            yard_id = next(iter(self.yards))
        paid_in = {
            self.paid_in[each]
            for each in (self.yards if yard_id is None else (yard_id,))
            if each in self.paid_in
        }
        if len(paid_in) != 1:
            return None
        return price_of(self.prices, lot_id, yard_id, *paid_in)

    @cached_property
    def paid_in(self) -> dict[int, str]:
        """The currency of each yard that a housing lies in, by its key."""
        return {each.yard_id: each.yard.currency for each in self.housings.values()}

    @cached_property
    def priced(self) -> dict[tuple[int, int], PadPrice]:
        """The prices of lots that may be fitted in the yards of the short units."""
        found = {
            (lot_id, yard_id): self.price(lot_id, yard_id)
            for lot_id in sorted(self.rates)
            for yard_id in sorted(self.yards)
        }
        return {key: price for key, price in found.items() if price is not None}

    def _sources(self) -> Iterable[Source]:
        yards = self.yards
        for shelf in ShelfCount.objects.filter(pads__gt=0).order_by("lot_id", "yard_id"):
            if shelf.lot_id in self.rates and (shelf.yard_id is None or shelf.yard_id in yards):
                key = f"shelf:{shelf.lot_id}:{shelf.yard_id or 0}"
                yield self._source(key, shelf.lot_id, shelf.yard_id, shelf.pads)
        if self.asked.takes_from_units:
            yield from self._of_units()
        if self.asked.buys:
            for lot_id in self.rates:
                for yard_id in sorted(yards):
                    if self.price(lot_id, yard_id) or self.asked.buys_unpriced:
                        key = f"buy:{lot_id}:{yard_id}"
                        yield self._source(key, lot_id, yard_id, MOST_BOUGHT, is_bought=True)

    def _of_units(self) -> Iterable[Source]:
        """Yield the sound pads of spare housings and of short units that no job holds."""
        givers = [
            key
            for key in self.inputs
            if key not in self.committed and (key not in self.hammers or self._is_short(key))
        ]
        there: dict[tuple[int, int], int] = {}
        sound = PadPosition.objects.filter(housing__in=givers, condition=Condition.SOUND)
        for key, lot_id in sound.order_by("housing_id", "lot_id").values_list("housing", "lot"):
            if lot_id in self.rates and not self._is_the_one(key):
                there[key, lot_id] = there.get((key, lot_id), 0) + 1
        for (key, lot_id), pads in there.items():
            yard_id = self.housings[key].yard_id
            yield self._source(f"unit:{key}:{lot_id}", lot_id, yard_id, pads, unit=str(key))

    def _is_the_one(self, key: int) -> bool:
        return self.asked.housing is not None and key == self.asked.housing.pk

    def _source(self, key: str, lot_id: int, yard_id: int | None, pads: int, **more: Any) -> Source:
        lot, rate, _ = self.rates[lot_id]
        price = self.price(lot_id, yard_id)
        cents = None if price is None or len(self.currencies) > 1 else int(price.amount * 100)
        days = price.lead_days if price is not None and key.startswith("buy:") else 0
        return Source(key, rate, pads, cents, rubber_in=lot.rubber_thickness_in, days=days, **more)

    @cached_property
    def currencies(self) -> set[str]:
        """In what pads that may be fitted are paid, in the yards of the short units."""
        return {each.currency for each in self.priced.values()}

    def units(self) -> list[ShortUnit]:
        """The short units, each with the sources of its yard and the pads of no yard."""
        return [
            ShortUnit(
                str(key),
                self._without_agreeing_pull(key),
                tuple(
                    each
                    for each in self.sources
                    if self.place(each) in (0, self.housings[key].yard_id)
                ),
                tuple(self.needs.get(key, ())),
            )
            for key in self.short
        ]

    @cached_property
    def lot_keys(self) -> dict[str, int]:
        """The key of every lot, in use or not, by its mark."""
        return dict(PadLot.objects.values_list("mark", "pk"))

    @cached_property
    def repair_days(self) -> dict[int, tuple[int | None, int]]:
        """How long repairs of housings take in the yards of the short units."""
        return repair_days(self.yards)

    def place(self, source: str) -> int:
        """The key of the yard a source lies in, 0 for none."""
        kind, one, two = source.split(":")
        return self.housings[int(one)].yard_id if kind == "unit" else int(two)

    @property
    def basis(self) -> dict[str, Any]:
        """What a plan of these records rests on, as it is kept."""
        lots = sorted({source.split(":")[1 if source[0] != "u" else 2] for source in self.sources})
        held = filter(self.is_asked, self.held | self.held_for_a_job)
        units = {*self.short, *self.without, *held} | {
            int(each.unit) for each in self.sources.values() if each.unit
        }
        return {
            "policy": self.policy_key,
            "units": {str(key): self.sequences.get(key, 0) for key in sorted(units)},
            "stock": {key: each.pads for key, each in sorted(self.sources.items())},
            "rates": {key: self.rates[int(key)][2] for key in lots},
            "prices": {
                f"{lot_id}:{each.yard_id or 0}": each.pk
                for (lot_id, _), each in self.priced.items()
                if str(lot_id) in lots
            },
            "committed": sorted(
                [each.pk, str(each.first_day), str(each.last_day), self.digests[each.pk]]
                for each in self.commitments
                if each.housing_id in self.needs
            )
            if self.needs
            else sorted(self.committed & set(self.short)),
        }


def make(asked: Asked) -> Made:
    """Return the best plan for what is asked, from what is on record now. Saves nothing.

    Raises ValidationError, naming the field, for a goal not known or of no sense for one unit, a
    unit and a yard at once, a yard out of use, a unit that is let, on its way or out of use, and
    where the least cost is asked for over yards of several currencies.
    """
    _refuse(asked)
    records = _Records(asked)
    away = records.away.get(asked.housing.pk) if asked.housing is not None else None
    if away is not None:
        raise ValidationError({"housing": f"No pads are planned: {away}."})
    if asked.goal == "cheapest" and len(records.currencies) > 1:
        raise ValidationError(
            {"goal": "The yards pay in several currencies: ask yard by yard for the least cost."}
        )
    units = records.units()
    share = RATINGS_OF_A_PLAN // max(1, len(units))
    plan = best_plan(
        units,
        records.sources.values(),
        GOALS[asked.goal],
        most_ratings=min(MOST_RATINGS, max(LEAST_RATINGS, share)),
    )
    return Made(_document(records, plan), records.basis)


def _refuse(asked: Asked) -> None:
    """Refuse what no plan can be made of."""
    today = clock.today()
    if asked.goal not in GOALS:
        raise ValidationError(
            {"goal": f"“{asked.goal}” is no goal of a plan: give {', '.join(GOALS)}."}
        )
    if asked.housing is not None and asked.goal == "ready":
        raise ValidationError(
            {"goal": "Of one unit there is no choice which jobs to be ready for: give another."}
        )
    if asked.housing is not None and asked.yard is not None:
        raise ValidationError({"yard": "A plan is of one unit or of a yard: leave one out."})
    if asked.yard is not None and asked.yard.retired_on and asked.yard.retired_on <= today:
        raise ValidationError({"yard": f"Yard {asked.yard} is out of use: choose another."})
    retired = asked.housing.retired_on if asked.housing is not None else None
    if retired is not None and retired <= today:
        raise ValidationError(
            {"housing": f"No pads are planned: it is out of use since {day_words(retired)}."}
        )


def changes_since(kept: RestorePlan) -> list[str]:
    """Return what a kept plan rests on that changed since, in words; none where it holds."""
    asked = Asked(kept.goal, kept.housing, kept.yard, kept.takes_from_units, kept.buys)
    now, then = _Records(asked).basis, kept.basis
    words = {
        "units": "pads or figures of its units",
        "policy": "the policy of rating",
        "stock": "the pads in stock",
        "rates": "the rate of a lot",
        "prices": "the price of a pad",
    }
    if kept.goal == "ready":
        words["committed"] = "which units jobs hold, or what they ask of them"
    return [said for name, said in words.items() if now[name] != then[name]]


def _document(records: _Records, plan: RestoringPlan) -> dict[str, Any]:
    units = [_unit(records, each) for each in plan.units]
    return {
        "units": units,
        "pads": plan.pads,
        "ready": plan.ready,
        "short": sum(not _is_at_listing(each) for each in plan.units),
        **_jobs(records, plan),
        "cost": _money(plan.cost) if plan.pads else None,
        "currency": "".join(records.currencies) if len(records.currencies) == 1 else "",
        "is_in_several_currencies": len(records.currencies) > 1,
        "days": max((each["days"] for each in units if each["meets"]), default=0),
        "unpriced": list(plan.unpriced),
        "left_out": [[mark, why] for mark, why in sorted(_left_out(records).items())],
        "without": [
            [key, records.housings[key].mark, list(missing)]
            for key, missing in sorted(records.without.items())
        ],
        "not_at_hand": [[each.pk, each.mark] for each in records.not_at_hand],
        "held": [
            {
                "housing": key,
                "mark": records.housings[key].mark,
                "before": _figures(records.ratings[key]),
                "for_a_job": key not in records.held,
            }
            for key in sorted(
                key
                for key in records.held | (records.held_for_a_job - {*records.short})
                if records.is_asked(key)
            )
        ],
        "is_proven": plan.is_proven,
        "most_ready": plan.most_ready,
        "least": None
        if plan.least is None
        else _money(plan.least)
        if plan.goal is Goal.CHEAPEST
        else plan.least,
    }


def _is_at_listing(each: Restored) -> bool:
    return each.before.standing is Standing.MEETS_LISTING


def _jobs(records: _Records, plan: RestoringPlan) -> dict[str, Any]:
    """Return how many committed jobs have a unit whose pads do, before the plan and by it.

    Of those whose unit the plan does not touch, that is as it is now.
    """
    of_units = {int(each.key): each for each in plan.units}
    before = after = 0
    for key in records.needs:
        now, unit = records.met_now(key), of_units.get(key)
        before += len(now)
        after += len(now if unit is None else _met(records, unit))
    return {
        "jobs": sum(map(len, records.needs.values())),
        "jobs_ready_before": before,
        "jobs_ready": after,
    }


def _met(records: _Records, each: Restored) -> frozenset[str]:
    """Return the needs a unit meets by a plan: where it gets no pad, those it meets now."""
    return each.met if _way(each) else records.met_now(int(each.key))


def _way(each: Restored) -> Any:
    return each.way or (each.outlook.way if each.outlook else None)


def _left_out(records: _Records) -> dict[str, str]:
    """Why lots that lie on the shelves in reach are not used."""
    here = ShelfCount.objects.filter(
        Q(yard__in=records.yards) | Q(yard__isnull=True), pads__gt=0
    ).values_list("lot__mark", flat=True)
    return {mark: records.left_out[mark] for mark in here if mark in records.left_out}


def _unit(records: _Records, each: Restored) -> dict[str, Any]:
    key = int(each.key)
    housing, hammer = records.housings[key], records.hammers.get(key)
    lots = {lot.mark: lot.pk for lot, _, _ in records.rates.values()}
    draws = [_draw(records, source, pads) for source, pads in each.from_source]
    way, met_now, met = _way(each), records.met_now(key), _met(records, each)
    replaced = {(place.side, place.number) for place in way.replaced} if way else set()
    now = {(place.side, place.number): place for place in records.inputs[key].positions}
    found = {
        "housing": key,
        "mark": housing.mark,
        "hammer": hammer.mark if hammer else "",
        "yard": housing.yard.name,
        "is_committed": key in records.committed,
        "travel_in": records.inputs[key].travel_in,
        # The ledger's figure: what is planned is rated without a pull that agreed.
        "before": _figures(records.ratings[key]),
        "after": _figures(way.rating) if way else None,
        "meets": each.is_restored,
        "jobs": [
            {
                "job": held.job_id,
                "site": held.job.site,
                "days": days_words(held.first_day, held.last_day),
                "was_ready": str(held.pk) in met_now,
                "is_ready": str(held.pk) in met,
            }
            for held in records.commitments
            if held.housing_id == key and records.needs
        ],
        "is_uneven": bool(way and way.rating.is_out_of_balance),
        "placed": [
            {
                "side": place.side,
                "number": place.number,
                "lot": place.lot,
                "lot_id": lots[place.lot or ""],
                "was": now[place.side, place.number].condition,
                "was_lot": now[place.side, place.number].lot or "",
                "is_sound_now": (place.side, place.number) in replaced,
            }
            for place in (way.placed if way else ())
        ],
        "by_lot": [[lot, many] for lot, many in (way.by_lot if way else ())],
        "draws": draws,
        "days": max((draw["days"] for draw in draws), default=0),
        "cost": _cost(draws),
        "further": [
            {
                "lot": one.lot,
                "lot_id": records.lot_keys[one.lot],
                "tested_in": one.tested_stretch_in,
                "gain_lbf": one.gain_lbf,
                "standing": one.rating.standing.value,
            }
            for one in each.further
        ],
        "travel_to_meet_in": each.outlook.travel_in if each.outlook else None,
        "rate_to_meet_lbf_in": each.outlook.rate_lbf_in if each.outlook else None,
        "is_left_out": each.is_left_out,
        "is_giver": each.is_giver,
        "had_proof_pull": records.inputs[key].proof is not None,
        "is_softer": key in records.softer,
    }
    return found | promise(found, records.repair_days[housing.yard_id])


def _figures(rating: UnitRating) -> dict[str, Any]:
    return {
        "pull_lbf": rating.pull_lbf,
        "capacity_lbf": rating.working_capacity_lbf,
        "listed_lbf": rating.listed_lbf,
        "standing": rating.standing.value,
    }


def _draw(records: _Records, source: str, pads: int) -> dict[str, Any]:
    kind, one, two = source.split(":")
    lot_id = int(two if kind == "unit" else one)
    lot = records.rates[lot_id][0]
    yard_id = records.place(source) or None
    price = records.price(lot_id, yard_id)
    where = {
        "shelf": f"the shelf of {_yard(records, yard_id)}" if yard_id else LOOSE,
        "unit": f"housing {records.housings[int(one)].mark}" if kind == "unit" else "",
        "buy": "to be bought",
    }[kind]
    return {
        "kind": kind,
        "where": where,
        "from_housing": int(one) if kind == "unit" else None,
        "lot": lot.mark,
        "lot_id": lot_id,
        "pads": pads,
        "each": str(price.amount) if price else None,
        "currency": price.currency if price else "",
        "cost": str(price.amount * pads) if price else None,
        "days": price.lead_days if kind == "buy" and price else 0,
    }


def _yard(records: _Records, yard_id: int | None) -> str:
    return next(each.yard.name for each in records.housings.values() if each.yard_id == yard_id)


def _cost(draws: Sequence[Mapping[str, Any]]) -> str | None:
    """What the pads of a unit come to, None where one of them has no price."""
    if not draws or any(each["cost"] is None for each in draws):
        return None
    return str(sum(Decimal(each["cost"]) for each in draws))


def _money(cents: int | None) -> str | None:
    return None if cents is None else str((Decimal(cents) / 100).quantize(Decimal("0.01")))
