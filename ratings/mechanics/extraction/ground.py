"""What the ground holds a job's pile with, at rest and while it is vibrated."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ratings.mechanics.extraction.job import Job, PileKind
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.soil import Layer, LayerFault, slices

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
    pieces, amplitudes_in = [], [0.0]
    for each in slices(job.layers, job.water_depth_ft, toe_ft):
        perimeter_ft = job.pile.perimeter_in / 12.0
        static_lbf = each.friction_psf * perimeter_ft * each.thickness_ft * job.set_up.expected
        factor = None
        if job.is_vibrating:
            kept, amplitude_in = response(each.layer, job.layers[each.layer], policy)
            factor = min(1.0, kept / PILE_SHARES.get(job.pile.kind, 1.0))
            amplitudes_in.append(amplitude_in)
        pieces.append(
            ShaftSlice(
                layer=each.layer,
                top_ft=each.top_ft,
                bottom_ft=each.bottom_ft,
                stress_psf=each.stress_psf,
                friction_psf=each.friction_psf,
                static_lbf=static_lbf,
                factor=factor,
                vibrated_lbf=None if factor is None else factor * static_lbf,
            )
        )
    static = math.fsum(piece.static_lbf for piece in pieces)
    vibrated = (
        math.fsum(piece.vibrated_lbf or 0.0 for piece in pieces) if job.is_vibrating else None
    )
    resistance = static if vibrated is None else vibrated
    set_up = job.set_up
    return Ground(
        slices=tuple(pieces),
        static_lbf=static,
        vibrated_lbf=vibrated,
        resistance_lbf=resistance,
        low_lbf=policy.low_factor * set_up.low / set_up.expected * resistance,
        high_lbf=policy.high_factor * set_up.high / set_up.expected * resistance,
        needed_amplitude_in=max(amplitudes_in),
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
