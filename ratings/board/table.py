from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import django_tables2 as tables
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.dates import day_count_words, day_words
from fleet.figures import capacity_words, pull_words, share_words
from fleet.models import SuppressorHousing
from fleet.quantities import Quantity
from ratings.mechanics.standing import Standing
from ratings.models import LedgerEntry
from ratings.pictures import small_rule

NONE = "–"
# As WORST_FIRST_ORDER, in names alone, so that the table can turn it round.
WORST_FIRST_COLUMNS = ("in_service", "rank", "share", "mark")


class BoardTable(tables.Table):  # type: ignore[misc]  # the library carries no types
    """A row for each unit. Sorts in the database, writes in the reader's units."""

    mark = tables.Column("Unit")
    standing = tables.Column("Standing", accessor="rank", order_by=WORST_FIRST_COLUMNS)
    rule = tables.Column("Pull rule", empty_values=(), orderable=False)
    pull_lbf = tables.Column("Line pull")
    working_capacity_lbf = tables.Column("Working capacity")
    listed_lbf = tables.Column("Listed")
    share = tables.Column("Of listed")
    sound_pads = tables.Column("Sound pads")
    usable_travel_in = tables.Column("Usable travel")
    last_inspection = tables.Column("Last inspection")

    class Meta:
        caption = "Units, worst first"
        empty_text = "No unit answers to this: clear the filters."

    def __init__(
        self,
        *args: Any,
        system: str,
        holds: Mapping[int, str] | None = None,
        findings: Mapping[int, int] | None = None,
        **kwargs: Any,
    ) -> None:
        """By a unit's key: holds, what holds it, in words; findings, how many are open."""
        self.system, self.holds, self.findings = system, holds or {}, findings or {}
        super().__init__(*args, **kwargs)

    def render_mark(self, record: SuppressorHousing) -> SafeString:
        hammer, hold = getattr(record, "hammer_mark", None), self.holds.get(record.pk)
        return format_html(
            '<a href="{}"><strong>{}</strong></a><br><span class="faint small">{} · {}</span>{}',
            reverse("unit", args=[record.pk]),
            record.mark,
            f"on {hammer}" if hammer else "off the hammer",
            record.yard.name,
            format_html('<br><span class="small">held by {}</span>', hold) if hold else "",
        )

    def render_standing(self, record: SuppressorHousing) -> str:
        entry = _head(record)
        return render_to_string(
            "ratings/board_standing.html",
            {
                "standing": entry.judged if entry else Standing.UNRATED,
                "is_out_of_balance": entry is not None and entry.results["is_out_of_balance"],
                "stale_lots": entry.results["stale_lots"] if entry else [],
                "unrated_pads": entry.results["unrated_pads"] if entry else [],
                "missing": entry.results["missing"] if entry else ["a pad count"],
                "is_beyond_design": record.is_taped_beyond_design,
                "bumper": record.bumper,
                "findings": self.findings.get(record.pk, 0),
                "out_since": getattr(record, "out_since", None),
                "out_reason": getattr(record, "out_reason", None),
            },
        )

    def render_rule(self, record: SuppressorHousing) -> SafeString:
        return small_rule(_head(record), record.mark, self.system)

    def render_pull_lbf(self, record: SuppressorHousing, value: float) -> str:
        return pull_words(value, self.system, _uncertainty(record))

    def render_working_capacity_lbf(self, record: SuppressorHousing, value: float) -> str:
        return capacity_words(value, self.system, _uncertainty(record))

    def render_listed_lbf(self, value: float) -> str:
        return pull_words(value, self.system)

    def render_share(self, value: float) -> str:
        return share_words(value)

    def render_sound_pads(self, record: SuppressorHousing, value: int) -> str:
        entry = _head(record)
        if entry is None or "a pad count" in entry.results["missing"]:
            return NONE
        return f"{value} of {entry.positions}"

    def render_usable_travel_in(self, record: SuppressorHousing, value: float) -> SafeString:
        entry = _head(record)
        return format_html(
            '{}<br><span class="faint small">limited by {}</span>',
            Quantity.LENGTH.words(value, self.system),
            entry.results["limited_by"] if entry else NONE,
        )

    def render_last_inspection(self, value: datetime) -> SafeString:
        days = (timezone.localdate() - timezone.localtime(value).date()).days
        ago = "today" if days < 1 else f"{day_count_words(days)} ago"
        return format_html(
            '<span class="nowrap">{}</span><br><span class="faint small">{}</span>',
            day_words(value),
            ago,
        )


def _head(record: SuppressorHousing) -> LedgerEntry | None:
    rating = getattr(record, "current_rating", None)
    return rating.head if rating else None


def _uncertainty(record: SuppressorHousing) -> float | None:
    entry = _head(record)
    return entry.results["standard_uncertainty_lbf"] if entry else None
