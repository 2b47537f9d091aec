"""Letters to whoever committed a unit: its commitment fell, holds again, or a condition is due.

One letter for each fall, not one each day: what was told is kept, until it holds again.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from django.contrib.auth.models import User
from django.core.mail import send_mail
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from fleet.roles import DISPATCHER
from ratings.jobs.conditions import ConditionNow
from ratings.jobs.validity import CommitmentNow, commitments_now
from ratings.models import Commitment, CommitmentLetter

logger = logging.getLogger(__name__)

Said = CommitmentLetter.Said


@dataclass(frozen=True)
class News:
    """What is to be told of one commitment. due: conditions that come due."""

    now: CommitmentNow
    said: str = ""
    due: tuple[ConditionNow, ...] = field(default=())

    @property
    def text(self) -> str:
        """The lines of a letter about it."""
        made = self.now.commitment
        lines = [f"{made.housing} for {made.job.site}, {self.now.days}:"]
        if self.said == Said.FELL:
            lines.append(f"{self.now.lead} {' '.join(each.words for each in self.now.reasons)}")
        elif self.said == Said.HOLDS:
            lines.append("It holds again: its sheet may be printed anew.")
        lines += [f"To be done: {each.words}." for each in self.due]
        return "\n".join(lines)


def send_commitment_letters(site: str = "") -> list[str]:
    """Tell those who committed units what is new of them; return the addresses written to.

    Whoever committed has no address, or is gone: then every dispatcher is told who has one.
    site: the address of this site, for links. What could not be sent is told the next time.
    """
    sent = []
    for news in commitment_news():
        addresses = _addresses(news.now)
        if not addresses:
            logger.error(
                "letter about commitment %d not sent: nobody who plans has an e-mail address",
                news.now.commitment.pk,
            )
            continue
        if _send(news, addresses, site):
            sent += addresses
    return sent


def commitment_news() -> Iterator[News]:
    """Yield what is new of each commitment that holds a unit today or will."""
    live = Commitment.objects.not_over(timezone.localdate()).prefetch_related("letters")
    for now in commitments_now(live):
        letters = list(now.commitment.letters.all())
        told_due = {each.condition_id for each in letters if each.said == Said.DUE}
        due = tuple(
            each for each in now.conditions if each.is_soon and each.condition.pk not in told_due
        )
        said = _said(now, [each for each in letters if each.said != Said.DUE])
        if said or due:
            yield News(now, said, due)


def _said(now: CommitmentNow, letters: Sequence[CommitmentLetter]) -> str:
    """Return what is new since the last letters, "" where nothing is."""
    told: set[str] = set()
    for letter in letters:
        told = set() if letter.said == Said.HOLDS else told | set(letter.reasons)
    if now.is_void:
        return Said.FELL if {str(key) for key in now.keys} - told else ""
    return Said.HOLDS if told else ""


def _send(news: News, addresses: Sequence[str], site: str) -> bool:
    """Send one letter and keep that it was sent; both or neither."""
    made = news.now.commitment
    path = reverse("commitment", args=[made.pk])
    text = "\n\n".join([news.text, *([f"{site}{path}"] if site else [])]) + "\n"
    subject = f"Line-Pull Ledger: {made.housing} for {made.job.site}"
    try:
        with transaction.atomic():
            _keep(news, addresses[0])
            send_mail(" ".join(subject.split()), text, None, list(addresses))
    except OSError as trouble:
        logger.error("letter not sent to %s: %s", ", ".join(addresses), type(trouble).__name__)
        return False
    return True


def _keep(news: News, address: str) -> None:
    made = news.now.commitment
    if news.said:
        reasons = sorted(str(key) for key in news.now.keys)
        CommitmentLetter.objects.create(
            commitment=made, said=news.said, reasons=reasons, address=address
        )
    for each in news.due:
        CommitmentLetter.objects.create(
            commitment=made, said=Said.DUE, condition=each.condition, address=address
        )


def _addresses(now: CommitmentNow) -> list[str]:
    who = now.answer.recorded_by
    if who.email and who.is_active:
        return [who.email]
    planners = User.objects.filter(groups__name=DISPATCHER, is_active=True).exclude(email="")
    return list(planners.order_by("email").values_list("email", flat=True).distinct())
