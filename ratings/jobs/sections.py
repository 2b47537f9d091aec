"""Sections of piles: the generic steel shapes every yard knows, and those a yard adds."""

from __future__ import annotations

import math
from collections.abc import Mapping

from django.contrib.auth.models import User

from fleet.people.yards import in_no_yard
from ratings.mechanics.extraction.job import SQUARE_INCHES_PER_SQUARE_FOOT, PileKind
from ratings.models import PileSection

STEEL_LB_FT3 = 490.0
STEEL_LB_FT_PER_IN2 = STEEL_LB_FT3 / SQUARE_INCHES_PER_SQUARE_FOOT

AISC = "AISC shapes database, read from public copies; perimeter is that of the box, 2(d + b)"
PIPE = "Calculated from outside diameter and wall, steel at 490 lb/ft³"
SHEET = (
    "Plain geometry from memory, check before use: steel at 490 lb/ft³, ground on both faces, "
    "each 1.35 times as long as the pair is wide"
)
FACE_PER_WIDTH = 1.35

# Designation, area in², weight lb/ft, depth in, flange width in.
H_SHAPES = (
    ("HP8×36", 10.6, 36.0, 8.02, 8.155),
    ("HP10×42", 12.4, 42.0, 9.70, 10.075),
    ("HP10×57", 16.8, 57.0, 9.99, 10.225),
    ("HP12×53", 15.5, 53.0, 11.78, 12.045),
    ("HP12×63", 18.4, 63.0, 11.94, 12.125),
    ("HP12×74", 21.8, 74.0, 12.13, 12.215),
    ("HP12×84", 24.6, 84.0, 12.28, 12.295),
    ("HP14×73", 21.4, 73.0, 13.61, 14.585),
    ("HP14×89", 26.1, 89.0, 13.83, 14.695),
    ("HP14×102", 30.0, 102.0, 14.01, 14.785),
    ("HP14×117", 34.4, 117.0, 14.21, 14.885),
    ("HP16×88", 25.8, 88.0, 15.3, 15.7),
    ("HP16×101", 29.9, 101.0, 15.5, 15.8),
    ("HP16×121", 35.8, 121.0, 15.8, 15.9),
    ("HP16×141", 41.7, 141.0, 16.0, 16.0),
    ("HP18×135", 39.9, 135.0, 17.5, 17.8),
    ("HP18×157", 46.2, 157.0, 17.7, 17.9),
    ("HP18×181", 53.2, 181.0, 18.0, 18.0),
)
# Outside diameter in, wall in.
PIPES = (
    (10.75, 0.365),
    (12.75, 0.375),
    (12.75, 0.500),
    (14.0, 0.375),
    (14.0, 0.500),
    (16.0, 0.375),
    (16.0, 0.500),
    (18.0, 0.375),
    (18.0, 0.500),
    (20.0, 0.500),
    (24.0, 0.500),
    (24.0, 0.625),
    (30.0, 0.500),
    (30.0, 0.750),
    (36.0, 0.500),
    (36.0, 0.750),
    (42.0, 0.750),
    (48.0, 0.750),
    (48.0, 1.000),
)
# Width of the pair in, weight of the wall lb/ft².
SHEET_PAIRS = ((36, 22), (36, 27), (40, 27), (40, 35), (48, 25), (48, 30), (56, 30))


def _h(
    name: str, area_in2: float, weight_lb_ft: float, depth_in: float, flange_in: float
) -> PileSection:
    return PileSection(
        name=name,
        kind=PileKind.H,
        area_in2=area_in2,
        weight_lb_ft=weight_lb_ft,
        perimeter_in=round(2.0 * (depth_in + flange_in), 2),
        plug_area_in2=round(depth_in * flange_in - area_in2, 1),
        source=AISC,
    )


def _pipe(diameter_in: float, wall_in: float) -> PileSection:
    within_in = diameter_in - 2.0 * wall_in
    area_in2 = math.pi / 4.0 * (diameter_in**2 - within_in**2)
    return PileSection(
        name=f"pipe, {diameter_in:g} in outside, {wall_in:g} in wall",
        kind=PileKind.PIPE,
        area_in2=round(area_in2, 2),
        weight_lb_ft=round(area_in2 * STEEL_LB_FT_PER_IN2, 1),
        perimeter_in=round(math.pi * diameter_in, 2),
        plug_area_in2=round(math.pi / 4.0 * within_in**2, 1),
        source=PIPE,
    )


def _sheet_pair(width_in: int, wall_lb_ft2: int) -> PileSection:
    weight_lb_ft = wall_lb_ft2 * width_in / 12.0
    return PileSection(
        name=f"sheet pair, {width_in} in wide, {wall_lb_ft2} lb/ft² of wall",
        kind=PileKind.SHEET_PAIR,
        area_in2=round(weight_lb_ft / STEEL_LB_FT_PER_IN2, 1),
        weight_lb_ft=round(weight_lb_ft, 1),
        perimeter_in=round(2.0 * FACE_PER_WIDTH * width_in, 1),
        plug_area_in2=0.0,
        source=SHEET,
    )


GENERIC_SECTIONS = (
    *(_h(*shape) for shape in H_SHAPES),
    *(_pipe(*size) for size in PIPES),
    *(_sheet_pair(*size) for size in SHEET_PAIRS),
)

GENERIC_NAMES = {section.name for section in GENERIC_SECTIONS}
# What choosing a section fills in of a job's pile, beside its kind.
FILLED_BY_SECTION = ("area_in2", "weight_lb_ft", "perimeter_in", "plug_area_in2")


@in_no_yard("a shape of piles is of no yard")
def add_section(*, section: PileSection, by: User) -> PileSection:
    """Let jobs choose a section. Raises ValidationError naming the field of what can't be."""
    section.recorded_by = by
    section.full_clean()
    section.save(force_insert=True)
    return section


def sections_by_name() -> dict[str, PileSection]:
    """Return every section, the yard's own first."""
    return {section.name: section for section in (*PileSection.objects.all(), *GENERIC_SECTIONS)}


def find_section(text: str, sections: Mapping[str, PileSection]) -> PileSection | None:
    """Return the section of a name as people type it: capitals, spaces and x for × are all one."""
    if text in sections:
        return sections[text]
    wanted = _typed(text)
    return next((each for name, each in sections.items() if _typed(name) == wanted), None)


def _typed(name: str) -> str:
    return "".join(name.lower().replace("×", "x").split())
