"""What the ground holds a job's pile with, at rest and while it is vibrated."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ratings.mechanics.extraction.holds import HoldKind
from ratings.mechanics.extraction.job import Job, PileKind
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.soil import (
    DEPTH_ROUNDING_FT,
    Hole,
    Layer,
    LayerFault,
    Slice,
    friction_below_hole_psf,
    slices,
)

# What vibration does to the ground beside a pile, as a share of what it does beside steel: concrete
# shakes it less (US Army EI 02G001, 1997, page 2-9).
PILE_SHARES = {PileKind.CONCRETE: 0.8}


@dataclass(frozen=True)
class ShaftSlice:
    """A piece of the shaft: what holds it, step by step so that it can be retraced by hand.

    static_lbf: friction × perimeter × thickness × set-up, without and within. inside_lbf: how much
        of that is within. factor: the share kept while vibrated, divided by the pile’s own share.
        vibrated_lbf: factor × static.
    """

    layer: int
    top_ft: float
    bottom_ft: float
    stress_psf: float
    friction_psf: float
    static_lbf: float
    factor: float | None
    vibrated_lbf: float | None
    inside_lbf: float = 0.0


@dataclass(frozen=True)
class Ground:
    """The ground's whole hold on the pile, lbf.

    static_lbf, vibrated_lbf: expected of friction, at rest and while vibrating; the latter None in
        a pull by the crane alone.
    inside_lbf: how much of the friction of this pull is within an open pipe that cores.
    holds_lbf: all that holds it besides, by HoldKind, as it was entered.
    resistance_lbf: friction of this pull and other holds, what it must overcome; low_lbf,
        high_lbf: its range.
    needed_amplitude_in: the largest that a layer along the shaft needs, 0 where none does.
    """

    slices: tuple[ShaftSlice, ...]
    static_lbf: float
    vibrated_lbf: float | None
    resistance_lbf: float
    low_lbf: float
    high_lbf: float
    needed_amplitude_in: float
    inside_lbf: float = 0.0
    holds_lbf: tuple[tuple[HoldKind, float], ...] = ()

    @property
    def outside_lbf(self) -> float:
        """Friction of this pull on the outside of the shaft."""
        friction = self.static_lbf if self.vibrated_lbf is None else self.vibrated_lbf
        return friction - self.inside_lbf


def ground(
    job: Job,
    policy: ExtractionPolicy,
    embedment_ft: float | None = None,
    hole: Hole | None = None,
) -> Ground:
    """Return what the ground holds the pile with.

    embedment_ft: what is left in the ground once another unit raised it, the job's own unless
        given. hole: dug about the pile: the friction above its bottom is gone, but for that on
        soil within, and a wide one takes weight off the granular layers below.
    The soil within an open pipe that cores rubs as the ground outside does (API RP 2GEO: unit
    friction within is that without). Of an end not known the soil within is counted here; see
    Job.possible_ends.
    The range: policy's factors times the range of the set-up, about the friction expected; other
    holds stand outside it, as they were entered.
    Raises LayerFault where the layers won't do, or a layer's soil says nothing of vibration.
    """
    toe_ft = job.pile.embedment_ft if embedment_ft is None else embedment_ft
    pieces = [
        _shaft_slice(job, policy, each, hole)
        for each in slices(job.layers, job.water_depth_ft, toe_ft, hole)
    ]
    static = math.fsum(piece.static_lbf for piece in pieces)
    vibrated = (
        math.fsum(piece.vibrated_lbf or 0.0 for piece in pieces) if job.is_vibrating else None
    )
    inside = math.fsum(
        piece.inside_lbf * (1.0 if piece.factor is None else piece.factor) for piece in pieces
    )
    friction = static if vibrated is None else vibrated
    by_kind = {
        kind: math.fsum(each.force_at_lbf(toe_ft) for each in job.holds if each.kind is kind)
        for kind in HoldKind
    }
    holds = tuple((kind, force_lbf) for kind, force_lbf in by_kind.items() if force_lbf)
    held = math.fsum(force_lbf for _, force_lbf in holds)
    set_up = job.set_up
    return Ground(
        slices=tuple(pieces),
        static_lbf=static,
        vibrated_lbf=vibrated,
        resistance_lbf=friction + held,
        low_lbf=policy.low_factor * set_up.low / set_up.expected * friction + held,
        high_lbf=policy.high_factor * set_up.high / set_up.expected * friction + held,
        needed_amplitude_in=_needed_amplitude_in(job, policy, pieces),
        inside_lbf=inside,
        holds_lbf=holds,
    )


def _needed_amplitude_in(job: Job, policy: ExtractionPolicy, pieces: list[ShaftSlice]) -> float:
    if not job.is_vibrating:
        return 0.0
    touched = {piece.layer for piece in pieces}
    return max((response(place, job.layers[place], policy)[1] for place in touched), default=0.0)


def _shaft_slice(job: Job, policy: ExtractionPolicy, piece: Slice, hole: Hole | None) -> ShaftSlice:
    without_in, within_in = job.pile.perimeter_in, job.pile.cored_perimeter_in
    friction_psf = piece.friction_psf
    if hole is not None and piece.bottom_ft <= hole.depth_ft + DEPTH_ROUNDING_FT:
        without_in = 0.0
    elif hole is not None:
        friction_psf = friction_below_hole_psf(job.layers, job.water_depth_ft, piece, hole)
    set_up = job.set_up.expected
    static_lbf = friction_psf * (without_in / 12.0) * piece.thickness_ft * set_up
    # What is dug away outside leaves the soil within as it was.
    inside_lbf = piece.friction_psf * (within_in / 12.0) * piece.thickness_ft * set_up
    static_lbf += inside_lbf
    factor = None
    if job.is_vibrating:
        kept, _ = response(piece.layer, job.layers[piece.layer], policy)
        factor = min(1.0, kept / PILE_SHARES.get(job.pile.kind, 1.0))
    return ShaftSlice(
        layer=piece.layer,
        top_ft=piece.top_ft,
        bottom_ft=piece.bottom_ft,
        stress_psf=piece.stress_psf,
        friction_psf=friction_psf,
        static_lbf=static_lbf,
        factor=factor,
        vibrated_lbf=None if factor is None else factor * static_lbf,
        inside_lbf=inside_lbf,
    )


def response(place: int, layer: Layer, policy: ExtractionPolicy) -> tuple[float, float]:
    """Return how a layer answers vibration: share of its resistance kept, amplitude needed, in.

    What was entered for the layer, else what the policy has of its soil. Raises LayerFault where
    there is neither.
    """
    try:
        soil = policy.soil(layer.soil) if layer.soil else None
    except ValueError as unknown:
        raise LayerFault(place, "soil", f"{unknown}, or enter a factor.") from None
    factor, amplitude_in = layer.vibration_factor, layer.needed_amplitude_in
    if factor is None and soil is not None:
        factor = soil.factor
    if amplitude_in is None and soil is not None:
        amplitude_in = soil.needed_amplitude_in
    if factor is None:
        raise LayerFault(
            place, "soil", "What this soil keeps of its resistance while vibrated is not known: "
            "choose a soil of the table, or enter a factor."
        )  # fmt: skip
    if amplitude_in is None:
        raise LayerFault(
            place, "needed_amplitude_in", "The amplitude that moves a pile in this soil is not "
            "known: choose a soil of the table, or enter the amplitude."
        )  # fmt: skip
    return factor, amplitude_in
