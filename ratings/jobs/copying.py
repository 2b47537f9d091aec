"""A job entered again for other days: all that it asks, none of the units it holds."""

from __future__ import annotations

import uuid
from datetime import date
from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError

from fleet.dates import day_words
from fleet.fields import DayField, SubmissionForm
from fleet.people.yards import in_no_yard
from ratings.jobs.history import LEFT_OUT
from ratings.jobs.recording import hold_of, layer_of, save_job
from ratings.models import ExtractionJob, PileGroup
from ratings.models.job import TESTED


class CopyForm(SubmissionForm):
    """Where and when the copy is; the rest is the job's own."""

    site = forms.CharField(
        label="Site", max_length=120, error_messages={"required": "This is blank: name the site."}
    )
    first_day = DayField(label="First day")
    last_day = DayField(label="Last day")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        first_day, last_day = cleaned.get("first_day"), cleaned.get("last_day")
        if first_day is not None and last_day is not None and last_day < first_day:
            self.add_error(
                "last_day",
                f"This is before the first day, {day_words(first_day)}: give that one or later.",
            )
        return cleaned


@in_no_yard("a new job holds no unit yet")
def copy_job(
    *,
    submission_id: uuid.UUID,
    job: ExtractionJob,
    site: str,
    first_day: date,
    last_day: date,
    by: User,
) -> ExtractionJob:
    """Record a job like another on other days, without its commitments, files and history.

    The days since driving grow with the days between; how many days of frost there will be is of
    the season, and left blank. A second copy of a submission changes nothing. Raises
    ValidationError for days reversed.
    """
    if last_day < first_day:
        raise ValidationError({"last_day": "This is before the first day: give that or later."})
    fields = _columns(job) | {"site": site, "first_day": first_day, "last_day": last_day}
    fields["frost_days"] = None
    if job.days_since_driving is not None:
        later = (first_day - job.first_day).days
        fields["days_since_driving"] = max(job.days_since_driving + later, 0)
    layers = list(job.layers.all())
    return save_job(
        submission_id=submission_id,
        job=None,
        fields=fields,
        piles=[_columns(group) for group in job.pile_groups.all()],
        layers=[layer_of(each) for each in layers],
        tests=[{name: getattr(each, name) for name in (*TESTED, "correlation")} for each in layers],
        holds=[hold_of(each) for each in job.holds.all()],
        distances=job.distances_mi,
        by=by,
    )


def _columns(row: ExtractionJob | PileGroup) -> dict[str, Any]:
    named = (field.name for field in type(row)._meta.concrete_fields)
    return {name: getattr(row, name) for name in named if name not in LEFT_OUT}
