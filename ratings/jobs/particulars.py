"""What a sheet says of a job beside its answer: kept with it, and in no calculation."""

from __future__ import annotations

from typing import Any

from fleet.models import Clamp
from ratings.models import ExtractionJob

# Fields of a job that are printed as they stand.
NOTED = (
    "address",
    "barge_note",
    "frost_days",
    "headroom_ft",
    "note",
    "vibration_limit_in_s",
    "vibration_note",
)


def particulars_of(job: ExtractionJob, clamp: Clamp | None, watched_by: str = "") -> dict[str, Any]:
    """Return them as JSON values: what is blank is left out.

    watched_by: who watches the pull, by name.

    sections: of each group of piles in turn, "" where none was chosen.
    """
    noted = {name: getattr(job, name) for name in NOTED}
    found: dict[str, Any] = {
        name: value for name, value in noted.items() if value not in (None, "")
    }
    if job.indicator is not None:
        found["load_indicator"] = {
            "mark": job.indicator.mark,
            "kind": job.indicator.kind,
            "due_on": job.indicator.due_on.isoformat() if job.indicator.due_on else None,
        }
    if watched_by:
        found["watched_by"] = watched_by
    found["sections"] = [group.section for group in job.pile_groups.all()]
    if clamp is not None:
        found["clamp"] = clamp.mark
        found["jaws"] = clamp.jaws_note
    return found
