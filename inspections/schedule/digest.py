"""A daily e-mail of what is due or waits for somebody; silent when nothing does."""

from __future__ import annotations

import logging
from collections.abc import Iterable

from django.contrib.auth.models import User
from django.core.mail import send_mail
from django.urls import reverse

from fleet.dates import day_words
from fleet.roles import MANAGER, who_words
from inspections.models import Finding, Severity
from inspections.schedule.due import Due, UnitDue, due_of_fleet, open_findings
from ratings.models import LotRating
from ratings.surveillance.draws import DrawsDue, draws_due
from ratings.surveillance.words import softenings

DISCLAIMER = (
    "Figures are measured and rated by the yard. The crane’s chart, rigging limits, the maker’s "
    "instructions, local code and a qualified person come first."
)


logger = logging.getLogger(__name__)


class NobodyToTell(Exception):
    """Something is due, and no equipment manager has an address."""


class NotSent(Exception):
    """The mail server took the letter to some addresses, or to none; they are named."""


def send_digest(site: str = "") -> list[str]:
    """Send every equipment manager who has an address what is due; return the addresses.

    site: the address of this site, for links; none are written where it isn't given.
    Raises NobodyToTell, and NotSent once every address was tried.
    """
    text = digest_text(due_of_fleet(), site)
    addresses = list(
        User.objects.filter(groups__name=MANAGER, is_active=True)
        .exclude(email="")
        .order_by("email")
        .values_list("email", flat=True)
        .distinct()
    )
    if not text:
        return []
    if not addresses:
        logger.error("digest not sent: no equipment manager has an e-mail address")
        raise NobodyToTell
    unsent = []
    for address in addresses:
        try:
            send_mail("Line-Pull Ledger: what is due", text, None, [address])
        except OSError as trouble:
            logger.error("digest not sent to %s: %s: %s", address, type(trouble).__name__, trouble)
            unsent.append(address)
    if unsent:
        raise NotSent(", ".join(unsent))
    return addresses


def digest_text(units: Iterable[UnitDue], site: str = "") -> str:
    """Return the text of the day, "" where nothing is due, softens or waits."""
    listed = list(units)
    over = [f"- {_line(unit, kind)}" for unit in listed for kind in unit.overdue]
    soon = [f"- {_line(unit, kind)}" for unit in listed for kind in unit.soon]
    findings = [
        f"- {_finding(finding)}"
        for finding in open_findings()
        if finding.severity != Severity.MONITOR
    ]
    drafts = LotRating.objects.waiting()
    soften = [f"- {each}" for each in softenings() if not each.is_taken_up]
    draws = [each for each in draws_due() if each.is_overdue or each.is_soon]
    parts = [
        _section("Overdue", over),
        _section("Due soon", soon),
        _section("Findings to be repaired", findings),
        _section("Lots that soften", soften),
        _section("Pads to draw from service", [f"- {_draw(each)}" for each in draws]),
        _section("Ratings to approve or reject", [f"- {_draft(each, site)}" for each in drafts]),
    ]
    told = [part for part in parts if part]
    if not told:
        return ""
    end = [f"All of it: {site}/due/"] if site else []
    return "\n\n".join([*told, *end, DISCLAIMER]) + "\n"


def _section(title: str, lines: list[str]) -> str:
    return "\n".join([title, *lines]) if lines else ""


def _line(unit: UnitDue, kind: Due) -> str:
    row, words = kind.row, kind.words
    where = f" on {unit.hammer.mark}" if unit.hammer else ""
    return f"{unit.housing.mark}{where} ({unit.housing.yard}): {row.kind}, {words}"


def _finding(finding: Finding) -> str:
    day = day_words(finding.act_by) if finding.act_by else "no day set"
    return f"{finding.housing}: {finding.text}, {finding.who_acts} by {day}"


def _draw(draws: DrawsDue) -> str:
    return f"lot {draws.lot}: {'overdue, ' if draws.is_overdue else ''}{draws.words}"


def _draft(draft: LotRating, site: str) -> str:
    """One line, with the address where it is approved."""
    where = f": {site}{reverse('lot-rating', args=[draft.pk])}" if site else ""
    return (
        f"rating {draft.pk} of lot {draft.lot}, drafted {day_words(draft.recorded_at)} by "
        f"{who_words(draft.recorded_by)}, waits for a second person{where}"
    )
