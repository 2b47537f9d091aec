"""The weights and forces of a pull, below the clamp and above."""

from __future__ import annotations

import math

from ratings.mechanics.extraction.job import Job

SQUARE_INCHES_PER_SQUARE_FOOT = 144.0


def plug_weight_lb(job: Job) -> float:
    """Return the weight of the soil carried in a plugged pile, lb.

    Its area times the total weight of the ground down to the toe, water in it included: it
    comes out full, and no deduction is made for water below the level.
    """
    if job.pile.plug_area_in2 == 0.0:
        return 0.0
    toe_ft = job.pile.embedment_ft
    column_psf = math.fsum(
        layer.unit_weight_lb_ft3 * (min(layer.bottom_ft, toe_ft) - layer.top_ft)
        for layer in job.layers
        if layer.top_ft < toe_ft
    )
    return job.pile.plug_area_in2 / SQUARE_INCHES_PER_SQUARE_FOOT * column_psf


def tension_limit_lbf(job: Job, steel_share: float) -> float | None:
    """Return what the pile may be pulled with, lbf; None where nobody gave what it rests on.

    What somebody gave for this pile, else for steel its share of the yield strength over its
    area (0.6·F_y·A by default: allowable stress in tension, AISC).
    """
    pile = job.pile
    if pile.tension_limit_lbf is not None:
        return pile.tension_limit_lbf
    if not pile.kind.is_steel or pile.area_in2 is None or pile.yield_strength_ksi is None:
        return None
    return steel_share * pile.yield_strength_ksi * 1000.0 * pile.area_in2
