"""What the ground holds a job's pile with, at rest and while it is vibrated."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ratings.mechanics.extraction.job import Job, PileKind
from ratings.mechanics.extraction.policy import ExtractionPolicy, SoilResponse
from ratings.mechanics.soil import Layer, LayerFault, Slice, slices

# What vibration does to the ground beside a pile, as a share of what it does beside steel: concrete
# shakes it less (US Army EI 02G001, 1997, page 2-9).
PILE_SHARES = {PileKind.CONCRETE: 0.8}


@dataclass(frozen=True)
class ShaftSlice:
    """A piece of the shaft: what holds it, step by step so that it can be retraced by hand.

    static_lbf: friction × perimeter × thickness × set-up. factor: the share kept while vibrated,
        divided by the pile’s own share. vibrated_lbf: factor × static.
    """

    layer: int
    top_ft: float
    bottom_ft: float
    stress_psf: float
    friction_psf: float
    static_lbf: float
    factor: float | None
    vibrated_lbf: float | None


@dataclass(frozen=True)
class Ground:
    """The ground's whole hold on the shaft, lbf.

    static_lbf, vibrated_lbf: expected, at rest and while vibrating; the latter None in a pull
        by the crane alone.
    resistance_lbf: the one of them this pull must overcome; low_lbf, high_lbf: its range.
    needed_amplitude_in: the largest that a layer along the shaft needs, 0 where none does.
    """

    slices: tuple[ShaftSlice, ...]
    static_lbf: float
    vibrated_lbf: float | None
    resistance_lbf: float
    low_lbf: float
    high_lbf: float
    needed_amplitude_in: float


def ground(job: Job, policy: ExtractionPolicy, embedment_ft: float | None = None) -> Ground:
    """Return what the ground holds the pile with.

    embedment_ft: what is left in the ground, the job's own unless given.
    The range: policy's factors times the range of the set-up, about what is expected.
    Raises LayerFault where the layers won't do, or a layer's soil says nothing of vibration.
    """
    toe_ft = job.pile.embedment_ft if embedment_ft is None else embedment_ft
    pieces = tuple(
        _shaft_slice(job, policy, each) for each in slices(job.layers, job.water_depth_ft, toe_ft)
    )
    static = math.fsum(piece.static_lbf for piece in pieces)
    vibrated = (
        math.fsum(piece.vibrated_lbf or 0.0 for piece in pieces) if job.is_vibrating else None
    )
    resistance = static if vibrated is None else vibrated
    low, high = range_factors(job, policy)
    return Ground(
        slices=pieces,
        static_lbf=static,
        vibrated_lbf=vibrated,
        resistance_lbf=resistance,
        low_lbf=low * resistance,
        high_lbf=high * resistance,
        needed_amplitude_in=_needed_amplitude_in(job, policy, pieces),
    )


def range_factors(job: Job, policy: ExtractionPolicy) -> tuple[float, float]:
    """Return the ends of the ground's range as shares of what is expected."""
    set_up = job.set_up
    return (
        policy.low_factor * set_up.low / set_up.expected,
        policy.high_factor * set_up.high / set_up.expected,
    )


def response(place: int, layer: Layer, policy: ExtractionPolicy) -> tuple[float, float]:
    """Return how a layer answers vibration: share of its resistance kept, amplitude needed, in.

    What was entered for the layer, else what the policy has of its soil. Raises LayerFault where
    there is neither.
    """
    soil = _soil(place, layer, policy)
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


def _soil(place: int, layer: Layer, policy: ExtractionPolicy) -> SoilResponse | None:
    if not layer.soil:
        return None
    try:
        return policy.soil(layer.soil)
    except ValueError as unknown:
        raise LayerFault(place, "soil", f"{unknown}, or enter a factor.") from None


def _shaft_slice(job: Job, policy: ExtractionPolicy, piece: Slice) -> ShaftSlice:
    perimeter_ft = job.pile.perimeter_in / 12.0
    static = piece.friction_psf * perimeter_ft * piece.thickness_ft * job.set_up.expected
    factor = None
    if job.is_vibrating:
        kept, _amplitude_in = response(piece.layer, job.layers[piece.layer], policy)
        factor = min(1.0, kept / PILE_SHARES.get(job.pile.kind, 1.0))
    return ShaftSlice(
        layer=piece.layer,
        top_ft=piece.top_ft,
        bottom_ft=piece.bottom_ft,
        stress_psf=piece.stress_psf,
        friction_psf=piece.friction_psf,
        static_lbf=static,
        factor=factor,
        vibrated_lbf=None if factor is None else factor * static,
    )


def _needed_amplitude_in(
    job: Job, policy: ExtractionPolicy, pieces: tuple[ShaftSlice, ...]
) -> float:
    if not job.is_vibrating:
        return 0.0
    touched = {piece.layer for piece in pieces}
    return max((response(place, job.layers[place], policy)[1] for place in touched), default=0.0)
