"""Gather from the records what the rating of a unit rests on."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cache, cached_property
from typing import Any, NamedTuple, TypeVar

from fleet import clock, together
from fleet.as_of import AsOf
from fleet.housings import (
    ALL_LOCKED,
    GUIDES,
    HAMMER_OF,
    LISTING_OF,
    POLICY,
    PROOF_PULLS,
    each_once_all_are_locked,
    once_all_are_locked,
)
from fleet.models import (
    Hammer,
    HousingGuide,
    LotCorrection,
    Mounting,
    PadLot,
    PadPosition,
    SuppressorHousing,
)
from fleet.questions import Question, among
from fleet.units import Hung
from ratings.ledger.canonical import canonical_text, digest
from ratings.lot_pools import stored_lot_rate
from ratings.mechanics.freshness import HoldPolicy, stale_reasons
from ratings.mechanics.record import inputs_record
from ratings.mechanics.unit_rating import (
    LotRate,
    LotRubber,
    Policy,
    Position,
    UnitInputs,
)
from ratings.models import Listing, LotRating, ProofPull, RatingPolicy
from ratings.models.listing import in_force_of
from ratings.models.lot_rating import by_lot
from ratings.models.policy import newest_policy, policy_in_force
from ratings.models.proof_pull import NO_PULLS, PullsOfUnit, come_to_by_housing

HungThen = Mapping[int, Hung]
Held = TypeVar("Held")
DAY_SECONDS = 24 * 3600
CORRECTED = "a test it rests on was corrected since"
FOUND_OFF = "the gauge of a test it rests on was found off since"


# Of where inputs come from, what is no input: a policy's figures stand among the inputs, and its
# number alone, or whom it asks for a second word, changes no rating.
NO_INPUT = ("policy",)


def sources(provenance: Mapping[str, Any]) -> dict[str, Any]:
    """Return the records that the inputs of a rating come from, without what changes no rating."""
    return {name: record for name, record in provenance.items() if name not in NO_INPUT}


def staleness(rating: LotRating, policy: Policy, at: datetime) -> str:
    """Return why a rating is stale at a moment, "" where it isn't.

    The rating comes from `LotRating.objects.in_force`, which also tells of tests corrected
    since and of gauges found off.

    The words say no number of days: the same fact must read the same tomorrow, or every
    inspection would find something changed.
    """
    age_days = (at - rating.tested_at).total_seconds() / DAY_SECONDS
    reasons = stale_reasons(
        HoldPolicy(policy.rate_valid_days, policy.coldest_f, policy.warmest_f),
        max(age_days, 0.0),
        (rating.coldest_f, rating.warmest_f),
    )
    words = [reason.value for reason in reasons]
    if getattr(rating, "rests_on_corrected", False):
        words.append(CORRECTED)
    if getattr(rating, "gauge_found_off", False):
        words.append(FOUND_OFF)
    return "; ".join(words)


@dataclass(frozen=True)
class Facts:
    """A unit's inputs, and which records they came from.

    positions: records of them; none where many units were gathered together, of which nobody asks.
    """

    inputs: UnitInputs
    provenance: dict[str, Any]
    positions: tuple[PadPosition, ...] = ()
    listing: Listing | None = None
    guide: HousingGuide | None = None
    pulls: PullsOfUnit = NO_PULLS
    ratings: tuple[LotRating, ...] = ()

    @cached_property
    def inputs_record(self) -> dict[str, Any]:
        """The inputs as JSON values."""
        return inputs_record(self.inputs)


class Fitted(NamedTuple):
    """What is fitted in a position, without a record made of it: a yard has very many pads."""

    side: str
    number: int
    condition: str
    lot_id: int | None
    lot: PadLot | None


Positions = Sequence[PadPosition] | Sequence[Fitted]
# By the key of a housing.
PositionsOf = Mapping[int, Positions]
BesidePads = tuple[
    dict[int, Hammer],
    dict[int, Listing],
    dict[int, HousingGuide],
    dict[int, PullsOfUnit],
    RatingPolicy | None,
]


@dataclass(frozen=True)
class AsIf:
    """What is to be recorded, before it is: facts that differ from those on record.

    ratings: by lot, the rating that will be in force last, None for none at all. policy: the one
    that will be in force, None for the one that is.
    """

    ratings: Mapping[int, LotRating | None] = field(default_factory=dict)
    policy: Policy | None = None


AS_IT_IS = AsIf()


def gather(
    housings: Sequence[SuppressorHousing],
    as_if: AsIf = AS_IT_IS,
    positions: PositionsOf | None = None,
    fresh_at: Mapping[int, datetime] | None = None,
) -> dict[int, Facts]:
    """Return the facts of each housing by its key, in a fixed number of queries.

    positions: with their lots, in the order of their names, where they were read just now.
    fresh_at: by housing, the moment at which rates are stale or not; now where none is said.
    """
    ids = [housing.pk for housing in housings]
    positions = _positions(ids) if positions is None else positions
    lots = {each.lot_id for group in positions.values() for each in group if each.lot_id}
    ratings = together.once(("rates of lots", frozenset(lots)), lambda: _ratings(lots))
    if as_if.ratings:
        ratings = {lot: rating for lot, rating in ratings.items() if lot not in as_if.ratings} | {
            lot: rating for lot, rating in as_if.ratings.items() if rating is not None
        }
    hammers, listings, guides, pulls, policy = together.once(
        ("beside pads", tuple(ids)), lambda: _beside_pads(ids)
    )
    in_force = as_if.policy or policy_in_force(policy)
    moments, now = fresh_at or {}, clock.now()
    rates_at = _rates_at(ratings, in_force)
    return {
        housing.pk: _facts(
            housing,
            positions.get(housing.pk, []),
            ratings,
            rates_at(moments.get(housing.pk, now)),
            hammers,
            listings,
            guides.get(housing.pk),
            pulls.get(housing.pk, NO_PULLS),
            policy,
            in_force,
            housing.travel_in,
        )
        for housing in housings
    }


def _rates_at(
    ratings: Mapping[int, LotRating], policy: Policy
) -> Callable[[datetime], dict[int, LotRate]]:
    """Return what gives the rates of lots, stale or not at a moment, each made once."""
    stored = cache(lambda lot, stale: stored_lot_rate(ratings[lot], policy, stale))

    @cache
    def rates(at: datetime) -> dict[int, LotRate]:
        return {lot: stored(lot, staleness(rating, policy, at)) for lot, rating in ratings.items()}

    return rates


def _beside_pads(ids: list[int]) -> BesidePads:
    """Return what the rating of housings rests on beside their pads and travel."""
    hammers = each_once_all_are_locked(HAMMER_OF, ids, _hammers)
    on_them = {hammer.pk for hammer in hammers.values()}
    return (
        hammers,
        each_once_all_are_locked(LISTING_OF, on_them, _listings),
        _of_all(GUIDES, _guides, ids),
        _of_all(PROOF_PULLS, _pulls, ids),
        once_all_are_locked(POLICY, lambda: (newest_policy(),))[0],
    )


# Each signing asks these of its one unit.
_RATINGS = Question(
    lambda lots: LotRating.objects.in_force_as_known(clock.ANY).filter(among("lot", lots))
)
_MOUNTINGS = Question(lambda housings: Mounting.objects.current_of(housings))
_LISTINGS = Question(lambda hammers: Listing.objects.of_hammers(hammers))
_GUIDES = Question(lambda housings: HousingGuide.objects.standing().told_of(housings))
_PULLS = Question(lambda housings: ProofPull.objects.that_may_decide(housings))
_PADS = Question(lambda housing: PadPosition.objects.filter(housing=housing).select_related("lot"))


def _ratings(lots: Collection[int]) -> dict[int, LotRating]:
    if clock.known_by() != clock.ANY:
        return LotRating.objects.in_force_by_lot(lots)
    return by_lot(_RATINGS.ask(lots=lots))


def _hammers(ids: Sequence[int]) -> dict[int, Hammer]:
    return {each.housing_id: each.hammer for each in _MOUNTINGS.ask(housings=ids)}


def _listings(ids: Collection[int]) -> dict[int, Listing]:
    return in_force_of(_LISTINGS.ask(hammers=ids))


def _guides(ids: Sequence[int]) -> dict[int, HousingGuide]:
    return {guide.housing_id: guide for guide in _GUIDES.ask(housings=ids)}


def _pulls(ids: Sequence[int]) -> dict[int, PullsOfUnit]:
    return come_to_by_housing(_PULLS.ask(housings=ids))


def _of_all(
    key: str, find: Callable[[list[int]], dict[int, Held]], ids: list[int]
) -> dict[int, Held]:
    """Return what is found of housings by their keys: of all at once where it may be held."""

    def of_all() -> dict[int, Held]:
        return find(list(SuppressorHousing.objects.order_by().values_list("pk", flat=True)))

    if together.held(ALL_LOCKED) is None:
        return find(ids)
    return together.once(key, of_all)


@dataclass(frozen=True)
class Seen:
    """What looks at a unit had found by a moment: its pads by (side, number), and its travel.

    pads: each as its condition and the key of its lot; a position never counted is not there.
    """

    pads: Mapping[tuple[str, int], tuple[str, int | None]]
    travel_in: float | None


def gather_as_of(
    housings: Sequence[SuppressorHousing], as_of: AsOf, seen: Mapping[int, Seen], hung: HungThen
) -> dict[int, Facts]:
    """Return the facts of each housing of a past moment by its key, in a fixed number of queries.

    What happens to a unit counts from when it happened: pads, travel, hammer, guides, proof pulls.
    What is the yard's word, ratings of lots and the policy, counts from when it was given, and so
    does what was found wrong with it. A listing counts from when it was recorded, as corrected.
    """
    ids = [housing.pk for housing in housings]
    hammers: dict[int, Hammer] = {
        key: hammer for key in ids if key in hung and (hammer := hung[key].hammer) is not None
    }
    keys = {lot for key in ids for _, lot in seen[key].pads.values() if lot is not None}
    lots = _lots_as_of(keys, as_of)
    with clock.set_to(as_of.at):
        ratings = LotRating.objects.in_force_by_lot(lots, as_of.at)
        listings = Listing.objects.in_force_by_hammer({each.pk for each in hammers.values()}, as_of)
        guides = HousingGuide.objects.in_force_by_housing(ids, as_of)
        pulls = ProofPull.objects.by_housing(ids, as_of)
        policy = RatingPolicy.objects.filter(recorded_at__lte=as_of.at).first()
        for rating in ratings.values():
            rating.lot = lots[rating.lot_id]
        in_force = policy_in_force(policy)
        rates = {key: lot_rate(rating, in_force) for key, rating in ratings.items()}
        return {
            housing.pk: _facts(
                housing,
                _positions_as_of(housing, seen[housing.pk], lots),
                ratings,
                rates,
                hammers,
                listings,
                guides.get(housing.pk),
                pulls.get(housing.pk, NO_PULLS),
                policy,
                in_force,
                seen[housing.pk].travel_in,
            )
            for housing in housings
        }


def _positions_as_of(
    housing: SuppressorHousing, seen: Seen, lots: Mapping[int, PadLot]
) -> list[PadPosition]:
    found = []
    for side, number in housing.position_keys:
        condition, lot = seen.pads.get((side, number), ("", None))
        fitted = None if lot is None else lots.get(lot)
        found.append(
            PadPosition(housing=housing, side=side, number=number, condition=condition, lot=fitted)
        )
    return found


def _lots_as_of(keys: Collection[int], as_of: AsOf) -> dict[int, PadLot]:
    """Return lots with their rubber as it was known: a correction after that is taken back."""
    lots = PadLot.objects.in_bulk(keys)
    later = LotCorrection.objects.filter(lot__in=lots, recorded_at__gt=as_of.known_by)
    for correction in later.order_by("-pk"):
        lots[correction.lot_id].rubber_thickness_in = correction.thickness_before_in
    return lots


def lot_rate(rating: LotRating, policy: Policy) -> LotRate:
    """Return a stored lot rating as the mechanics take it, stale or not by this policy today."""
    return stored_lot_rate(rating, policy, staleness(rating, policy, clock.now()))


def _positions(housing_ids: list[int]) -> PositionsOf:
    if len(housing_ids) == 1:
        return {housing_ids[0]: _PADS.ask(housing=housing_ids[0])}
    found = PadPosition.objects.filter(housing__in=housing_ids)
    rows = list(found.values_list("housing_id", "side", "number", "condition", "lot_id"))
    # Few lots beside many pads: each is read once.
    lots = PadLot.objects.in_bulk({lot for *_, lot in rows if lot is not None})
    grouped: dict[int, list[Fitted]] = {}
    for key, side, number, condition, lot in rows:
        # Whose lot is gone from the records has none, and no other unit is kept from being read.
        fitted = None if lot is None else lots.get(lot)
        grouped.setdefault(key, []).append(Fitted(side, number, condition, lot, fitted))
    return grouped


def _rubber(positions: Positions) -> tuple[LotRubber, ...]:
    lots = {position.lot.mark: position.lot for position in positions if position.lot}
    return tuple(
        LotRubber(mark, lot.rubber_thickness_in)
        for mark, lot in lots.items()
        if lot.rubber_thickness_in is not None
    )


def _facts(
    housing: SuppressorHousing,
    positions: Positions,
    ratings: dict[int, LotRating],
    rates: dict[int, LotRate],
    hammers: dict[int, Any],
    listings: dict[int, Listing],
    guide: HousingGuide | None,
    pulls: PullsOfUnit,
    policy: RatingPolicy | None,
    in_force: Policy,
    travel_in: float | None,
) -> Facts:
    fitted = {position.lot_id for position in positions}
    rated = [rating for lot_id, rating in ratings.items() if lot_id in fitted]
    hammer = hammers.get(housing.pk)
    listing = listings.get(hammer.pk) if hammer else None
    inputs = UnitInputs(
        positions=tuple(
            Position(each.side, each.number, each.condition, each.lot.mark if each.lot else None)
            for each in positions
        ),
        # Their order is no fact.
        lots=tuple(rates[each.lot_id] for each in sorted(rated, key=lambda each: each.lot.mark)),
        travel_in=travel_in,
        listed_lbf=listing.listed_lbf if listing else None,
        policy=in_force,
        is_guided=guide is not None and guide.is_guided,
        rubber=_rubber(positions),
    )
    provenance: dict[str, Any] = {
        "hammer": hammer.mark if hammer else None,
        "listing": listing
        and {
            "record": listing.pk,
            "source": listing.source,
            "dated": listing.dated.isoformat(),
        },
        "lot_ratings": {rating.lot.mark: rating.pk for rating in rated},
        "policy": policy.pk if policy else None,
    }
    if guide is not None:
        provenance["guide"] = {"record": guide.pk, "reason": guide.reason}
    pull = None
    if pulls is not NO_PULLS:
        pads = pads_digest(inputs_record(inputs)["positions"], provenance["lot_ratings"])
        pull = pulls.telling(in_force, pads)
    if pull is not None:
        inputs = replace(inputs, proof=pull.factor(in_force))
        provenance["proof_pull"] = {"record": pull.pk, "is_softer": pull.is_softer}
    records = tuple(each for each in positions if isinstance(each, PadPosition))
    return Facts(inputs, provenance, records, listing, guide, pulls, tuple(rated))


def pads_digest(positions: list[dict[str, Any]], lot_ratings: dict[str, int]) -> str:
    """Return what pads and ratings of their lots a pull was held to, as one word."""
    return digest(canonical_text({"positions": positions, "lot_ratings": lot_ratings}))
