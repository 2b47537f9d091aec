"""What a new yard does first, in an order that works, and how far it has come."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from django.contrib.auth.models import User
from django.db.models import Exists, OuterRef
from django.urls import reverse
from django.utils import timezone

from fleet.models import Hammer, Mounting, PadLot, SuppressorHousing, Yard
from fleet.roles import MANAGER
from fleet.unchanged import Unchanged, as_recorded
from ratings.models import (
    BenchTest,
    Gauge,
    LedgerEntry,
    Listing,
    LotRating,
    RatingApproval,
    Tape,
    TestStand,
)


@dataclass(frozen=True)
class Step:
    """One step: what to do and why, whether it is done, and the address of its form.

    url: "" where another step comes first; then waits_for says which. plain_url: of the same
    without a script, where that is another page.
    """

    words: str
    why: str
    is_done: bool
    url: str
    waits_for: str = ""
    plain_url: str = ""


@dataclass(frozen=True)
class FirstSteps:
    """The steps, and whether the board leaves them out for whoever asks."""

    steps: list[Step]
    is_hidden: bool

    @property
    def done(self) -> int:
        """How many are done."""
        return sum(step.is_done for step in self.steps)

    @property
    def next(self) -> Step | None:
        """The first step that is left and has its form; None where none has."""
        return next((step for step in self.steps if step.url and not step.is_done), None)

    @property
    def is_all_done(self) -> bool:
        """Whether none is left."""
        return self.done == len(self.steps)


def done_on_record() -> tuple[tuple[str, bool], ...]:
    """Return which steps left something on record, but for the one that hangs on who asks."""
    facts = _facts()
    done = User.objects.order_by("pk").annotate(**facts).values(*facts)[:1].get()
    return tuple(done.items())


def _facts() -> dict[str, Exists]:
    """Return what steps leave on record, asked of the database all at once."""
    in_use = {"retired_on__isnull": True}
    figured = LedgerEntry.objects.filter(
        working_capacity_lbf__isnull=False, listed_lbf__isnull=False
    )
    housings: Any = SuppressorHousing.objects.with_last_seen()
    return {
        "yard": Exists(Yard.objects.filter(**in_use)),
        "hammer": Exists(Hammer.objects.filter(**in_use)),
        "housing": Exists(SuppressorHousing.objects.filter(**in_use)),
        "hung": Exists(Mounting.objects.current()),
        "listing": Exists(Listing.objects.all()),
        "stand": Exists(TestStand.objects.filter(**in_use)),
        "gauge": Exists(Gauge.objects.filter(due_on__gte=timezone.localdate(), **in_use)),
        "tape": Exists(Tape.objects.filter(**in_use)),
        "lot": Exists(PadLot.objects.in_use()),
        "tested": Exists(BenchTest.objects.standing()),
        "approved": Exists(RatingApproval.objects.all()),
        "counted": Exists(housings.filter(counted_at__isnull=False)),
        "figure": Exists(figured),
    }


def first_steps(person: User, known: Unchanged | None = None) -> FirstSteps:
    """Return the first steps as somebody is to take them.

    known: of the record as it stands, where the page has it already.
    """
    managers = User.objects.filter(groups__name=MANAGER, is_active=True)
    asked = User.objects.filter(pk=person.pk).annotate(
        second_manager=Exists(managers.exclude(pk=OuterRef("pk")))
    )
    hides, second = asked.values_list(
        "reader_preference__hides_first_steps", "second_manager"
    ).get()
    is_hidden = bool(hides)
    row = dict((known or as_recorded()).once(done_on_record)) | {"second_manager": second}
    if all(row.values()):
        return FirstSteps([Step(name, "", True, "") for name in row], is_hidden)
    return FirstSteps(_steps(row, person), is_hidden)


def _steps(done: dict[str, bool], person: User) -> list[Step]:
    yard = _first(Yard) if done["yard"] else None
    hammer, housing = _bare_or_first_hammer(), _loose_or_first_housing()
    lot = PadLot.objects.in_use().order_by("bench_tests", "pk").first()
    in_yard = f"?yard={yard.pk}" if yard else ""

    def new(name: str, prefilled: str = in_yard) -> str:
        return reverse(f"new-{name}") + prefilled

    return [
        Step(
            "Enter a yard",
            "Everything else belongs to one.",
            done["yard"],
            new("yard", ""),
        ),
        Step(
            "Enter a second equipment manager",
            "A rating that you draft is approved by somebody else.",
            done["second_manager"],
            new("person", "?role=equipment+manager"),
        ),
        _after(
            ("a yard", done["yard"]),
            words="Enter a hammer",
            why="Its mark; the figures of its plate where you have read them.",
            is_done=done["hammer"],
            url=new("hammer"),
        ),
        _after(
            ("a yard", done["yard"]),
            words="Enter its housing",
            why="How many pads it holds on each side, and the travel it was built for.",
            is_done=done["housing"],
            url=new("housing"),
        ),
        _after(
            ("a hammer", done["hammer"]),
            ("a housing", done["housing"]),
            words="Hang the housing on the hammer",
            why="Together they are a unit.",
            is_done=done["hung"],
            url=_of("mounting", housing) + (f"?hammer={hammer.pk}" if hammer else ""),
        ),
        _after(
            ("a hammer", done["hammer"]),
            words="Record what the hammer is listed at",
            why="What its literature or plate says it may be pulled with: what you hold it to.",
            is_done=done["listing"],
            url=_of("new-listing", _mounted_hammer() or hammer),
        ),
        _after(
            ("a yard", done["yard"]),
            words="Enter your test stand",
            why="Bore and rod of its cylinder make pressure into force.",
            is_done=done["stand"],
            url=new("test-stand"),
        ),
        _after(
            ("a yard", done["yard"]),
            words="Enter its gauge, in calibration",
            why="With the day its certificate runs out: a test on a gauge without one rates "
            "nothing.",
            is_done=done["gauge"],
            url=new("gauge"),
        ),
        _after(
            ("a yard", done["yard"]),
            words="Enter your tape",
            why="Stretch on the stand and travel at the hammer are read on it.",
            is_done=done["tape"],
            url=new("tape"),
        ),
        Step(
            "Enter the lot of your pads",
            "Pads that were bought together, and are rated together.",
            done["lot"],
            new("lot", ""),
        ),
        _after(
            ("a pad lot", done["lot"]),
            ("a stand", done["stand"]),
            ("a gauge", done["gauge"]),
            ("a tape", done["tape"]),
            words="Bench-test the lot",
            why="It gives what each pad pulls for each inch of stretch, and how sure that is.",
            is_done=done["tested"],
            url=_of("new-bench-test", lot),
        ),
        _approval(done, person),
        _after(
            ("the housing on its hammer", done["hung"]),
            ("a pad lot", done["lot"]),
            words="Count every pad and tape the travel",
            why="The first inspection, on a phone at the hammer or here.",
            url=f"{reverse('field')}#inspect/{housing.pk}/{quote('pad count')}" if housing else "",
            is_done=done["counted"],
            plain_url=_of("count-pads", housing),
        ),
        _after(
            ("a listing", done["listing"]),
            ("an approved rating", done["approved"]),
            ("the first count", done["counted"]),
            words="See the first figure",
            why="What the unit can pull, how sure that is, and how it stands against its listing.",
            is_done=done["figure"],
            url=_of("unit", housing),
        ),
    ]


def _after(
    *needed: tuple[str, bool], words: str, why: str, is_done: bool, url: str, plain_url: str = ""
) -> Step:
    """Return a step that has no form yet while what it needs is not there."""
    missing = [name for name, is_there in needed if not is_there]
    if missing:
        *others, last = missing
        listed = f"{', '.join(others)} and {last}" if others else last
        return Step(words, why, is_done, "", f"after {listed}")
    return Step(words, why, is_done, url, plain_url=plain_url)


def _approval(done: dict[str, bool], person: User) -> Step:
    """Return the step of who approves, which is for whoever did not draft the rating."""
    words = "Have the rating approved by the second manager"
    why = "It counts for nothing until a second person has looked at the test."
    draft = LotRating.objects.waiting().order_by("pk").first()
    if draft is None or done["approved"]:
        waits = "" if done["approved"] else "after the bench test, if its gauge is in calibration"
        return Step(words, why, done["approved"], "", waits)
    if draft.recorded_by_id == person.pk:
        why = (
            f"You drafted rating {draft.pk} of lot {draft.lot}: whoever is the second manager "
            "signs in, finds this list on the board, and approves it."
        )
    return Step(words, why, is_done=False, url=reverse("lot-rating", args=[draft.pk]))


def _first(model: Any) -> Any:
    return model._default_manager.filter(retired_on__isnull=True).order_by("pk").first()


def _bare_or_first_hammer() -> Any:
    """Return a hammer that hangs from no housing; else the first."""
    mounted = Mounting.objects.current().filter(hammer=OuterRef("pk"))
    bare = Hammer.objects.filter(~Exists(mounted), retired_on__isnull=True)
    return bare.order_by("pk").first() or _first(Hammer)


def _loose_or_first_housing() -> Any:
    """Return the housing of the first unit; without one, a housing that hangs on no hammer."""
    mounting = Mounting.objects.current().select_related("housing").order_by("pk").first()
    return mounting.housing if mounting else _first(SuppressorHousing)


def _mounted_hammer() -> Any:
    mounting = Mounting.objects.current().select_related("hammer").order_by("pk").first()
    return mounting.hammer if mounting else None


def _of(page: str, record: Any) -> str:
    return reverse(page, args=[record.pk]) if record else ""
