"""Days a unit is on the way to a job and back, against what else holds it on them."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from django.db.models import Q

from fleet.dates import day_count_words, days_words
from fleet.models import Transfer
from ratings.jobs.candidates import Candidate, hire_of, hires_of_units, yard_on
from ratings.models import Commitment, ExtractionJob
from ratings.transport import transport_in_force


def in_the_way(job: ExtractionJob, candidate: Candidate) -> tuple[str, ...]:
    """Return what a unit's days on the way to a job and back run into, in words; () for nothing.

    Other holds of its housing or its hammer, with their own days on the way as a plan of several
    jobs counts them, and an open transfer or hire. What lies on the days of the job itself is no
    matter of this: it keeps the unit from being held at all.
    """
    return tuple(_found(job, candidate))


def _found(job: ExtractionJob, candidate: Candidate) -> Iterator[str]:
    transport, housing = transport_in_force(), candidate.housing
    transfer = Transfer.objects.open_by_housing([housing.pk]).get(housing.pk)
    yard = yard_on(housing.yard_id, transfer, job.first_day)
    days = transport.days(transport.haul_mi(yard, job.distances_mi))
    away = timedelta(days=days)
    begins, ends = job.first_day - away, job.last_day + away
    longest = timedelta(days=transport.longest_days)
    each_way = f"its days on the way, {day_count_words(days)} each way,"
    others = (
        Commitment.objects.overlapping(begins - longest, ends + longest)
        .filter(Q(housing=housing) | Q(hammer=candidate.hammer))
        .exclude(job=job)
        .select_related("job", "housing")
        .prefetch_related("job__distances")
    )
    for other in others:
        is_at_once = other.first_day <= job.last_day and other.last_day >= job.first_day
        haul_mi = transport.haul_mi(other.housing.yard_id, other.job.distances_mi)
        there = timedelta(days=transport.days(haul_mi))
        if is_at_once or other.first_day - there > ends or other.last_day + there < begins:
            continue
        held = days_words(other.first_day, other.last_day)
        whose = f" and {day_count_words(there.days)} each way of its own" if there else ""
        yield f"{each_way} run into its hold for {other.job.site}, {held}{whose}"
    if transfer is not None and transfer.is_away_during(begins, ends):
        yield f"{each_way} run into its {transfer.words}"
    hire = hire_of(hires_of_units(), housing.pk, candidate.hammer.pk)
    if hire is not None and hire.is_away_during(begins, ends):
        yield f"{each_way} run into its {hire.words}"
