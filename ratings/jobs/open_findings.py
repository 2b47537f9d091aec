"""What was found wrong at a unit and is still to be put right: told beside an answer of it."""

from __future__ import annotations

from datetime import date
from textwrap import shorten
from typing import Any

from fleet.dates import day_words
from fleet.models import Hammer, SuppressorHousing
from fleet.units import hung_on_hammer

# As many as are named; of what was found, so many letters.
MOST_NAMED = 4
MOST_LETTERS = 90


def open_findings_words(hammer: Hammer, housing: SuppressorHousing) -> str:
    """Return what is open at any machine of a unit today that is to be repaired, or worse.

    The gravest first, then what is to be acted on first; "" where there is nothing. In no answer
    on record: a finding is closed or made after it, and neither changes its figures.
    """
    hung = hung_on_hammer(hammer, housing=housing)
    # Findings lie in a higher app: their table is reached from a machine.
    findings: Any = SuppressorHousing._meta.get_field("findings").related_model
    open_now = findings.objects.of_any(hung.machines).to_mend()
    found = list(open_now.select_related(*hung.columns))
    found.sort(key=lambda each: (each.gravity, each.act_by or date.max, each.pk))
    if not found:
        return ""
    named = "; ".join(_named(each) for each in found[:MOST_NAMED])
    more = f"; and {len(found) - MOST_NAMED} more" if len(found) > MOST_NAMED else ""
    return f"Found and still open: {named}{more}."


def _named(finding: Any) -> str:
    due = f", due {day_words(finding.act_by)}" if finding.act_by else ""
    text = shorten(finding.text, MOST_LETTERS, placeholder=" …").rstrip(".")
    return f"{finding.get_severity_display()}, {finding.sort.label} {finding.machine}{due}: {text}"
