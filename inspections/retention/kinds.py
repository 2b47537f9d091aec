"""Kinds of files that may go once they are old, and what keeps one whatever its age."""

from __future__ import annotations

import operator
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, time
from functools import reduce
from typing import Any

from django.apps import apps
from django.db.models import CharField, Exists, F, Model, OuterRef, Q, QuerySet, Value
from django.db.models.functions import Cast, Replace
from django.urls import reverse
from django.utils import timezone

from fleet.models import FileLetGo, Hire, MachineSort, PadPosition, RetentionRule
from inspections.models import Finding, Inspection, RepairOrder
from ratings.models import Commitment, LotRating


@dataclass(frozen=True)
class Hold:
    """What keeps a file whatever its age. which: of the rows of its table."""

    words: str
    which: Callable[[], Q]


@dataclass(frozen=True)
class Kind:
    """Files of one kind of record.

    label, column: where they are named. words: what one is, for a person. page: of its record.
    """

    key: str
    title: str
    label: str
    column: str
    words: Callable[[Any], str]
    page: Callable[[Any], str]
    holds: tuple[Hold, ...]
    related: tuple[str, ...] = ()

    @property
    def model(self) -> type[Model]:
        """The table they are named in."""
        return apps.get_model(self.label)

    def kept(self) -> QuerySet[Any]:
        """Return the rows that name a file which was not let go, the oldest first."""
        gone = FileLetGo.objects.annotate(plain=_plain("row_key")).filter(
            model=self.label, column=self.column, plain=_plain(Cast(OuterRef("pk"), CharField()))
        )
        rows = self.model._base_manager.exclude(**{self.column: ""}).exclude(
            **{f"{self.column}__isnull": True}
        )
        return rows.exclude(Exists(gone)).order_by("recorded_at", "pk")

    def past_its_time(self, rule: RetentionRule | None) -> QuerySet[Any]:
        """Return those that were kept as long as a rule asks; none where it asks for ever."""
        if rule is None or rule.years is None:
            return self.kept().none()
        return self.kept().filter(recorded_at__lt=years_ago(rule.years))

    def held(self, rows: Iterable[Any]) -> dict[Any, str]:
        """Return by key what keeps each of some rows, of those that anything keeps."""
        keys = [row.pk for row in rows]
        found: dict[Any, str] = {}
        for hold in self.holds:
            held = self.model._base_manager.filter(hold.which(), pk__in=keys)
            for key in held.order_by().values_list("pk", flat=True):
                found.setdefault(key, hold.words)
        return found


def _plain(key: Any) -> Replace:
    """Return a key as text that is the same whether or not the database writes dashes in it."""
    return Replace(key, Value("-"), Value(""))


def years_ago(years: int) -> datetime:
    """Return when the day began that was so many years ago."""
    today = timezone.localdate()
    try:
        day = today.replace(year=today.year - years)
    except ValueError:
        # On a 29th of February, of a year without one: none may go too early.
        day = today.replace(year=today.year - years, day=28)
    return timezone.make_aware(datetime.combine(day, time.min))


def rule_of(kind: Kind) -> RetentionRule | None:
    """Return the rule in force of a kind; None where none was ever made: it is kept for ever."""
    return RetentionRule.objects.filter(kind=kind.key).select_related("recorded_by").first()


def rules_by_kind() -> dict[str, RetentionRule]:
    """Return the rule in force of each kind that has one."""
    rules = RetentionRule.objects.select_related("recorded_by").order_by("pk")
    return {rule.kind: rule for rule in rules}


def _promised() -> QuerySet[Commitment]:
    today = timezone.localdate()
    return Commitment.objects.in_force().filter(last_day__gte=today)


def _rated() -> Q:
    """Inspections of a housing in use that are no older than something its figures rest on."""
    seen_at, housing = "photo__inspection__seen_at", "photo__inspection__housing"
    positions = PadPosition.objects.filter(
        housing=OuterRef(housing), seen_at__lte=OuterRef(seen_at)
    )
    rests = Q(Exists(positions)) | Q(**{f"{housing}__travel_seen_at__lte": F(seen_at)})
    return Q(**{f"{housing}__retired_on__isnull": True, f"{housing}__isnull": False}) & rests


def _newest() -> Q:
    """Inspections of a machine in use that none since looked at."""
    of_sorts = []
    for sort in MachineSort:
        column = f"photo__inspection__{sort.column}"
        later = Inspection.objects.filter(
            corrected_by__isnull=True,
            seen_at__gt=OuterRef("photo__inspection__seen_at"),
            **{sort.column: OuterRef(column)},
        )
        in_use = Q(**{f"{column}__isnull": False, f"{column}__retired_on__isnull": True})
        of_sorts.append(in_use & Q(~Exists(later)))
    return reduce(operator.or_, of_sorts)


def _of_machine_in_use() -> Q:
    return reduce(
        operator.or_,
        (
            Q(**{f"{sort.column}__isnull": False, f"{sort.column}__retired_on__isnull": True})
            for sort in MachineSort
        ),
    )


