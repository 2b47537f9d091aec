"""Change how the yard judges extractions."""

from __future__ import annotations

import uuid
from dataclasses import asdict

from django.contrib.auth.models import User
from django.db import transaction

from ratings.mechanics.extraction.policy import ExtractionPolicy
from ratings.models import ExtractionRules


@transaction.atomic
def change_rules(
    *, submission_id: uuid.UUID, policy: ExtractionPolicy, reason: str, by: User
) -> ExtractionRules:
    """Put rules in force. Answers on record keep those they were given by.

    A second copy of a submission changes nothing.
    """
    known = ExtractionRules.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    return ExtractionRules.objects.create(
        submission_id=submission_id,
        care_margin=policy.care_margin,
        low_factor=policy.low_factor,
        high_factor=policy.high_factor,
        jaw_friction=policy.jaw_friction,
        steel_share=policy.steel_share,
        inspection_days=policy.inspection_days,
        below_listing=policy.below_listing,
        soils=[asdict(soil) for soil in policy.soils],
        reason=reason,
        recorded_by=by,
    )
