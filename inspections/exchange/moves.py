"""Which units a register or a sheet moves: their standing and working capacity before and after."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User

from fleet.models import Mounting
from ratings.mechanics.standing import Standing
from ratings.models import CurrentRating


@dataclass(frozen=True)
class Figures:
    """What a unit is rated at."""

    standing: str = Standing.UNRATED.value
    capacity_lbf: float | None = None
    listed_lbf: float | None = None

    @property
    def meets_listing(self) -> bool:
        return self.standing == Standing.MEETS_LISTING

    @property
    def state(self) -> Standing:
        return Standing(self.standing)


@dataclass(frozen=True)
class Moved:
    """A unit whose standing or working capacity changes."""

    housing: str
    hammer: str
    before: Figures
    after: Figures

    @property
    def begins(self) -> bool:
        """Whether it would begin to meet its listing."""
        return self.after.meets_listing and not self.before.meets_listing

    @property
    def stops(self) -> bool:
        """Whether it would meet its listing no more."""
        return self.before.meets_listing and not self.after.meets_listing

    @property
    def rank(self) -> tuple[int, str]:
        """Where it stands among others: what passes or fails first, a capacity alone last."""
        if self.begins or self.stops:
            return (0, self.housing)
        return (1 if self.before.standing != self.after.standing else 2, self.housing)


def figures_now(by: User | None = None, since: datetime | None = None) -> dict[str, Figures]:
    """Return what each unit is rated at, by the mark of its housing. One query.

    by, since: only of units that this person moved last, since a moment.
    """
    ratings = CurrentRating.objects.all()
    if by is not None:
        ratings = ratings.filter(head__recorded_by=by)
    if since is not None:
        ratings = ratings.filter(head__recorded_at__gte=since)
    heads = ratings.values_list(
        "housing__mark", "head__standing", "head__working_capacity_lbf", "head__listed_lbf"
    )
    return {
        mark: Figures(standing, capacity_lbf, listed_lbf)
        for mark, standing, capacity_lbf, listed_lbf in heads
    }


def moved_since(before: dict[str, Figures], *, by: User, since: datetime) -> list[Moved]:
    """Return the units that a person moved since a moment, those that pass or fail first.

    before: what was rated at then. What others record meanwhile is none of this person's doing.
    """
    after, unknown = figures_now(by, since), Figures()
    hammers = dict(Mounting.objects.current().values_list("housing__mark", "hammer__mark"))
    return in_rank(
        Moved(mark, hammers.get(mark, ""), before.get(mark, unknown), now)
        for mark, now in after.items()
        if _told(before.get(mark, unknown)) != _told(now)
    )


def in_rank(moves: Iterable[Moved]) -> list[Moved]:
    """Return moves in the order they are shown."""
    return sorted(moves, key=lambda each: each.rank)


def _told(figures: Figures) -> tuple[str, float | None]:
    return figures.standing, figures.capacity_lbf
