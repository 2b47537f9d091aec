"""A job's answer, beside the sums it takes and nothing else.

By one profile, the formulas that the other calls too take 62 in 100 of its time; finding the
candidates, and making records of the 25 shown alone, 19, most of it the other's query too; and 19
making of each check what it asks, gives and comes to, and holding a unit to the conditions beside.
Range and resistances at which a verdict changes are worked out of those shown. The other is given
what the formulas take, judges nothing, and makes no record.
"""

from __future__ import annotations

import math

from fleet.models import ClampFitting, Mounting
from ratings.jobs.answer import answer_for, question_of
from ratings.jobs.candidates import candidates
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.supply import (
    amplitude_on_pile_in,
    capacity_lbf,
    centrifugal_lbf,
    hanging_lb,
    stretch_while_vibrating_in,
)
from ratings.models import ExtractionJob
from tests.benchmarks.measuring import Pairs, Run, benchmark
from tests.benchmarks.yards import yard

JAWS = 2.0
UNIT_COLUMNS = (
    "housing__mark",
    "housing__weight_lb",
    "housing__current_rating__head__hash",
    "housing__current_rating__head__standing",
    "housing__current_rating__head__usable_travel_in",
    "hammer_id",
    "hammer__eccentric_moment_lb_in",
    "hammer__frequency_vpm",
    "hammer__exciter_weight_lb",
)


@benchmark(
    "extraction",
    "a job’s answer over 1,000 units, to fetching the same columns and calling the same formulas",
    goal=1.5,
)
def extraction(run: Run) -> Pairs:
    units = run.size(1_000, 30)
    filled = run.databases.filled(("yard", units), lambda: yard(units))
    with filled.used() as held:
        asked = question_of(ExtractionJob.objects.get(pk=held.job))
        # What the formulas take, made before: ours makes it again each time.
        given = [each.unit for each in candidates(asked.first_day, asked.last_day, asked.distances)]

    def ours() -> None:
        with filled.used():
            if answer_for(asked).units != units:
                raise RuntimeError("not every unit was judged")

    def bare() -> None:
        with filled.used():
            fetched = list(Mounting.objects.current().values_list(*UNIT_COLUMNS))
            clamps = {
                hammer: (weight_lb, force_lbf)
                for hammer, weight_lb, force_lbf in ClampFitting.objects.current().values_list(
                    "hammer", "clamp__weight_lb", "clamp__clamp_force_lbf"
                )
            }
            if len(fetched) != units or len(clamps) != units:
                raise RuntimeError("not every unit was fetched")
            policy, job = ExtractionPolicy(), asked.piles[0].job
            hold = ground(job, policy)
            resistance_lbf, crane = hold.resistance_lbf, job.crane
            allowed_lbf = crane.allowed_lbf(policy.crane_share) or math.nan
            tension_lbf = job.pile.allowed_tension_lbf(policy.steel_share) or math.nan
            carried_lb = job.pile.weight_lb + job.plug_weight_lb
            margins = []
            for unit in given:
                at_pads = hanging_lb(unit, carried_lb)
                stretch_in = stretch_while_vibrating_in(unit, job)
                pads_lbf = math.nan if stretch_in is None else capacity_lbf(unit, stretch_in)
                at_hook = at_pads + (unit.housing_weight_lb or 0.0) + crane.rigging_weight_lb
                shaking_lbf = centrifugal_lbf(unit)
                shaken_lbf = shaking_lbf * carried_lb / at_pads + carried_lb
                grip_lbf = JAWS * policy.jaw_friction * (unit.clamp_force_lbf or math.nan)
                rigging_lbf = (crane.rigging_limit_lbf or math.nan) / crane.leg_factor
                at_crane = at_hook + crane.hook_block_lb
                amplitude_in = amplitude_on_pile_in(unit, job, job.plug_weight_lb)
                margins.append(
                    min(
                        pads_lbf / (at_pads + resistance_lbf),
                        allowed_lbf / (at_crane + resistance_lbf),
                        rigging_lbf / (at_hook + resistance_lbf),
                        shaking_lbf / resistance_lbf,
                        amplitude_in / hold.needed_amplitude_in,
                        (pads_lbf + shaking_lbf) / (at_pads + resistance_lbf),
                        grip_lbf / (shaken_lbf + resistance_lbf),
                        tension_lbf / (shaken_lbf + resistance_lbf),
                        pads_lbf / at_pads,
                        allowed_lbf / at_crane,
                        rigging_lbf / at_hook,
                        grip_lbf / carried_lb,
                    )
                )
            sorted(range(len(margins)), key=margins.__getitem__)

    return run.paired(ours, bare)
