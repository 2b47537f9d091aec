"""What pages say of units being rated again: what is under way, and what came of the last."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Model
from django.utils import timezone

from fleet.dates import moment_words
from fleet.long_work.queue import look_after
from fleet.models import LongWork, PadLot, PadPosition, SuppressorHousing
from fleet.people.yards import in_no_yard
from fleet.roles import who_words
from ratings.rerating.long_work import WHAT, key_of

# What came of one is told so long on the page it is of; its own page stays as long as its row.
TOLD_FOR = timedelta(days=1)
# What a paper of a unit says meanwhile, to whoever has it in hand, and why none is printed.
AGAIN = "ask again in a minute"
BEING_RATED = "The unit is being rated again at this moment, and the {} may not hold after that."
# Of a work’s result: who saw it, and when.
SEEN = "seen"


@dataclass(frozen=True)
class Rerating:
    """Units being rated again, or what came of it."""

    work: LongWork

    @property
    def title(self) -> str:
        return str(self.work.arguments["title"])

    @property
    def page(self) -> str:
        return str(self.work.arguments["page"])

    @property
    def units(self) -> int:
        return int(self.work.arguments["units"])

    @property
    def is_going(self) -> bool:
        return not self.work.is_over

    @property
    def is_begun(self) -> bool:
        return bool(self.work.worker)

    @property
    def done(self) -> int:
        """How many units are worked out; as it ends, they are written at once."""
        return min(self.work.done, self.units)

    @property
    def rated(self) -> int | None:
        """How many units got a ledger entry; None where nothing was recorded."""
        found = self.work.result.get("rated")
        return None if found is None else int(found)

    @property
    def refused(self) -> list[list[str]]:
        """Why nothing was recorded: each field's label, or "", and words."""
        found: list[list[str]] = self.work.result.get("refused", [])
        return found

    @property
    def waits(self) -> bool:
        """Whether nothing was recorded, and nobody has said that they saw it."""
        return self.work.is_over and self.rated is None and not self.work.is_told

    @property
    def seen(self) -> str:
        """When and by whom it was seen that nothing was recorded; "" where nobody said so."""
        return str(self.work.result.get(SEEN, ""))

    @property
    def trouble(self) -> str:
        return str(self.work.result.get("trouble") or self.work.trouble)


def of_work(work: LongWork) -> Rerating:
    """Return a work as a page tells it, and have it done where nobody does it any more."""
    look_after(work)
    return Rerating(work)


def last_of(about: Model) -> Rerating | None:
    """Return what is under way of a lot or of the policy, else what came of the last lately."""
    works = LongWork.objects.filter(what=WHAT, about=key_of(about)).select_related("asked_by")
    work = works.order_by("-pk").first()
    if work is None or (work.ended_at and work.ended_at < timezone.now() - TOLD_FOR):
        return None
    return of_work(work)


def under_way() -> list[Rerating]:
    """Return everything under way that rates units again."""
    works = LongWork.objects.filter(what=WHAT, ended_at=None).select_related("asked_by")
    return [of_work(work) for work in works.order_by("pk")]


def not_recorded() -> list[LongWork]:
    """Return those of which nothing was recorded in the end, and which nobody has seen yet."""
    over = LongWork.objects.filter(what=WHAT, ended_at__isnull=False, is_told=False)
    return list(over.exclude(result__has_key="rated").select_related("asked_by").order_by("pk"))


@in_no_yard("of what was not recorded no yard has anything")
@transaction.atomic
def see(*, work: LongWork, by: User) -> None:
    """Remember who saw that nothing was recorded, so that it waits no more.

    What was seen before stays as it was; what is under way, or on record, is nothing to see.
    """
    found = LongWork.objects.select_for_update().filter(pk=work.pk).first()
    if found is None or not Rerating(found).waits:
        return
    found.is_told = True
    found.result[SEEN] = f"{moment_words(timezone.now())} by {who_words(by)}"
    found.save(update_fields=["is_told", "result"])


def that_rate(housing: SuppressorHousing) -> Sequence[Rerating]:
    """Return what is under way that may change a unit's figures: of a lot it holds, or of all."""
    return _by_housing([housing.pk]).get(housing.pk, [])


def rated_again_since(housings: Iterable[int]) -> dict[int, datetime]:
    """Return by the key of each unit being rated again since when it is; of others nothing.

    housings: keys, asked for only where anything is under way.
    """
    found = _by_housing(housings)
    return {key: min(each.work.asked_at for each in rates) for key, rates in found.items()}


def _by_housing(housings: Iterable[int]) -> dict[int, list[Rerating]]:
    found = under_way()
    if not found:
        return {}
    of_a_lot = f"{PadLot._meta.label_lower}:"
    of_lots = [each for each in found if each.work.about.startswith(of_a_lot)]
    of_all = [each for each in found if each not in of_lots]
    keys = list(housings)
    lots: dict[int, set[str]] = {key: set() for key in keys}
    if of_lots:
        held = PadPosition.objects.filter(housing__in=keys, lot__isnull=False)
        for key, lot in held.order_by().values_list("housing_id", "lot_id").distinct():
            lots[key].add(f"{of_a_lot}{lot}")
    return {
        key: rates
        for key, own in lots.items()
        if (rates := [*of_all, *(each for each in of_lots if each.work.about in own)])
    }
