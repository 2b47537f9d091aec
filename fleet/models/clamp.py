from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from django.db import models
from django.db.models import Q

from fleet.models.hammer import Hammer
from fleet.models.machine import Machine, OnHammer, OnHammerQuerySet
from fleet.models.measured_fields import MeasuredField
from fleet.models.yard import named_once
from fleet.quantities import Quantity


class HeldPile(models.TextChoices):
    """A kind of pile that the jaws of a clamp may hold."""

    SHEET_PAIR = "sheet pair", "sheet pair"
    H = "H", "H-pile"
    PIPE = "pipe", "pipe, by its wall or by a pair of clamps on a beam"
    TIMBER = "timber", "timber"
    CONCRETE = "concrete", "concrete"


# By the column that says whether the jaws hold it.
HELD_BY_COLUMN = {
    "holds_sheet_pair": HeldPile.SHEET_PAIR,
    "holds_h": HeldPile.H,
    "holds_pipe": HeldPile.PIPE,
    "holds_timber": HeldPile.TIMBER,
    "holds_concrete": HeldPile.CONCRETE,
}


def kinds_held(answers: Sequence[bool | None]) -> tuple[str, ...] | None:
    """Return the kinds of pile that jaws hold, by what stands in each of HELD_BY_COLUMN.

    None where nobody has said.
    """
    if None in answers:
        return None
    listed = zip(HELD_BY_COLUMN.values(), answers, strict=True)
    return tuple(kind.value for kind, is_held in listed if is_held)


class Clamp(Machine):
    """A clamp with its jaws, or a pair on a beam that is fitted as one."""

    weight_lb = MeasuredField(
        "weight",
        quantity=Quantity.WEIGHT,
        least=0,
        most=100_000,
        example="2000",
        null=True,
        help_text="With its jaws; of a pair, both and their beam. 0 where it is counted in the "
        "exciter’s weight.",
    )
    clamp_force_lbf = MeasuredField(
        "clamp force",
        quantity=Quantity.FORCE,
        least=0,
        above_least=True,
        most=5_000_000,
        example="250000",
        null=True,
        help_text="With which the jaws press on the pile; of a pair, both together.",
    )
    holds_sheet_pair = models.BooleanField("holds sheet pairs", null=True, blank=True)
    holds_h = models.BooleanField("holds H-piles", null=True, blank=True)
    holds_pipe = models.BooleanField("holds pipe", null=True, blank=True)
    holds_timber = models.BooleanField("holds timber", null=True, blank=True)
    holds_concrete = models.BooleanField("holds concrete", null=True, blank=True)
    jaws_note = models.CharField(
        "jaws",
        max_length=200,
        blank=True,
        help_text="What else there is to know of them, such as their width, or the thickest wall "
        "they take.",
    )

    class Meta(Machine.Meta):
        constraints = [
            named_once("mark", "clamp_marked_once"),
            models.CheckConstraint(
                name="clamp_figures_in_range",
                condition=(Q(weight_lb__isnull=True) | Q(weight_lb__gte=0))
                & (Q(clamp_force_lbf__isnull=True) | Q(clamp_force_lbf__gt=0)),
            ),
            models.CheckConstraint(
                name="clamp_kinds_all_or_none_known",
                condition=Q(**{f"{column}__isnull": True for column in HELD_BY_COLUMN})
                | Q(**{f"{column}__isnull": False for column in HELD_BY_COLUMN}),
                violation_error_message="Whether its jaws hold a pile is said of some kinds only: "
                "say yes or no of every kind, or leave all of them blank.",
            ),
            models.CheckConstraint(
                name="clamp_holds_some_kind",
                condition=~Q(**dict.fromkeys(HELD_BY_COLUMN, False)),
                violation_error_message="Its jaws hold no kind of pile: say which they hold, or "
                "leave all of them blank.",
            ),
        ]

    @property
    def figures(self) -> dict[str, float | None]:
        """The figures somebody read off it, by the name of their field."""
        return {"weight_lb": self.weight_lb, "clamp_force_lbf": self.clamp_force_lbf}

    @property
    def kinds(self) -> tuple[str, ...] | None:
        """The kinds of pile its jaws hold, None where nobody has said."""
        return kinds_held([getattr(self, column) for column in HELD_BY_COLUMN])

    @property
    def kinds_words(self) -> str:
        """The kinds of pile its jaws hold, as people say it."""
        if self.kinds is None:
            return "nobody has said"
        return ", ".join(HeldPile(kind).label.partition(",")[0] for kind in self.kinds)


class ClampFittingQuerySet(OnHammerQuerySet):
    """Clamps on hammers, by when they are there."""

    def clamps_by_hammer(self, hammer_ids: Iterable[int]) -> dict[int, Clamp]:
        """The clamp that these say is on each of some hammers, by the hammer's key."""
        fittings = self.filter(hammer__in=list(hammer_ids)).select_related("clamp")
        # Its times and ids are of no matter here, and take as long to read as the clamp.
        fittings = fittings.only("hammer", "clamp")
        return {fitting.hammer_id: fitting.clamp for fitting in fittings}


class ClampFitting(OnHammer):
    """A clamp on a hammer, from one time to another: one at a time, each on one hammer."""

    clamp = models.ForeignKey(Clamp, models.PROTECT, related_name="fittings")

    objects = ClampFittingQuerySet.as_manager()  # type: ignore[misc]  # of its own kind

    class Meta(OnHammer.Meta):
        constraints = [
            *OnHammer.Meta.constraints,
            models.UniqueConstraint(
                name="clamp_on_one_hammer", fields=["clamp"], condition=Q(removed_at=None)
            ),
        ]

    def __str__(self) -> str:
        return f"{self.clamp} on {self.hammer}"


def clamp_on(hammer: Hammer, moment: datetime) -> Clamp | None:
    """Return the clamp fitted to a hammer at a moment, None where none was."""
    return ClampFitting.objects.at(moment).clamps_by_hammer([hammer.pk]).get(hammer.pk)
