from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.contrib.auth.models import User
from django.core.management.base import BaseCommand, CommandError

from ratings.ledger.answers import faulty_answers
from ratings.ledger.posting import post_stale_rates
from ratings.ledger.verify import BrokenLedger, verify_all
from ratings.models import JobAnswer


class Command(BaseCommand):
    help = (
        "verify: recompute every hash, every result from its inputs, and every answer. "
        "refresh: post an entry for each unit where a rate has gone stale."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("action", choices=["verify", "refresh"])
        parser.add_argument("--as", dest="username", help="who signs what refresh posts")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["action"] == "verify":
            self._verify()
        else:
            self._refresh(options["username"])

    def _verify(self) -> None:
        try:
            verified = verify_all()
        except BrokenLedger as broken:
            raise CommandError(f"The ledger does not hold: {broken}.", returncode=1) from broken
        self.stdout.write(
            f"{verified.entries} entries of {verified.housings} housings hold: "
            "every hash and every result."
        )
        for answer, fault in faulty_answers():
            raise CommandError(f"{answer} does not hold: {fault}.", returncode=1)
        answers = JobAnswer.objects.count()
        self.stdout.write(f"{answers} answers given to jobs hold: every hash and every verdict.")

    def _refresh(self, username: str | None) -> None:
        signer = User.objects.filter(username=username).first()
        if signer is None:
            raise CommandError(
                f"--as is {username!r}: give the username of the person who answers for it."
            )
        posted = post_stale_rates(signer)
        if not posted:
            self.stdout.write("Nothing to post: no figure is other than the ledger has it.")
            return
        self.stdout.write(f"{len(posted)} ledger entr{'y' if len(posted) == 1 else 'ies'} posted.")
