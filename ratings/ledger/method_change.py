"""Post an entry to every unit that is still rated by an older method, once the site is upgraded."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from fleet import clock
from fleet.housings import lock_all_housings
from fleet.models import SuppressorHousing
from fleet.quantities import Quantity
from ratings.ledger.facts import Facts, gather
from ratings.ledger.posting import Cause, post
from ratings.mechanics.record import FORMAT
from ratings.mechanics.unit_rating import (
    SIDES,
    UnitInputs,
    UnitRating,
    conditions_pct,
    kept_share,
    rate_unit,
)
from ratings.models import LedgerEntry

# Who posts what no person did. Nobody can sign in as it.
PROGRAM = "line-pull-ledger"


def bring_up_to_date(**_: Any) -> None:
    """Rate by today's method every unit whose last entry is of an older format.

    Runs after every upgrade of the database, and does nothing where all are up to date.
    """
    with transaction.atomic():
        housings = [each for each in lock_all_housings() if _is_behind(each)]
        if not housings:
            return
        by = _program()
        facts = gather(housings)
        for housing in housings:
            before = housing.current_rating.head
            words = method_words(before, facts[housing.pk])
            post(
                [housing],
                cause=Cause(Cause.METHOD, words),
                occurred_at=clock.now(),
                by=by,
            )


def _is_behind(housing: SuppressorHousing) -> bool:
    rating = getattr(housing, "current_rating", None)
    return rating is not None and rating.head.contents["format"] < FORMAT


def _program() -> User:
    by, is_new = User.objects.get_or_create(
        username=PROGRAM,
        defaults={"first_name": "Line-Pull", "last_name": "Ledger", "is_active": False},
    )
    if is_new:
        by.set_unusable_password()
        by.save(update_fields=["password"])
    return by


def method_words(before: LedgerEntry, facts: Facts) -> str:
    """Return what moved from the last entry to the rating by today's method, and why."""
    rating = rate_unit(facts.inputs)
    moved = [
        f"{name} {_lbf(was)} → {_lbf(now)}"
        for name, was, now in (
            ("line pull", before.pull_lbf, rating.pull_lbf),
            ("working capacity", before.working_capacity_lbf, rating.working_capacity_lbf),
        )
        if was != now
    ]
    if before.standing != rating.standing:
        moved.append(f"{before.standing} → {rating.standing}")
    reasons = []
    if rating.pull_lbf is not None:
        if before.contents["format"] == 1:
            reasons += _reasons_of_second(facts.inputs, rating)
        if before.contents["format"] < 3:
            reasons += _reasons_of_third(rating)
        if moved:
            reasons.append(_REASON_OF_FOURTH)
    return f"Rating method {FORMAT}: {'; '.join([*moved, *reasons]) or 'no figure moved'}"


_REASON_OF_FOURTH = (
    "every stretch up to the travel tried, and a proof pull held against the pads at each"
)


def _lbf(value: float | None) -> str:
    return "none" if value is None else Quantity.FORCE.words(value, "us")


def _reasons_of_third(rating: UnitRating) -> list[str]:
    """Say what the third method counts otherwise than the second."""
    return [
        f"lot {share.lot}: counts at {100.0 * share.share:.1f} % of its force, more would add more "
        "doubt than pull"
        for share in rating.lots
        if share.share < 1.0
    ]


def _reasons_of_second(inputs: UnitInputs, rating: UnitRating) -> list[str]:
    """Say what has counted since the second method that did not."""
    reasons = []
    if rating.weaker_side:
        one, other = (
            sum(each.condition == "sound" and each.side == side for each in inputs.positions)
            for side in SIDES
        )
        reasons.append(
            f"not known to be guided, so twice the weaker side (sound pads: A {one}, B {other})"
        )
    policy = inputs.policy
    fitted = {share.lot for share in rating.lots if share.count}
    for rate in inputs.lots:
        if rate.lot not in fitted:
            continue
        words = f"lot {rate.lot}: measured curve"
        kept = kept_share(rate, policy)
        if kept < 1.0:
            words += f", {100.0 * (1.0 - kept):.1f} % off for what its tests left out"
        reasons.append(f"{words}, in use ± {conditions_pct(rate, policy):g} %")
    if rating.short_lots:
        reasons.append(f"not tested so far, adds nothing: {', '.join(rating.short_lots)}")
    return reasons
