"""Record a pull with the photos that go with it, whole or not at all."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from inspections.count.findings import PhotoTaken
from inspections.models import Photo, PullPhoto
from ratings.pulls.recording import RecordedPullDone, record_pull


@transaction.atomic
def record_pull_with_photos(*, photos: Sequence[PhotoTaken] = (), **pull: Any) -> RecordedPullDone:
    """Record a pull as `record_pull` does, and the photos it names; their files may come later.

    A second copy of a submission changes nothing. Raises ValidationError as `record_pull` does,
    and for a photo that another record names already.
    """
    recorded = record_pull(**pull)
    if recorded.is_copy:
        return recorded
    ids = [photo.id for photo in photos]
    if Photo.objects.filter(pk__in=ids).exists() or PullPhoto.objects.filter(pk__in=ids).exists():
        raise ValidationError({"photos": "A photo is on record already: add it again."})
    for photo in photos:
        PullPhoto.objects.create(pk=photo.id, pull=recorded.pull, caption=photo.caption)
    return recorded
