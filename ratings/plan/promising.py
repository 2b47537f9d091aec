"""The units of a plan promised, each by itself, and told which was refused."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError

from fleet.people.yards import in_no_yard
from ratings.jobs.commitments import commit_unit
from ratings.models import Commitment, ExtractionJob
from ratings.plan.offers import FleetPlan
from ratings.plan.words import read_tick


@dataclass(frozen=True)
class Promised:
    """What came of one unit: its commitment, or why it was refused."""

    unit: str
    site: str
    commitment: Commitment | None = None
    refusal: str = ""


@in_no_yard("each unit of it is committed by itself, and looked at then")
def promise(
    *,
    submission_id: uuid.UUID,
    plan: FleetPlan,
    ticked: Iterable[str],
    known_with_care: Iterable[str],
    watched_by: Mapping[str, str],
    by: User,
) -> list[Promised]:
    """Commit units to jobs, one after the other; a refusal stops none of the rest.

    With what is to be done before each goes as conditions of its commitment.

    plan: of these jobs, as all stands now. ticked: tick_key of each, as the plan looked at had
    them; what was best then may still be promised, if it may be at all. known_with_care: of those
    whose care somebody says they know of: one that has come to suit with care only since it was
    looked at is refused. watched_by: who watches the pull of each, by name. A second copy of a
    submission changes nothing.
    """
    known = set(known_with_care)
    jobs = {each.job.pk: each.job for each in plan.jobs}
    units = {unit.housing.pk: unit.housing for unit in plan.units.values()}
    found = []
    for key in dict.fromkeys(ticked):
        # One id for each unit of the plan, the same whenever it is sent again.
        sent = uuid.uuid5(submission_id, key)
        job_id, housing_id = read_tick(key)
        job, housing = jobs.get(job_id), units.get(housing_id)
        fit = plan.fits.get((housing.mark, job_id)) if housing else None
        if job is None or housing is None or fit is None:
            found.append(_made_before(sent, job))
            continue
        try:
            made = commit_unit(
                submission_id=sent,
                job=job,
                housing=housing,
                by=by,
                plans=fit.to_do,
                is_care_known=key in known,
                watched_by=watched_by.get(key, ""),
            )
        except ValidationError as refusal:
            found.append(Promised(housing.mark, job.site, refusal=refusal.messages[0]))
        else:
            found.append(Promised(housing.mark, job.site, commitment=made))
    return found


def _made_before(sent: uuid.UUID, job: ExtractionJob | None) -> Promised:
    """Return what is to say of a unit that is offered no more: promised by this form, or gone."""
    made = Commitment.objects.filter(answer__submission_id=sent).select_related("job", "housing")
    if (known := made.first()) is not None:
        return Promised(known.housing.mark, known.job.site, commitment=known)
    return Promised(
        "A unit",
        job.site if job else "a job",
        refusal="the plan has changed since you looked at it: look at it again, then promise.",
    )
