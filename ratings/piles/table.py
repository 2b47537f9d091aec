"""Every section a job can choose: the generic shapes and the yard's own."""

from __future__ import annotations

from ratings.models import PileSection
from ratings.piles.generic import GENERIC_SECTIONS
from ratings.piles.section import Section

GENERIC_NAMES = {section.name for section in GENERIC_SECTIONS}


def yard_sections() -> list[Section]:
    """Return the sections the yard added."""
    return [
        Section(
            name=row.name,
            kind=row.kind,
            area_in2=row.area_in2,
            weight_lb_ft=row.weight_lb_ft,
            perimeter_in=row.perimeter_in,
            plug_area_in2=row.plug_area_in2,
            source=row.source,
        )
        for row in PileSection.objects.all()
    ]


def sections_by_name() -> dict[str, Section]:
    """Return every section, the yard's own first."""
    return {section.name: section for section in (*yard_sections(), *GENERIC_SECTIONS)}
