from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from fleet.people.second_step import take_away_by_command
from fleet.roles import who_words


class Command(BaseCommand):
    help = "Let somebody whose phone and recovery codes are lost sign in by password alone."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("username", help="the name they sign in by, such as kay")

    def handle(self, *args: Any, **options: Any) -> None:
        user = User.objects.filter(username=options["username"]).first()
        if user is None:
            raise CommandError(f"Nobody signs in as “{options['username']}” here.")
        try:
            take_away_by_command(user)
        except ValidationError as refusal:
            raise CommandError("\n".join(refusal.messages)) from None
        self.stdout.write(f"{who_words(user)} signs in by password alone, until a phone is set up.")
