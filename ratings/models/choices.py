"""The mechanics' enumerations as choices of a field: what is stored, and what people read."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Any

from ratings.mechanics import bench, gauge, lot_agreement, shortcuts, soil, unit_rating
from ratings.mechanics.extraction import holds, job, rules


def choices_of(kind: type[StrEnum], labels: Mapping[Any, str] | None = None) -> dict[str, str]:
    """Return each value of an enumeration and its label, the value itself where none is given."""
    return {each.value: (labels or {}).get(each, each.value) for each in kind}


BRANCHES = choices_of(bench.Branch)
CYLINDER_ENDS = choices_of(
    bench.CylinderEnd,
    {
        bench.CylinderEnd.ROD: "rod end (the cylinder pulls)",
        bench.CylinderEnd.BLIND: "blind end (the cylinder pushes)",
    },
)
# What a form offers before a person has said which: the wrong end halves or doubles a rate.
CYLINDER_END_CHOICES = (("", "choose the end"), *CYLINDER_ENDS.items())
NO_CYLINDER_END = {"required": "This is blank: choose the end that the pressure acts on."}
GAUGE_GRADES = choices_of(gauge.Grade)
STALE_RATES = choices_of(
    unit_rating.StaleRates,
    {
        unit_rating.StaleRates.KEEP: "keeps its figure, flagged",
        unit_rating.StaleRates.DROP: "counts for nothing until tested again",
    },
)
SHORTCUTS = choices_of(shortcuts.Shortcut)
COUNTS = choices_of(
    lot_agreement.Counts,
    {
        lot_agreement.Counts.ALL: "all of them, averaged",
        lot_agreement.Counts.NEWEST: "the newest alone",
        lot_agreement.Counts.REST: "all but the newest",
    },
)
BELOW_LISTING = choices_of(
    rules.BelowListing,
    {
        rules.BelowListing.REFUSE: "does not go out",
        rules.BelowListing.CARE: "goes out with care, where all else holds",
    },
)
CRITERIA = choices_of(
    rules.Criterion,
    {
        rules.Criterion.EACH_ALONE: "line pull and centrifugal force each alone (stricter)",
        rules.Criterion.ADDED: "vibration and line pull added together (US Army EI 02G001)",
    },
)
HOLD_KINDS = choices_of(holds.HoldKind)
PILE_KINDS = choices_of(job.PileKind, {job.PileKind.H: "H-pile"})
PILE_ENDS = choices_of(
    job.PileEnd,
    {
        job.PileEnd.CLOSED: "closed",
        job.PileEnd.OPEN_CORED: "open, the soil stays in the ground (cored)",
        job.PileEnd.OPEN_PLUGGED: "open, the soil comes up within (plugged)",
        job.PileEnd.OPEN_UNKNOWN: "open, which of the two is not known",
    },
)
PULL_METHODS = choices_of(job.PullMethod)
LAYER_KINDS = choices_of(
    soil.LayerKind,
    {
        soil.LayerKind.COHESIVE: "cohesive (clay, silt)",
        soil.LayerKind.GRANULAR: "granular (sand, gravel)",
        soil.LayerKind.OTHER: "other (peat, fill, rock): friction entered",
    },
)
DENSITIES = choices_of(soil.Density)
