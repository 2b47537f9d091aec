"""Jobs as a table."""

from __future__ import annotations

from typing import Any

import django_filters
from django.db.models import Q, QuerySet
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.dates import days_words
from fleet.quantities import Quantity
from fleet.tables import Column, DatedFilter, MeasuredColumn, RecordsTable
from ratings.jobs.validity import Word, commitments_now
from ratings.models import Commitment, ExtractionJob, PileGroup

# Said beside a unit; one that is valid or past needs no word.
NOT_TO_BE_SENT = (Word.VOID, Word.NOT_YET)


class JobTable(RecordsTable):
    """A row for each job, with the units it holds."""

    caption = "Jobs"
    empty_words = "No job is on record. Enter one to see which units suit it."
    nothing_found = "No job matches: clear the filters."

    site = Column("Site")
    days = Column("Days", accessor="first_day", order_by=("first_day", "last_day"))
    pile = Column("Piles", empty_values=(), orderable=False)
    deepest_ft = MeasuredColumn(Quantity.DEPTH, "Deepest toe")
    committed = Column("Units committed", empty_values=(), orderable=False)

    def load_page(self, records: list[ExtractionJob]) -> None:
        self.marks: dict[int, list[str]] = {}
        for now in commitments_now(Commitment.objects.in_force().filter(job__in=records)):
            mark = now.commitment.housing.mark
            words = f"{mark} ({now.word})" if now.word in NOT_TO_BE_SENT else mark
            self.marks.setdefault(now.commitment.job_id, []).append(words)
        self.piles: dict[int, list[str]] = {}
        for group in PileGroup.objects.filter(job__in=records).order_by("job", "place"):
            self.piles.setdefault(group.job_id, []).append(f"{group.count} × {group.name}")

    def render_site(self, record: ExtractionJob) -> SafeString:
        url = reverse("job", args=[record.pk])
        return format_html('<a href="{}"><strong>{}</strong></a>', url, record.site)

    def render_days(self, record: ExtractionJob) -> str:
        return days_words(record.first_day, record.last_day)

    def render_pile(self, record: ExtractionJob) -> str:
        return ", ".join(self.piles.get(record.pk, []))

    def render_committed(self, record: ExtractionJob) -> str:
        return ", ".join(self.marks.get(record.pk, [])) or "none"


class JobFilter(DatedFilter):
    """Narrow the jobs by a word, or by when they are."""

    hint = "site, pile or unit"
    searched = ("site",)
    begins, ends = "first_day", "last_day"

    when = django_filters.ChoiceFilter(
        label="When",
        empty_label="any time",
        choices=[("now", "under way"), ("later", "to come"), ("over", "over")],
        method="filter_when",
    )

    def filter_search(self, records: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        holding = Commitment.objects.filter(
            released_at__isnull=True, housing__mark__icontains=value
        )
        piles = PileGroup.objects.filter(Q(section__icontains=value) | Q(label__icontains=value))
        found = super().filter_search(records, name, value)
        return found | records.filter(
            Q(pk__in=holding.values("job")) | Q(pk__in=piles.values("job"))
        )

    def filter_when(self, jobs: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        today = timezone.localdate()
        if value == "now":
            return jobs.filter(first_day__lte=today, last_day__gte=today)
        if value == "later":
            return jobs.filter(first_day__gt=today)
        return jobs.filter(last_day__lt=today)
