"""Close a finding."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from inspections.models import Finding, FindingClosing


@transaction.atomic
def close_finding(
    *, submission_id: uuid.UUID, finding: Finding, closed_at: datetime, done: str, by: User
) -> FindingClosing:
    """Put on record what was done about a finding; the first to close it stands.

    A unit out of service for it stays out until somebody releases it.
    """
    Finding.objects.select_for_update().get(pk=finding.pk)
    known = FindingClosing.objects.filter(finding=finding).first()
    if known is not None:
        return known
    return FindingClosing.objects.create(
        submission_id=submission_id,
        finding=finding,
        closed_at=closed_at,
        done=done,
        recorded_by=by,
    )
