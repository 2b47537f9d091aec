"""Who is bound to yards, and the one gate by it: what stands elsewhere they read, and no more.

Whoever is bound to yards signs, records, changes and commits only what stands in those; unbound,
which is the rule, in every yard. Reading is open to all: units move between yards, the dispatcher
looks for the one that suits wherever it is, and a figure that is hidden can drop a load.

A recording function says by a decorator what it touches, so that page, phone, import and programs
obey alike: `@in_yard_of(…)` things, each where it stands as known now; `@in_every_yard` what holds
for all, such as policies, people and imports of registers; `@in_no_yard(…)` what no yard owns, and
why. What was sent away is its old yard’s until it arrives, and a lot of pads stands wherever its
pads are, on a shelf or on a housing: what changes its rating changes the figures of those.
"""

from __future__ import annotations

import inspect
import uuid
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import wraps
from typing import Any, ParamSpec, TypeVar

from django.apps import apps
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db.models import Q

from fleet.models import (
    Clamp,
    Hammer,
    MachineSort,
    PadLot,
    PowerPack,
    SuppressorHousing,
    Yard,
    YardBinding,
)
from fleet.roles import who_words

P = ParamSpec("P")
R = TypeVar("R")
Arguments = Mapping[str, Any]

# What a record is of, by its label: it stands where the first of these does that it names. What is
# not listed says its own yard. Labels, since a lower app knows no model of a higher one.
OF_WHAT: dict[str, tuple[str, ...]] = {
    "fleet.hire": ("housing",),
    "fleet.hourreading": ("machine",),
    "fleet.padreceipt": ("order",),
    "fleet.transfer": ("housing", "hammer"),
    "inspections.finding": ("machine",),
    "inspections.handover": ("hire",),
    "inspections.inspection": ("housing", "hammer", "clamp", "power_pack"),
    "inspections.machinedocument": ("machine",),
    "inspections.repairline": ("order",),
    "inspections.repairorder": ("machine",),
    "inspections.restoreplan": ("housing", "yard"),
    "ratings.commitment": ("housing",),
    "ratings.commitmentcondition": ("commitment",),
    "ratings.jobattachment": ("job",),
    "ratings.ledgerentry": ("housing",),
    "ratings.lotrating": ("lot",),
    "ratings.proofpull": ("housing",),
}


class InEveryYard:
    """Stands for what holds in every yard at once."""


EVERY_YARD = InEveryYard()


@dataclass(frozen=True)
class Stands:
    """Where something is: None as its yard holds for every yard."""

    what: str
    yard: Yard | None


class BoundElsewhere(ValidationError):
    """What somebody would do touches a yard to which they are not bound."""


_KEPT_AS = "_yards_bound_to"


def yards_bound_to(person: Any) -> tuple[Yard, ...]:
    """Return the yards somebody is bound to, none where they act in all.

    Asked of the database once for a person as they were read: once in a request.
    """
    if not hasattr(person, _KEPT_AS):
        setattr(person, _KEPT_AS, yards_bound_now(person))
    kept: tuple[Yard, ...] = getattr(person, _KEPT_AS)
    return kept


def yards_bound_now(person: Any) -> tuple[Yard, ...]:
    """Return the yards somebody is bound to at this very moment."""
    bindings = YardBinding.objects.in_force().filter(user=person.pk).select_related("yard")
    return tuple(each.yard for each in bindings.order_by("yard__name"))


def forget_yards_bound_to(person: Any) -> None:
    """Let the next to ask read anew to which yards somebody is bound."""
    if hasattr(person, _KEPT_AS):
        delattr(person, _KEPT_AS)


def yard_names(yards: Iterable[Yard]) -> str:
    """Return yards as a list is read aloud: “North Yard, Pier and South Yard”."""
    *before, last = [each.name for each in yards]
    return f"{', '.join(before)} and {last}" if before else last


def must_act_in(person: User, *touched: Any, any_of_them: bool = False) -> None:
    """Let somebody act only on what stands in the yards they are bound to. The gate.

    touched: records of any kind, a Yard, EVERY_YARD; None touches nothing. any_of_them: whether
    one of their yards is enough, as for what goes from one yard to another. Raises BoundElsewhere
    saying where what they meant stands, where they are bound, and who can change that.
    """
    first = stands_elsewhere(person, *touched, any_of_them=any_of_them)
    if first is None:
        return
    here = yard_names(yards_bound_to(person))
    who = who_words(person)
    change = (
        "an equipment manager who is bound to no yard changes that on the page of "
        f"{who}, under People. Nothing was recorded."
    )
    if first.yard is None:
        raise BoundElsewhere(
            f"{first.what} every yard, and {who} is bound to {here}. Whoever is bound to no yard "
            f"does it, or {change}"
        )
    raise BoundElsewhere(
        f"{first.what} {first.yard.name}, and {who} is bound to {here}. Whoever is bound to "
        f"{first.yard.name}, or to no yard, records it, or {change}"
    )


