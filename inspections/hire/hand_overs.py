"""A hire's two hand-overs read from the records, and what differs between them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from django.db.models import Q

from fleet.hours import hours_run_between
from fleet.kept_files import absence_words
from fleet.models import Hire, MachineSort, MeterChange
from inspections.hire.differences import AsSeen, Differences, PadThere, differences
from inspections.models import Finding, HandOver, Inspection, ReplacedPad
from ratings.mechanics.standing import Standing
from ratings.record.papers import CORRECTED, Stated, paper_kind, unit_figures

KIND = "hand-over"

# What pages and papers of a hand-over caution of.
CAUTIONS = (
    "A line pull is what the pads bear, and no permission to pull: whatever it says, the crane’s "
    "own chart is never passed, and a qualified person decides. Keep clear of a stretched line."
)


@dataclass(frozen=True)
class PhotoKept:
    """A photo of a hand-over or of its inspection.

    sha256: "" where its file has not come yet. absence: why it can’t be shown, "" where it can.
    """

    url_name: str
    key: object
    caption: str
    sha256: str
    width: int = 0
    height: int = 0
    absence: str = ""


@dataclass(frozen=True)
class Handed:
    """A hand-over, and the unit as it was seen at it."""

    hand_over: HandOver
    seen: AsSeen

    @property
    def inspection(self) -> Inspection:
        return self.hand_over.inspection

    @property
    def standing(self) -> Standing:
        return self.hand_over.entry.judged

    @property
    def sound_pads(self) -> int:
        return sum(1 for pad in self.seen.pads.values() if pad.condition == "sound")

    @property
    def positions(self) -> int:
        return len(self.seen.pads)

    @property
    def is_corrected(self) -> bool:
        """Whether its inspection was put right since: what it says is no more what is on record."""
        return hasattr(self.inspection, "corrected_by")

    @cached_property
    def photos(self) -> list[PhotoKept]:
        """The photos of the hand-over and of its inspection."""
        own = [
            PhotoKept(
                "hand-over-photo",
                each.pk,
                each.caption,
                each.sha256,
                each.width,
                each.height,
                absence_words(each.file),
            )
            for each in self.hand_over.photos.all()
        ]
        seen = [
            PhotoKept(
                "inspection-photo",
                each.pk,
                each.caption,
                each.held.sha256 if hasattr(each, "held") else "",
                each.held.width if hasattr(each, "held") else 0,
                each.held.height if hasattr(each, "held") else 0,
                absence_words(each.held.file) if hasattr(each, "held") else "",
            )
            for each in self.inspection.photos.select_related("held")
        ]
        return own + seen


@dataclass(frozen=True)
class HandedBoth:
    """Both hand-overs of a hire; None for what has not been yet."""

    out: Handed | None
    back: Handed | None
    differs: Differences | None

    @property
    def sides(self) -> list[Handed]:
        return [each for each in (self.out, self.back) if each is not None]


def hand_overs_of(hire: Hire) -> HandedBoth:
    """Return the hand-overs of a hire, each with what was seen, and what differs."""
    related = [f"inspection__{sort.column}" for sort in MachineSort]
    rows = HandOver.objects.filter(hire=hire).select_related(
        *related, "inspection__hour_reading", "inspection__corrected_by", "entry", "recorded_by"
    )
    found = {each.way: Handed(each, _as_seen(each)) for each in rows}
    out, back = found.get(HandOver.Way.OUT), found.get(HandOver.Way.BACK)
    return HandedBoth(out, back, _differences(out, back) if out and back else None)


def _differences(out: Handed, back: Handed) -> Differences:
    first, last = out.inspection.hour_reading, back.inspection.hour_reading
    run = hours_run_between(first, last) if first and last else None
    began, ended = out.inspection.seen_at, back.inspection.seen_at
    changed = MeterChange.objects.filter(
        hammer=out.inspection.hammer_id, changed_at__gt=began, changed_at__lte=ended
    ).exists()
    replaced = ReplacedPad.objects.filter(
        replacement__housing=out.inspection.housing_id,
        replacement__fitted_at__gt=began,
        replacement__fitted_at__lte=ended,
        replacement__corrected_by__isnull=True,
    )
    return differences(
        out.seen,
        back.seen,
        replaced=frozenset(replaced.values_list("side", "number")),
        hours_run=run,
        is_meter_changed=changed,
    )


def _as_seen(hand_over: HandOver) -> AsSeen:
    inspection = hand_over.inspection
    pads = inspection.pads.select_related("lot")
    return AsSeen(
        pads={
            (each.side, each.number): PadThere(each.condition, each.lot.mark if each.lot else "")
            for each in pads
        },
        travel_in=inspection.travel_in,
        hours=inspection.hour_reading.hours if inspection.hour_reading else None,
        pull_lbf=hand_over.entry.pull_lbf,
        working_capacity_lbf=hand_over.entry.working_capacity_lbf,
        findings=dict(_findings(inspection, hand_over.signed_at)),
    )


def _findings(inspection: Inspection, signed_at: datetime) -> Iterator[tuple[int, str]]:
    """Yield what was found at the unit's machines up to an inspection and stood open then."""
    by = max(inspection.seen_at, signed_at)
    machines = Q()
    for sort, machine in inspection.machines.items():
        machines |= Q(**{sort.column: machine})
    found = Finding.objects.filter(
        machines,
        Q(closing__isnull=True) | Q(closing__closed_at__gt=by),
        inspection__seen_at__lte=by,
        inspection__corrected_by__isnull=True,
    )
    for each in found.order_by("pk"):
        yield each.pk, f"{each.get_severity_display()}: {each.text}"


@paper_kind(KIND)
def hand_over_stated(subject: str, system: str) -> Stated:
    """Return what the paper of a hire states. subject: the key of the hire."""
    hire = Hire.objects.select_related("housing", "hammer").filter(pk=int(subject)).first()
    if hire is None:
        raise LookupError("the hire is not on record")
    figures, entries = [("State", str(hire.state))], []
    sides = hand_overs_of(hire).sides
    for handed in sides:
        way, entry = handed.hand_over.get_way_display(), handed.hand_over.entry
        figures += [(f"{name}, {way}", words) for name, words in unit_figures(entry, system)]
        entries.append(entry)
    is_corrected = any(each.is_corrected for each in sides)
    return Stated(
        f"Hand-over of {hire.housing} on {hire.hammer}",
        tuple(figures),
        tuple(dict.fromkeys(entries)),
        (CORRECTED,) if is_corrected else (),
    )
