"""What the history report of a unit is printed from."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from fleet.models import HousingGuide, MachineSort, Mounting, OutOfService, SuppressorHousing
from fleet.quantities import Quantity
from inspections.models import (
    Finding,
    Inspection,
    MovedRecords,
    PadReplacement,
    ReceivedUnit,
)
from inspections.service.recording import RELEASE
from ratings.models import LedgerEntry, ProofPull, ProposalAnswer, PullRecord
from ratings.proof.tables import proof_pulls_of
from ratings.proposals.recording import confirmers, confirmers_of
from ratings.pulls.tables import pulls_of_unit


@dataclass(frozen=True)
class History:
    """All that is on record of one housing, in the order things happened."""

    housing: SuppressorHousing
    hammer_words: str
    entries: list[LedgerEntry]
    inspections: list[Inspection]
    replacements: list[PadReplacement]
    mountings: list[Mounting]
    guides: list[HousingGuide]
    guide: HousingGuide | None
    proof_pulls: list[ProofPull]
    softness: ProofPull | None
    pulls: list[PullRecord]
    times_out: list[OutOfService]
    # Who confirmed what caused an entry, and a release, by the keys of entry and time out.
    confirmers: dict[int, ProposalAnswer]
    release_confirmers: dict[int, ProposalAnswer]
    findings: list[Finding]
    moved: list[MovedRecords]
    received: ReceivedUnit | None
    printed_at: datetime
    printed_by: str
    system: str

    @property
    def head(self) -> LedgerEntry | None:
        return self.entries[-1] if self.entries else None

    @property
    def outage(self) -> OutOfService | None:
        """The time out of service that the unit is in now."""
        return next((each for each in self.times_out if each.released_at is None), None)


def read_history(
    housing: SuppressorHousing, *, printed_at: datetime, printed_by: str, system: str
) -> History:
    """Read a housing's whole history."""
    mountings = list(
        Mounting.objects.filter(housing=housing).select_related("hammer").order_by("mounted_at")
    )
    mounted = next((each for each in mountings if each.removed_at is None), None)
    hammer = mounted.hammer if mounted else None
    entries = list(
        LedgerEntry.objects.filter(housing=housing)
        .select_related("recorded_by", "corrects")
        .prefetch_related("corrections")
        .order_by("sequence")
    )
    times_out = list(
        OutOfService.objects.with_unit()
        .filter(Q(unit_today=housing.pk) | Q(findings__inspection__housing=housing))
        .distinct()
        .select_related("recorded_by", "released_by", "hammer", "housing", "clamp", "power_pack")
        .prefetch_related("reaches")
        .order_by("since", "pk")
    )
    return History(
        housing=housing,
        hammer_words=(
            " ".join(part for part in (f"on hammer {hammer.mark}", hammer.make_and_type) if part)
            if hammer
            else "off the hammer"
        ),
        entries=entries,
        inspections=list(
            Inspection.objects.filter(_while_part_of(housing, mountings))
            .select_related(
                "recorded_by",
                "corrects",
                "corrects_replacement",
                "corrected_by__recorded_by",
                "hour_reading",
                "pack_hour_reading",
                "own_kind",
                *_MACHINES,
            )
            .prefetch_related("pads__lot", "answers", "photos__held")
            .order_by("seen_at", "pk")
        ),
        replacements=list(
            PadReplacement.objects.filter(housing=housing)
            .select_related("recorded_by", "corrected_by")
            .prefetch_related("pads__lot", "pads__removed_lot")
            .order_by("fitted_at", "pk")
        ),
        mountings=mountings,
        guides=list(
            HousingGuide.objects.filter(housing=housing)
            .select_related("recorded_by", "corrects", "corrected_by")
            .order_by("occurred_at", "pk")
        ),
        guide=HousingGuide.objects.in_force_by_housing([housing.pk]).get(housing.pk),
        proof_pulls=list(proof_pulls_of(housing).order_by("pulled_at", "pk")),
        softness=ProofPull.objects.softness_by_housing([housing.pk]).get(housing.pk),
        pulls=list(pulls_of_unit(housing).order_by("pulled_at", "pk")),
        times_out=times_out,
        confirmers=confirmers_of(entries),
        release_confirmers=confirmers(RELEASE, [each.pk for each in times_out]),
        findings=list(
            Finding.objects.with_unit()
            .filter(Q(unit_today=housing.pk) | Q(inspection__housing=housing))
            .select_related(
                "inspection__recorded_by",
                "inspection__corrected_by",
                "closing__recorded_by",
                "hammer",
                "housing",
                "clamp",
                "power_pack",
            )
            .order_by("inspection__seen_at", "pk")
        ),
        moved=list(
            MovedRecords.objects.of_unit(housing)
            .select_related("recorded_by", *_MACHINES)
            .order_by("recorded_at", "pk")
        ),
        received=ReceivedUnit.objects.filter(housing=housing).select_related("recorded_by").first(),
        printed_at=printed_at,
        printed_by=printed_by,
        system=system,
    )


_MACHINES = tuple(sort.column for sort in MachineSort)


def _while_part_of(housing: SuppressorHousing, mountings: list[Mounting]) -> Q:
    """Return which inspections are of a unit: of its housing, or of any machine while part of it.

    One of a hammer, a clamp or a power pack by itself counts while that hung under the housing.
    """
    asked = Q(housing=housing)
    for each in mountings:
        span = _seen_within(each.mounted_at, each.removed_at)
        asked |= Q(housing=None, hammer=each.hammer) & span
        for fittings, column in (
            (each.hammer.clampfittings, "clamp"),
            (each.hammer.powerpackconnections, "power_pack"),
        ):
            for fitting in fittings.all():
                on = _seen_within(fitting.fitted_at, fitting.removed_at)
                key = getattr(fitting, f"{column}_id")
                asked |= Q(housing=None, hammer=None, **{column: key}) & span & on
    return asked


def _seen_within(begun: datetime, ended: datetime | None) -> Q:
    since = Q(seen_at__gte=begun)
    return since if ended is None else since & Q(seen_at__lt=ended)


def usable_words(entry: LedgerEntry, system: str) -> str:
    limit = entry.results["limited_by"]
    if entry.usable_travel_in is None:
        return "–"
    words = length_words(entry.usable_travel_in, system)
    return f"{words}, limited by {limit}" if limit else words


def length_words(value: float | None, system: str) -> str:
    return "not taped" if value is None else Quantity.LENGTH.words(value, system)