def stands_elsewhere(person: Any, *touched: Any, any_of_them: bool = False) -> Stands | None:
    """Return where something stands that somebody may not act on; None where they may.

    touched, any_of_them: as of must_act_in.
    """
    bound = yards_bound_to(person)
    if not bound:
        return None
    places = [place for each in touched for place in places_of(each)]
    known = {yard.pk for yard in bound}
    elsewhere = [each for each in places if each.yard is None or each.yard.pk not in known]
    if not elsewhere or (any_of_them and len(elsewhere) < len(places)):
        return None
    return next((each for each in elsewhere if each.yard is None), elsewhere[0])


def places_of(record: Any) -> list[Stands]:
    """Return where a record stands by what is known now; nowhere for what no yard owns."""
    if record is None:
        return []
    if isinstance(record, InEveryYard):
        return [Stands("This concerns", None)]
    if isinstance(record, Yard):
        return [Stands("This is of", record)]
    label = record._meta.label_lower
    if label == "ratings.extractionjob":
        return _places_of_job(record)
    if isinstance(record, PadLot):
        return _places_of_lot(record)
    if label in OF_WHAT:
        named = (getattr(record, name) for name in OF_WHAT[label])
        return places_of(next((each for each in named if each is not None), EVERY_YARD))
    if record.pk is not None:
        # As it is on record now: the copy at hand may be older, or be what it is to become.
        kept = type(record)._default_manager.select_related("yard").filter(pk=record.pk).first()
        record = kept or record
    yard = record.yard
    return [] if yard is None else [Stands(f"{record} stands in", yard)]


def _places_of_lot(lot: PadLot) -> list[Stands]:
    """Wherever pads of a lot are: on shelves, and in housings that are in use."""
    on_shelves = Q(shelves__lot=lot, shelves__pads__gt=0)
    fitted = Q(housings__positions__lot=lot, housings__retired_on=None)
    yards = Yard.objects.filter(on_shelves | fitted).distinct().order_by("name")
    return [Stands(f"Pads of lot {lot.mark} are in", yard) for yard in yards]


def _places_of_job(job: Any) -> list[Stands]:
    """A job stands in no yard: what changes it may change what units that are held for it do."""
    if job.pk is None:
        return []
    held = job.commitments.filter(released_at=None).select_related("housing__yard")
    return [
        Stands(f"{each.housing}, which this job holds, stands in", each.housing.yard)
        for each in held
    ]


# Arguments and parts of addresses that are keys, and what of.
KEYS = {
    "lot_id": "fleet.PadLot",
    "housing_id": "fleet.SuppressorHousing",
    "hammer_id": "fleet.Hammer",
}

# As KEYS, of the addresses of pages that write. What is recorded of a job is looked at only then:
# a job leads also to its copy.
PAGE_KEYS = {
    **KEYS,
    "rating_id": "ratings.LotRating",
    "finding_id": "inspections.Finding",
    "order_id": "inspections.RepairOrder",
    "line_id": "inspections.RepairLine",
    "inspection_id": "inspections.Inspection",
    "document_id": "inspections.MachineDocument",
    "hire_id": "fleet.Hire",
    "transfer_id": "fleet.Transfer",
    "pull_id": "ratings.ProofPull",
    "entry_id": "ratings.LedgerEntry",
    "commitment_id": "ratings.Commitment",
    "condition_id": "ratings.CommitmentCondition",
    "pad_order_id": "fleet.PadOrder",
    "receipt_id": "fleet.PadReceipt",
    "stand_id": "ratings.TestStand",
    "gauge_id": "ratings.Gauge",
}
# Pages of a lot on which somebody says of which yard’s shelf it is.
OF_A_SHELF = {"lot-stock", "lot-price", "move-yards"}
# Pages whose every act is of all yards, and the keys of what is: people, kinds of inspections.
OF_EVERY_YARD = {
    "new-person",
    "exchange",
    "receive-unit",
    "sheets",
    "kinds",
    "retention-rule",
    "take-lesson",
    "change-lesson-rules",
}
KEYS_OF_EVERY_YARD = {"user_id", "qualification_id", "kind_id", "draft_id"}


def named_by_page(page: str, parts: Mapping[str, Any]) -> Iterable[Any]:
    """Yield what a page that writes is of, that stands somewhere or is of every yard.

    parts: of its address, by their names.
    """
    if page in OF_EVERY_YARD or (page.startswith("new-") and _is_of_yards(parts)):
        yield EVERY_YARD
    for name, key in parts.items():
        if name in KEYS_OF_EVERY_YARD:
            yield EVERY_YARD
        if name == "lot_id" and page in OF_A_SHELF:
            continue
        model = apps.get_model(PAGE_KEYS[name]) if name in PAGE_KEYS else _model_of(name, parts)
        if model is Yard:
            yield EVERY_YARD
        elif model is not None:
            yield model._default_manager.filter(pk=key).first()


