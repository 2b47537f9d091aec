from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, time
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from fleet import clock
from fleet.dates import day_words, days_words
from fleet.models.recorded import Recorded


class HireQuerySet(models.QuerySet["Hire"]):
    """Hires, by whether they are over."""

    def open(self) -> Self:
        """Those to come or out: neither back nor cancelled."""
        return self.filter(ended_on__isnull=True)

    def out(self) -> Self:
        """Those whose unit is with its hirer."""
        return self.open().filter(left_on__isnull=False)

    def open_by_housing(self, housing_ids: Iterable[int] | None = None) -> dict[int, Hire]:
        """The open hire of each housing that has one, by its key: it has one at the most."""
        found = self.open()
        if housing_ids is not None:
            found = found.filter(housing__in=list(housing_ids))
        return {each.housing_id: each for each in found}

    def of_unit(self, housing: models.Model | None, hammer: models.Model | None) -> Self:
        """Those of a housing, or of a hammer under whichever housing."""
        either = Q()
        if housing is not None:
            either |= Q(housing=housing)
        if hammer is not None:
            either |= Q(hammer=hammer)
        return self.filter(either) if either else self.none()


class Hire(Recorded):
    """A unit let to somebody: to whom, where, and for which days.

    Agreed when recorded; it leaves with a hand-over, and ends with the one by which it came back,
    or is cancelled. Only left_on and how it ended are written into it later, each once.
    """

    BACK, CANCELLED = "back", "cancelled"

    housing = models.ForeignKey("fleet.SuppressorHousing", models.PROTECT, related_name="hires")
    hammer = models.ForeignKey("fleet.Hammer", models.PROTECT, related_name="hires")
    hirer = models.CharField("hired by", max_length=120, help_text="The firm or person.")
    contact = models.CharField(
        "contact", max_length=200, help_text="Who answers for it there, and the telephone."
    )
    place = models.CharField("where it works", max_length=200, help_text="Site and town.")
    from_day = models.DateField("leaves on")
    back_due = models.DateField("expected back on")
    note = models.CharField(max_length=500, blank=True)
    left_on = models.DateField(null=True)
    end = models.CharField(max_length=9, blank=True, choices={BACK: BACK, CANCELLED: CANCELLED})
    ended_on = models.DateField(null=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )
    cancel_reason = models.CharField(max_length=200, blank=True)

    objects = HireQuerySet.as_manager()

    class Meta:
        ordering = ["-from_day", "-pk"]
        constraints = [
            models.UniqueConstraint(
                name="housing_hired_once_at_a_time",
                fields=["housing"],
                condition=Q(ended_on__isnull=True),
            ),
            models.UniqueConstraint(
                name="hammer_hired_once_at_a_time",
                fields=["hammer"],
                condition=Q(ended_on__isnull=True),
            ),
            models.CheckConstraint(
                name="hire_says_to_whom_and_where",
                condition=~Q(hirer="") & ~Q(contact="") & ~Q(place=""),
            ),
            models.CheckConstraint(
                name="hire_expected_back_after_it_leaves",
                condition=Q(back_due__gte=F("from_day")),
            ),
            models.CheckConstraint(
                name="hire_ended_by_somebody",
                condition=Q(end="", ended_on__isnull=True, ended_by__isnull=True, cancel_reason="")
                | Q(
                    end="back",
                    left_on__isnull=False,
                    ended_on__gte=F("left_on"),
                    ended_by__isnull=False,
                    cancel_reason="",
                )
                | (
                    Q(
                        end="cancelled",
                        left_on__isnull=True,
                        ended_on__isnull=False,
                        ended_by__isnull=False,
                    )
                    & ~Q(cancel_reason="")
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"hire {self.pk} of {self.housing} to {self.hirer}"

    @property
    def ended_at(self) -> datetime:
        """The end of the day it ended on, of which no nearer time is on record; now until then."""
        day = self.ended_on or clock.today()
        return timezone.make_aware(datetime.combine(day, time.max))

    @property
    def is_open(self) -> bool:
        return self.ended_on is None

    @property
    def is_out(self) -> bool:
        """Whether the unit is with its hirer."""
        return self.is_open and self.left_on is not None

    @property
    def is_overdue(self) -> bool:
        """Whether it was to be back before today, and nobody took it back."""
        return self.is_out and self.back_due < clock.today()

    @property
    def first_day_away(self) -> date:
        return self.left_on or self.from_day

    @property
    def last_day_away(self) -> date:
        """The last day it is away: one that is out goes on until somebody takes it back."""
        if self.ended_on is not None:
            return self.ended_on
        return max(self.back_due, clock.today()) if self.is_out else self.back_due

    @property
    def days(self) -> str:
        return days_words(self.first_day_away, self.last_day_away)

    @property
    def words(self) -> str:
        """Say to whom and when, after "its"."""
        return f"hire to {self.hirer}, {self.days}"

    @property
    def board_words(self) -> str:
        """Say where the unit is, or will be, in a line."""
        until = day_words(self.back_due)
        if not self.is_out:
            return f"to go on hire to {self.hirer}, {self.days}"
        if self.is_overdue:
            return f"on hire to {self.hirer}, overdue back since {until}"
        return f"on hire to {self.hirer} until {until}"

    @property
    def machine_words(self) -> str:
        """Say where a machine of the unit is, or will be: to whom, since when, back when."""
        if not self.is_out or self.left_on is None:
            return self.board_words
        back = day_words(self.back_due)
        until = f"overdue back since {back}" if self.is_overdue else f"back {back}"
        return f"on hire to {self.hirer} since {day_words(self.left_on)}, {until}"

    @property
    def state(self) -> str:
        """How it stands, in a word or two."""
        if self.end:
            return self.end
        if self.is_overdue:
            return "overdue back"
        return "out" if self.is_out else "agreed"

    def is_away_during(self, first_day: date, last_day: date) -> bool:
        """Whether the unit is away on any of some days, both ends included."""
        if self.end == self.CANCELLED:
            return False
        return self.first_day_away <= last_day and self.last_day_away >= first_day
