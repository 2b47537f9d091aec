"""What differs between a unit as it left and as it came back. Pure: no database, no clock."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

SOUND = "sound"
Place = tuple[str, int]


@dataclass(frozen=True)
class PadThere:
    """A pad as it was counted: its condition, and the mark of its lot, "" where not known."""

    condition: str
    lot: str = ""

    @property
    def words(self) -> str:
        return f"{self.condition}, {self.lot}" if self.lot else self.condition


@dataclass(frozen=True)
class AsSeen:
    """A unit at one of its hand-overs. None for what nobody knows.

    hours: as the meter showed. findings: those recorded up to then and not closed, by their key.
    """

    pads: Mapping[Place, PadThere]
    travel_in: float | None
    hours: float | None
    pull_lbf: float | None
    working_capacity_lbf: float | None
    findings: Mapping[int, str]


@dataclass(frozen=True)
class PadDiffers:
    """A position whose pad is not as it was. is_replaced: whether a replacement is on record."""

    side: str
    number: int
    was: PadThere | None
    now: PadThere | None
    is_replaced: bool

    @property
    def place(self) -> str:
        return f"{self.side}{self.number}"

    @property
    def is_swapped(self) -> bool:
        """Whether it must be another pad, and nobody recorded a replacement.

        It is of another lot, or was unsound and is sound: rubber heals by no rest.
        """
        if self.is_replaced or self.was is None or self.now is None:
            return False
        heals = self.was.condition != SOUND and self.now.condition == SOUND
        # Of a pad that is missing there is no lot to tell by.
        another = bool(self.was.lot and self.now.lot and self.was.lot != self.now.lot)
        return heals or another

    @property
    def words(self) -> str:
        """Say what it was and is, in a line."""
        was = self.was.words if self.was else "not counted"
        now = self.now.words if self.now else "not counted"
        if self.is_replaced:
            why = " (replaced, on record)"
        else:
            why = " (another pad, and no replacement is on record)" if self.is_swapped else ""
        return f"{self.place}: {was}; now {now}{why}"


@dataclass(frozen=True)
class Differences:
    """What differs. None where one of the two is not known.

    hours_run: over every meter it had meanwhile. is_meter_changed: whether one was changed.
    """

    pads: tuple[PadDiffers, ...]
    travel_in: float | None
    hours_run: float | None
    is_meter_changed: bool
    new_findings: tuple[str, ...]
    closed_findings: tuple[str, ...]
    pull_lbf: float | None
    working_capacity_lbf: float | None

    @property
    def swapped(self) -> tuple[PadDiffers, ...]:
        return tuple(each for each in self.pads if each.is_swapped)

    @property
    def runs_backward(self) -> bool:
        """Whether the hours come to fewer than at leaving."""
        return self.hours_run is not None and self.hours_run < 0

    @property
    def is_none(self) -> bool:
        """Whether nothing at all differs but the hours."""
        return not (self.pads or self.travel_in or self.new_findings or self.closed_findings)


def differences(
    left: AsSeen,
    back: AsSeen,
    *,
    replaced: frozenset[Place] = frozenset(),
    hours_run: float | None = None,
    is_meter_changed: bool = False,
) -> Differences:
    """Return what differs between a unit as it left and as it came back.

    replaced: positions at which a replacement is on record between the two. hours_run: None takes
    the later meter reading less the earlier one.
    """
    if hours_run is None and not is_meter_changed:
        hours_run = _less(back.hours, left.hours)
    places = sorted({*left.pads, *back.pads})
    return Differences(
        pads=tuple(
            PadDiffers(*place, left.pads.get(place), back.pads.get(place), place in replaced)
            for place in places
            if left.pads.get(place) != back.pads.get(place) or place in replaced
        ),
        travel_in=_less(back.travel_in, left.travel_in),
        hours_run=hours_run,
        is_meter_changed=is_meter_changed,
        new_findings=tuple(text for key, text in back.findings.items() if key not in left.findings),
        closed_findings=tuple(
            text for key, text in left.findings.items() if key not in back.findings
        ),
        pull_lbf=_less(back.pull_lbf, left.pull_lbf),
        working_capacity_lbf=_less(back.working_capacity_lbf, left.working_capacity_lbf),
    )


def _less(later: float | None, earlier: float | None) -> float | None:
    return None if later is None or earlier is None else later - earlier
