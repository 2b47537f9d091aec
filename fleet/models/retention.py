"""How long files are kept, and which were let go: the rows they belong to stay for ever."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.models.recorded import Recorded

LEAST_YEARS, MOST_YEARS = 1, 100


class RetentionRule(Recorded):
    """For how long the files of a kind of record are kept, from a moment on, until the next rule.

    years: None of what is kept for ever, as all is before there is a rule.
    """

    kind = models.CharField(max_length=40)
    years = models.PositiveSmallIntegerField(
        "years to keep", null=True, help_text="Blank: for ever."
    )
    needs_second_person = models.BooleanField(
        "a second equipment manager confirms what is let go",
        default=True,
        help_text="Without it, whoever makes this rule still lets nothing go alone.",
    )
    reason = models.CharField("why", max_length=200)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="retention_for_some_years",
                condition=Q(years=None) | Q(years__range=(LEAST_YEARS, MOST_YEARS)),
            ),
            models.CheckConstraint(
                name="retention_of_a_kind_for_a_reason", condition=~Q(kind="") & ~Q(reason="")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind}: {'for ever' if self.years is None else f'{self.years} years'}"


class LettingGo(Recorded):
    """Files let go at once: by whom and why."""

    kind = models.CharField(max_length=40)
    reason = models.CharField("why", max_length=200)

    class Meta:
        verbose_name = "letting go of files"
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(name="let_go_for_a_reason", condition=~Q(reason="")),
        ]

    def __str__(self) -> str:
        return f"{self.kind} let go"


class FileLetGo(models.Model):
    """One file whose bytes are no longer kept; its row, its leaf and its SHA-256 stay."""

    letting_go = models.ForeignKey(LettingGo, models.PROTECT, related_name="files")
    model = models.CharField(max_length=80)
    row_key = models.CharField(max_length=80)
    column = models.CharField(max_length=40)
    name = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64)
    words = models.CharField("what it was", max_length=300)

    class Meta:
        verbose_name = "file let go"
        verbose_name_plural = "files let go"
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(fields=["model", "row_key", "column"], name="file_let_go_once"),
        ]

    def __str__(self) -> str:
        return self.words
