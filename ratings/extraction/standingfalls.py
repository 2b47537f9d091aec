"""Units committed to jobs whose standing has fallen, or whose rating is another, since."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import QuerySet
from django.utils import timezone

from fleet.dates import days_words
from fleet.models import Hammer, Mounting, OutOfService, SuppressorHousing
from ratings.extraction.stored import job_of
from ratings.mechanics.extraction.record import read_answer
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
    """A commitment as it stands now. words: what to say at the top, "" where all is as it was.

    head: of the unit's ledger. out_of_service: why it is, "" where it isn't. hammer: the one the
    housing is on now. is_job_changed: whether the job asks something else than it did then.
    """

    commitment: Commitment
    head: LedgerEntry | None
    out_of_service: str
    hammer: Hammer | None
    is_job_changed: bool

    @property
    def fell(self) -> bool:
        """Whether the unit stands worse than when it was committed, or can't go as it was."""
        then = self.commitment.answer.entry.judged
        worse = ORDER.index(self._standing) > ORDER.index(then)
        return bool(self.out_of_service) or self.is_moved or worse

    @property
    def is_moved(self) -> bool:
        """Whether the housing is on another hammer now, or on none."""
        return self.hammer is None or self.hammer.pk != self.commitment.hammer_id

    @property
    def is_void(self) -> bool:
        """Whether the answer and its sheet hold no more."""
        changed = self.head is None or self.head.pk != self.commitment.answer.entry_id
        return changed or self.is_moved or not self.commitment.is_in_force

    @property
    def is_over(self) -> bool:
        """Whether its last day is past, so that nothing is sent out on it any more."""
        return self.commitment.last_day < timezone.localdate()

    @property
    def lead(self) -> str:
        """What it comes to, in a few words."""
        if self.fell:
            return "Do not send it out."
        return "Its sheet is void." if self.is_void else "Ask again."

    @property
    def words(self) -> str:
        if not self.commitment.is_in_force or self.is_over:
            return ""
        unit, committed_on = self.commitment.housing.mark, self.commitment.hammer.mark
        if self.out_of_service:
            return f"{unit} is out of service: {self.out_of_service.rstrip('.')}."
        if self.is_moved:
            now_on = f"on {self.hammer.mark}" if self.hammer else "off the hammer"
            return f"{unit} was committed on {committed_on} and is {now_on} now."
        if self.fell:
            fall = f"from {self.commitment.answer.entry.judged} to {self._standing}"
            return f"The standing of {unit} fell {fall} since it was committed."
        if self.is_void:
            return f"The rating of {unit} is another than it was committed on: its sheet is void."
        if self.is_job_changed:
            return (
                f"The numbers of the job changed since {unit} was committed: its answer and its "
                "sheet are on the old ones. Release it and commit it again."
            )
        return ""

    @property
    def days(self) -> str:
        return days_words(self.commitment.first_day, self.commitment.last_day)

    @property
    def _standing(self) -> Standing:
        return self.head.judged if self.head else Standing.UNRATED


def held_by_job(job: ExtractionJob) -> list[Held]:
    """Return every commitment of a job, those in force first."""
    return _held(job.commitments.all())


def holds_of_unit(housing: SuppressorHousing) -> list[Held]:
    """Return the commitments of a unit in force, but for those that are over."""
    return _held(
        housing.commitments.filter(released_at__isnull=True, last_day__gte=timezone.localdate())
    )


def held_commitment(pk: int) -> Held:
    """Return one commitment as it stands now."""
    return _held(Commitment.objects.filter(pk=pk))[0]


def _held(commitments: QuerySet[Commitment]) -> list[Held]:
    listed = list(
        commitments.select_related(
            "job", "housing", "hammer", "answer__entry", "answer__recorded_by", "released_by"
        ).prefetch_related("job__layers")
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
    hammers = {
        mounting.housing_id: mounting.hammer
        for mounting in Mounting.objects.filter(
            housing__in=ids, removed_at__isnull=True
        ).select_related("hammer")
    }
    rows = [
        Held(
            each,
            heads.get(each.housing_id),
            out.get(each.housing_id, ""),
            hammers.get(each.housing_id),
            is_job_changed=each.is_in_force and _is_job_changed(each),
        )
        for each in listed
    ]
    return sorted(rows, key=lambda row: (not row.commitment.is_in_force, row.commitment.first_day))


def _is_job_changed(commitment: Commitment) -> bool:
    try:
        _unit, asked, _policy = read_answer(commitment.answer.contents)
    except (KeyError, TypeError, ValueError):
        # One that can't be read is told of where it is reckoned again.
        return True
    return asked != job_of(commitment.job)
