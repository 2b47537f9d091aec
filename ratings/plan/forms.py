"""Which jobs are planned together, and which units of the plan are promised."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils import timezone

from fleet.dates import day_count_words, day_words, days_words
from fleet.fields import DayField, PlainText, RecordsField
from ratings.models import ExtractionJob
from ratings.plan.offers import MOST_JOBS

DEFAULT_DAYS = 42
MOST_DAYS = 366


class JobLabels(RecordsField):
    """Jobs by site and days."""

    def label_from_instance(self, job: Any) -> str:
        units = f", {job.units_needed} units" if job.units_needed > 1 else ""
        return f"{job.site}, {days_words(job.first_day, job.last_day)}{units}"


class PlanForm(PlainText, forms.Form):
    """A span of days, and which of the jobs in it are planned."""

    start = DayField(label="From", required=False)
    end = DayField(label="To", required=False)
    jobs = JobLabels(
        label="Jobs",
        queryset=ExtractionJob.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="None ticked: all of these days.",
    )

    def __init__(self, data: Any, *args: Any, **kwargs: Any) -> None:
        super().__init__(data, *args, **kwargs)
        for name in ("start", "end"):
            self.fields[name].is_asked_for = True  # type: ignore[attr-defined]
        self.fields["jobs"].is_asked_for = True  # type: ignore[attr-defined]
        jobs = self.fields["jobs"]
        assert isinstance(jobs, JobLabels)
        jobs.queryset = self._in_the_span()

    def _in_the_span(self) -> QuerySet[ExtractionJob]:
        """Return the jobs of the days asked, that are not over, as far as these can be read."""
        today = timezone.localdate()
        start, end = self._read("start") or today, self._read("end")
        found = ExtractionJob.objects.filter(last_day__gte=max(start, today))
        if end is None:
            end = max(start, today) + timedelta(days=DEFAULT_DAYS - 1)
        return found.filter(first_day__lte=end).order_by("first_day", "site", "pk")

    def _read(self, name: str) -> date | None:
        try:
            day: date | None = self.fields[name].clean(self.data.get(name))
        except forms.ValidationError:
            return None
        return day

    def clean_start(self) -> date:
        return self.cleaned_data["start"] or timezone.localdate()

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        start, end = cleaned.get("start"), cleaned.get("end")
        if start is None or "end" in self.errors:
            return cleaned
        if end is None:
            end = cleaned["end"] = max(start, timezone.localdate()) + timedelta(
                days=DEFAULT_DAYS - 1
            )
        days = (end - start).days + 1
        if days < 1:
            self.add_error(
                "end", f"This is before the first day, {day_words(start)}: give that one or later."
            )
        elif days > MOST_DAYS:
            self.add_error("end", f"That is {day_count_words(days)}: give {MOST_DAYS} at the most.")
        elif len(self._chosen(cleaned)) > MOST_JOBS:
            self.add_error(
                "jobs",
                f"These are {len(self._chosen(cleaned))} jobs: tick {MOST_JOBS} at the most, or "
                "choose fewer days.",
            )
        return cleaned

    def _chosen(self, cleaned: dict[str, Any]) -> list[ExtractionJob]:
        ticked = list(cleaned.get("jobs") or ())
        listed: Any = self.fields["jobs"]
        return ticked or list(listed.queryset[: MOST_JOBS + 1])

    @property
    def chosen(self) -> list[ExtractionJob]:
        """The jobs to plan: those ticked, or all of the span; the form must be valid."""
        keys = [job.pk for job in self._chosen(self.cleaned_data)]
        found = ExtractionJob.objects.filter(pk__in=keys).prefetch_related(
            "layers", "distances", "pile_groups"
        )
        return list(found.order_by("first_day", "site", "pk"))
