"""A daily e-mail of what is due or waits for somebody, and the seal of the day below it."""

from __future__ import annotations

import logging

from django.contrib.auth.models import User
from django.core.mail import send_mail
from django.urls import reverse

from fleet.roles import MANAGER
from inspections.waiting.providers import waiting_for_managers
from inspections.waiting.sections import Line, Section, Waiting
from ratings.models import Proposal
from ratings.record.daily import Day

DISCLAIMER = (
    "Figures are measured and rated by the yard. The crane’s chart, rigging limits, the maker’s "
    "instructions, local code and a qualified person come first."
)

# Of a section: a letter is read on a phone.
LINES_TOLD = 50

logger = logging.getLogger(__name__)


class NobodyToTell(Exception):
    """Something is due, and no equipment manager has an address."""


class NotSent(Exception):
    """The mail server took the letter to some addresses, or to none; they are named."""


def send_digest(site: str = "", day: Day | None = None) -> list[str]:
    """Send every equipment manager who has an address what is due; return the addresses.

    site: the address of this site, for links; none are written where it isn't given.
    day: what became of the record today, told below what is due. Its letter goes out though
    nothing is due: a seal that nobody keeps elsewhere holds the site to nothing.
    Raises NobodyToTell where something is due or the record does not hold, and NotSent once every
    address was tried.
    """
    text = digest_text(waiting_for_managers(), site)
    managers = (
        User.objects.filter(groups__name=MANAGER, is_active=True)
        .exclude(email="")
        .order_by("email", "pk")
        .distinct()
    )
    # What somebody proposed does not wait for them.
    proposers = set(Proposal.objects.open().values_list("recorded_by", flat=True))
    letters: dict[str, str] = {}
    for each in managers:
        # Those who share an address are told all: what one proposed waits for the other.
        is_alone = each.pk in proposers and each.email not in letters
        letters[each.email] = digest_text(waiting_for_managers(each), site) if is_alone else text
    if day is not None:
        below = f"\n{day.words}"
        letters = {
            address: f"{letter}{below}" if letter or day.faults or day.seal else ""
            for address, letter in letters.items()
        }
    is_pressing = bool(text) or bool(day and day.faults)
    if not letters and is_pressing:
        logger.error("digest not sent: no equipment manager has an e-mail address")
        raise NobodyToTell
    if not letters and day is not None:
        logger.warning("the seal of the day went to nobody: no equipment manager has an address")
    subject = f"Line-Pull Ledger: {'what is due' if is_pressing else 'the seal of the day'}"
    told, unsent = [address for address, letter in letters.items() if letter], []
    for address in told:
        try:
            send_mail(subject, letters[address], None, [address])
        except OSError as trouble:
            logger.error("digest not sent to %s: %s: %s", address, type(trouble).__name__, trouble)
            unsent.append(address)
    if unsent:
        raise NotSent(", ".join(unsent))
    return told


def digest_text(found: Waiting, site: str = "") -> str:
    """Return the text of the day, "" where nothing waits: what the page of the same name shows.

    site: the address of this site, for links to what settles each line.
    """
    told = [_section(each, site) for each in found.sections]
    if not told:
        return ""
    end = [f"All of it: {site}{reverse('waiting')}"] if site else []
    return "\n\n".join([*told, *end, DISCLAIMER]) + "\n"


def _section(section: Section, site: str) -> str:
    lines = [_line(each, site) for each in section.lines(many=LINES_TOLD)]
    if section.count > LINES_TOLD:
        where = f": {site}{reverse('waiting-section', args=[section.key])}" if site else ""
        lines.append(f"- and {section.count - LINES_TOLD} more{where}")
    return "\n".join([section.title, *lines])


def _line(line: Line, site: str) -> str:
    """One line, with the address where it is settled below it."""
    told = f"- {line.what}: {line.words}"
    return f"{told}\n  {line.action}: {site}{line.form}" if site and line.form else told
