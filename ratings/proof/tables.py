from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.models import SuppressorHousing
from fleet.quantities import share_words
from fleet.tables import Column, DayColumn, PersonColumn, RecordsTable
from ratings.mechanics.proof_pull import e_n_words
from ratings.models import ProofPull


class ProofPullTable(RecordsTable):
    """The proof pulls of one unit, the last first."""

    caption = "Proof pulls"
    anchor = "proof-pulls"
    empty_words = "None: what this unit pulls is calculated from its pads and was never pulled."

    pk = Column("Pull")
    pulled_at = DayColumn("Pulled")
    ratio = Column("Of expected", css="number")
    e_n = Column("E_n", css="number")
    found = Column("Found", empty_values=(), orderable=False)
    by = PersonColumn("By")

    def render_pk(self, record: ProofPull) -> SafeString:
        url = reverse("proof-pull", args=[record.pk])
        return format_html('<a href="{}">Proof pull {}</a>', url, record.pk)

    def render_ratio(self, value: float) -> str:
        return share_words(value)

    def render_e_n(self, value: float) -> str:
        return e_n_words(value)

    def render_found(self, record: ProofPull) -> SafeString:
        words = str(record.verdict)
        remark = fate_words(record)
        if not remark:
            return format_html("{}", words)
        return format_html('{}<br><span class="small"><strong>{}</strong></span>', words, remark)


def fate_words(pull: ProofPull) -> str:
    """Return what took a pull out of account, "" where nothing did.

    The pull comes from `proof_pulls_of`.
    """
    if hasattr(pull, "corrected_by"):
        return "corrected since"
    if hasattr(pull, "decision"):
        return "set aside"
    return "" if pull.is_for_rating else "decides nothing: indicator out of calibration"


def proof_pulls_of(housing: SuppressorHousing) -> QuerySet[Any]:
    """Return a unit's proof pulls with all that a row or a line of them says."""
    return housing.proof_pulls.select_related(
        "recorded_by", "decision__recorded_by", "corrected_by"
    )
