"""Commands that do something for one person, by the name they sign in by."""

from __future__ import annotations

from abc import abstractmethod
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.core.management.base import CommandError, CommandParser

from fleet.management.record_command import RecordCommand


class PersonCommand(RecordCommand):
    """Find the person, do it, and say what came of it or why it was refused."""

    @abstractmethod
    def do(self, user: User) -> str:
        """Do it and return what to say. Raises ValidationError where it is refused."""

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("username", help="the name they sign in by, such as kay")

    def handle(self, *args: Any, **options: Any) -> None:
        user = User.objects.filter(username=options["username"]).first()
        if user is None:
            raise CommandError(f"Nobody signs in as “{options['username']}” here.")
        try:
            self.stdout.write(self.do(user))
        except ValidationError as refusal:
            raise CommandError("\n".join(refusal.messages)) from None
