"""What the figure of the ground leaves out of a job, for the page and the sheet to say."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ratings.mechanics.extraction.holds import HoldKind, OtherHold
from ratings.mechanics.extraction.job import Job, Pile, PileEnd, PileKind, SetUp
from ratings.mechanics.soil import Layer, LayerKind

# Undrained, a toe drawn out of clay is held as one pressed in is: 9 times the strength, Skempton
# 1951 for deep footings, turned about as is done for suction caissons. From memory.
SUCTION_FACTOR = 9.0


def left_out(job: Job) -> tuple[str, ...]:
    """Return what holds or may hold the pile and is in no figure, one sentence each.

    Only what is so of this job; one that has a figure for all still is told of what no figure is
    ever made of.
    """
    return tuple(_sentences(job))


def suggested_toe_suction(job: Job) -> OtherHold | None:
    """Return the most that suction may hold at the toe, None where the toe is in no clay.

    9 × undrained strength × area of the toe. Of the whole area within the perimeter for a closed
    or plugged pipe, or one not known; of its own material else. None too where the area or the
    strength isn't known.
    """
    layer, area_in2 = _layer_of_toe(job), _toe_area_in2(job.pile)
    if layer is None or layer.undrained_strength_psf is None or area_in2 is None:
        return None
    force_lbf = SUCTION_FACTOR * layer.undrained_strength_psf * area_in2 / 144.0
    return OtherHold(
        HoldKind.TOE_SUCTION,
        force_lbf=force_lbf,
        note=f"{SUCTION_FACTOR:g} × undrained strength of {layer.undrained_strength_psf:,.0f} psf "
        f"× {area_in2:,.1f} in² of toe: the most it can be, after Skempton 1951, from memory",
    )


def has_closed_toe(pile: Pile) -> bool:
    """Return whether clay can suck at the whole of a pile's toe, and not at its steel alone."""
    if pile.kind is PileKind.PIPE:
        return pile.end in (PileEnd.CLOSED, PileEnd.OPEN_PLUGGED)
    return pile.kind in (PileKind.TIMBER, PileKind.CONCRETE)


def _sentences(job: Job) -> Iterator[str]:
    kinds = {each.kind for each in job.holds if each.is_known}
    for each in job.holds:
        if not each.is_known:
            yield f"{str(each.kind).capitalize()}, noted without a figure: {each.note}."
            kinds.add(each.kind)
    if HoldKind.TOE_SUCTION not in kinds and _layer_of_toe(job) is not None:
        yield (
            "Suction under the toe, which stands in clay: a steady pull lets it go, a quick one "
            "may meet 9 times the clay’s strength over the toe. Enter it as another hold to count "
            "it."
        )
    if HoldKind.INTERLOCK not in kinds and job.pile.kind is PileKind.SHEET_PAIR:
        yield "Friction in the interlocks with the sheets beside it, until entered as another hold."
    if job.pile.kind is PileKind.H and not job.pile.plug_area_in2:
        yield "Soil caught between the flanges: its weight comes up with the pile."
    if job.pile.kind is PileKind.PIPE and job.pile.end is None:
        yield "Soil within the pipe, but for the plug entered: its end was not asked."
    if job.set_up == SetUp():
        yield "Growth of the friction since the pile was driven: the set-up is 1."
    others = {
        HoldKind.CONCRETE: "concrete or grout against the pile",
        HoldKind.DAMAGE: "a pile bent or damaged",
        HoldKind.FROST: "frozen ground",
    }
    missing = [words for kind, words in others.items() if kind not in kinds]
    yield _capitalized(", ".join([*missing, "what lies in its way in the ground"])) + "."
    yield "A pull out of plumb, which binds the pile and loads the pads on one side."


def _capitalized(words: str) -> str:
    return words[0].upper() + words[1:]


def _layer_of_toe(job: Job) -> Layer | None:
    """Return the cohesive layer the toe stands in or comes to, None where it is another."""
    toe_ft = job.pile.embedment_ft
    at_toe = [each for each in job.layers if each.top_ft <= toe_ft <= each.bottom_ft]
    return next((each for each in at_toe if each.kind is LayerKind.COHESIVE), None)


def _toe_area_in2(pile: Pile) -> float | None:
    if pile.kind is PileKind.PIPE and pile.end in (
        PileEnd.CLOSED,
        PileEnd.OPEN_PLUGGED,
        PileEnd.OPEN_UNKNOWN,
    ):
        return pile.perimeter_in**2 / (4.0 * math.pi)
    return pile.area_in2
