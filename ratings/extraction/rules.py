"""The extraction rules in force, as the mechanics take them."""

from __future__ import annotations

from ratings.mechanics.extraction.policy import ExtractionPolicy, SoilResponse
from ratings.models import ExtractionRules


def rules_in_force() -> ExtractionPolicy:
    """Return the rules recorded last; the defaults where there are none."""
    row = ExtractionRules.objects.first()
    return ExtractionPolicy() if row is None else rules_of(row)


def rules_of(row: ExtractionRules) -> ExtractionPolicy:
    """Return stored rules as the mechanics take them."""
    return ExtractionPolicy(
        care_margin=row.care_margin,
        low_factor=row.low_factor,
        high_factor=row.high_factor,
        jaw_friction=row.jaw_friction,
        steel_share=row.steel_share,
        inspection_days=row.inspection_days,
        below_listing=row.below_listing,
        soils=tuple(SoilResponse(**soil) for soil in row.soils),
    )