def _rating() -> Q:
    in_force = LotRating.objects.in_force().order_by().values("pk")
    waiting = LotRating.objects.waiting().order_by().values("pk")
    return Q(rated_tests__rating__in=in_force) | Q(rated_tests__rating__in=waiting)


OPEN_FINDING = "a finding it shows is open"
PROMISED = "a commitment in force rests on it"
KINDS: tuple[Kind, ...] = (
    Kind(
        "inspection-photos",
        "Photos of inspections",
        "inspections.photofile",
        "file",
        lambda row: f"photo of {row.photo.inspection}",
        lambda row: reverse("inspection", args=[row.photo.inspection_id]),
        (
            Hold(
                OPEN_FINDING,
                lambda: Q(photo__inspection__findings__in=Finding.objects.open().order_by()),
            ),
            Hold("the rating in force rests on facts as old as it", _rated),
            Hold(
                PROMISED,
                lambda: Q(photo__inspection__housing__commitments__in=_promised().order_by()),
            ),
            Hold("none since looked at its machine", _newest),
            Hold(
                "its unit is let out on it",
                lambda: Q(photo__inspection__hand_overs__hire__in=Hire.objects.open()),
            ),
        ),
        ("photo__inspection__housing", "photo__inspection__hammer", "photo__finding"),
    ),
    Kind(
        "pull-photos",
        "Photos of pulls",
        "inspections.pullphotofile",
        "file",
        lambda row: f"photo of {row.photo.pull}",
        lambda row: reverse("pull-record", args=[row.photo.pull_id]),
        (Hold(PROMISED, lambda: Q(photo__pull__commitment__in=_promised().order_by())),),
        ("photo__pull__commitment__job", "photo__pull__commitment__housing"),
    ),
    Kind(
        "repair-photos",
        "Photos of repairs",
        "inspections.repairphoto",
        "file",
        str,
        lambda row: reverse("repair-order", args=[row.order_id]),
        (
            Hold("the repair is not done", lambda: Q(order__in=RepairOrder.objects.open())),
            Hold(OPEN_FINDING, lambda: Q(order__finding__in=Finding.objects.open().order_by())),
        ),
        ("order",),
    ),
    Kind(
        "hand-over-photos",
        "Photos of hand-overs",
        "inspections.handoverphoto",
        "file",
        str,
        lambda row: reverse("hire", args=[row.hand_over.hire_id]),
        (
            Hold(
                "the unit is still let out",
                lambda: Q(hand_over__hire__in=Hire.objects.open()),
            ),
        ),
        ("hand_over__hire",),
    ),
    Kind(
        "foreign-photos",
        "Photos of hammers that are not ours",
        "inspections.foreigncheckphoto",
        "file",
        str,
        lambda row: reverse("foreign-check", args=[row.check_of_id]),
        (
            Hold(
                "its paper stands on a rating in force",
                lambda: Q(
                    check_of__corrected_by__isnull=True,
                    check_of__rating__in=LotRating.objects.in_force().order_by().values("pk"),
                ),
            ),
        ),
        ("check_of",),
    ),
    Kind(
        "machine-papers",
        "Papers of machines",
        "inspections.machinedocument",
        "file",
        lambda row: f"{row.get_kind_display()}: {row.title}",
        lambda row: "",
        (
            Hold(
                "it stands, of a machine in use",
                lambda: Q(withdrawal__isnull=True) & _of_machine_in_use(),
            ),
        ),
    ),
    Kind(
        "job-files",
        "Files of jobs",
        "ratings.jobattachment",
        "file",
        lambda row: f"{row.title}, of job {row.job}",
        lambda row: reverse("job-attachments", args=[row.job_id]),
        (
            Hold(PROMISED, lambda: Q(job__commitments__in=_promised().order_by())),
            Hold("its job is not over", lambda: Q(job__last_day__gte=timezone.localdate())),
        ),
        ("job",),
    ),
    Kind(
        "bench-photos",
        "Photos of bench tests",
        "ratings.benchtest",
        "photo",
        lambda row: f"photo of bench test {row.pk} of lot {row.lot}",
        lambda row: reverse("bench-test", args=[row.pk]),
        (Hold("a rating in force, or one that waits, rests on it", _rating),),
        ("lot",),
    ),
)
BY_KEY = {kind.key: kind for kind in KINDS}


@dataclass(frozen=True)
class Past:
    """A file past its time. held: what keeps it all the same, "" where nothing does."""

    row: Any
    words: str
    page: str
    held: str


def past(kind: Kind, rule: RetentionRule | None, most: int | None = None) -> list[Past]:
    """Return files of a kind past their time, the oldest first, and what keeps those it does."""
    rows = kind.past_its_time(rule).select_related(*kind.related)
    return list(told(kind, list(rows[:most] if most is not None else rows)))


def told(kind: Kind, rows: Sequence[Any]) -> Iterator[Past]:
    """Yield rows in words."""
    held = kind.held(rows)
    for row in rows:
        yield Past(row, kind.words(row), kind.page(row), held.get(row.pk, ""))
