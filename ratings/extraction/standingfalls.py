"""Units committed to jobs whose standing has fallen, or whose rating is another, since."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import QuerySet

from fleet.models import OutOfService, SuppressorHousing
from ratings.mechanics.standing import Standing
from ratings.models import Commitment, CurrentRating, ExtractionJob, LedgerEntry

# From good to bad; a step to the right is a fall.
ORDER = (
    Standing.MEETS_LISTING,
    Standing.NOT_PROVEN,
    Standing.BELOW_LISTING,
    Standing.UNRATED,
)


@dataclass(frozen=True)
class Held:
    """A commitment as it stands now. words: what to say at the top, "" where all is as it was."""

    commitment: Commitment
    head: LedgerEntry | None
    out_of_service: str

    @property
    def fell(self) -> bool:
        """Whether the unit stands worse than when it was committed, or is out of service."""
        then = self.commitment.answer.entry.judged
        now = self.head.judged if self.head else Standing.UNRATED
        return bool(self.out_of_service) or ORDER.index(now) > ORDER.index(then)

    @property
    def is_void(self) -> bool:
        """Whether the answer and its sheet hold no more."""
        changed = self.head is None or self.head.pk != self.commitment.answer.entry_id
        return changed or not self.commitment.is_in_force

    @property
    def words(self) -> str:
        if not self.commitment.is_in_force:
            return ""
        unit = self.commitment.housing.mark
        if self.out_of_service:
            return f"{unit} is out of service: {self.out_of_service}."
        then = self.commitment.answer.entry.judged
        now = self.head.judged if self.head else Standing.UNRATED
        if self.fell:
            return f"The standing of {unit} fell from {then} to {now} since it was committed."
        if self.is_void:
            return f"The rating of {unit} is another than it was committed on: its sheet is void."
        return ""


def held_by_job(job: ExtractionJob) -> list[Held]:
    """Return every commitment of a job, those in force first."""
    return _held(job.commitments.all())


def holds_of_unit(housing: SuppressorHousing) -> list[Held]:
    """Return the commitments of a unit in force."""
    return _held(housing.commitments.filter(released_at__isnull=True))


def held_commitment(pk: int) -> Held:
    """Return one commitment as it stands now."""
    return _held(Commitment.objects.filter(pk=pk))[0]


def _held(commitments: QuerySet[Commitment]) -> list[Held]:
    listed = list(
        commitments.select_related(
            "job", "housing", "hammer", "answer__entry", "answer__recorded_by", "released_by"
        )
    )
    ids = [each.housing_id for each in listed]
    heads = {
        rating.housing_id: rating.head
        for rating in CurrentRating.objects.filter(housing__in=ids).select_related("head")
    }
    out = dict(
        OutOfService.objects.filter(housing__in=ids, released_at__isnull=True).values_list(
            "housing_id", "reason"
        )
    )
    rows = [Held(each, heads.get(each.housing_id), out.get(each.housing_id, "")) for each in listed]
    return sorted(rows, key=lambda row: (not row.commitment.is_in_force, row.commitment.first_day))