def _is_of_yards(parts: Mapping[str, Any]) -> bool:
    return "thing" in parts and parts["thing"].model is Yard


MODEL_BY_SLUG: dict[str, Any] = {
    MachineSort.HAMMER.slug: Hammer,
    MachineSort.HOUSING.slug: SuppressorHousing,
    MachineSort.CLAMP.slug: Clamp,
    MachineSort.POWER_PACK.slug: PowerPack,
}


def _model_of(name: str, parts: Mapping[str, Any]) -> Any:
    """Return the model of a machine or of a thing that is set up, by what its page is of."""
    if name == "record_id":
        return parts["thing"].model
    if name != "machine_id":
        return None
    if hasattr(parts.get("kind"), "model"):
        return parts["kind"].model
    if "sort" not in parts:
        # Whose meter is read by itself.
        return PowerPack
    return MODEL_BY_SLUG.get(parts["sort"])


Touched = Callable[[Arguments], Iterable[Any]]
# On a recording function: what it touches, for whoever asks before it is called.
TOUCHES = "touches"


@dataclass(frozen=True)
class Touches:
    """What a recording function touches, of its arguments by their names. why: of what is free."""

    of: Touched
    any_of_them: bool = False
    why: str = ""

    def refuse(self, person: User, arguments: Arguments) -> None:
        """Raise BoundElsewhere where somebody may not act on that."""
        if yards_bound_to(person):
            must_act_in(person, *self.of(arguments), any_of_them=self.any_of_them)


def in_yard_of(
    *named: str | Touched,
    any_of_them: bool = False,
    known: Callable[[uuid.UUID], bool] | None = None,
) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Let a recording function act only where whoever does (`by`) may.

    named: arguments, or what they hold (“order.yard”), or functions of all of them. known: whether
    a submission is on record already, where a second copy, as a phone sends it, is to change
    nothing wherever what it was of stands by now.
    """

    def of(given: Arguments) -> Iterable[Any]:
        for each in named:
            if isinstance(each, str):
                yield _argument(given, each)
            else:
                yield from each(given)

    return _gate(Touches(of, any_of_them), known)


def _argument(given: Arguments, name: str) -> Any:
    first, *rest = name.split(".")
    found = given.get(first)
    if first in KEYS:
        found = apps.get_model(KEYS[first])._default_manager.filter(pk=found).first()
    for each in rest:
        found = getattr(found, each)
    return found


def in_every_yard(record: Callable[P, R]) -> Callable[P, R]:
    """Let a recording function, whose act holds for all yards, be called by the unbound alone."""
    return _gate(Touches(lambda given: (EVERY_YARD,)))(record)


def in_no_yard(why: str) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Say of a recording function that what it records is of no yard, and why."""

    def said(record: Callable[P, R]) -> Callable[P, R]:
        setattr(record, TOUCHES, Touches(lambda given: (), why=why))
        return record

    return said


def _gate(
    touches: Touches, known: Callable[[uuid.UUID], bool] | None = None
) -> Callable[[Callable[P, R]], Callable[P, R]]:
    def gated(record: Callable[P, R]) -> Callable[P, R]:
        signature = inspect.signature(record)

        @wraps(record)
        def recorded(*args: P.args, **kwargs: P.kwargs) -> R:
            given: Arguments = kwargs
            if args or "by" not in kwargs:
                bound = signature.bind(*args, **kwargs)
                bound.apply_defaults()
                given = bound.arguments
            try:
                touches.refuse(given["by"], given)
            except BoundElsewhere:
                if known is None or not known(_submission_of(given)):
                    raise
            return record(*args, **kwargs)

        setattr(recorded, TOUCHES, touches)
        return recorded

    return gated


def _submission_of(given: Arguments) -> uuid.UUID:
    # Signing takes its id in a submission.
    key = given.get("submission_id") or getattr(given.get("submission"), "submission_id", None)
    assert isinstance(key, uuid.UUID)
    return key


def on_record_in(label: str) -> Callable[[uuid.UUID], bool]:
    """Return what says whether a submission is on record in the table of a model."""

    def is_known(submission_id: uuid.UUID) -> bool:
        model = apps.get_model(label)
        return bool(model._default_manager.filter(submission_id=submission_id).exists())

    return is_known


def touches_of(record: Callable[..., Any]) -> Touches:
    """Return what a recording function says that it touches."""
    touches: Touches = getattr(record, TOUCHES)
    return touches
