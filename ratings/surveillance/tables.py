from __future__ import annotations

from fleet.tables import ChangesTable, Column
from ratings.models import SurveillancePlan


class PlanTable(ChangesTable):
    """Every plan there was, of one lot or of all."""

    anchor = "plans"
    own_prefix = "plans-"
    caption = "Earlier plans"
    empty_words = "None: no plan was ever made."

    pads_a_year = Column("Pads a year", css="number", empty_values=(), orderable=False)

    def render_pads_a_year(self, record: SurveillancePlan) -> str:
        return "as for all" if record.pads_a_year is None else str(record.pads_a_year)
