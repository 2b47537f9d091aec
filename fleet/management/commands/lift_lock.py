from __future__ import annotations

from django.contrib.auth.models import User

from fleet.management.person_command import PersonCommand
from fleet.people.recording import lift_lock_by_command
from fleet.roles import who_words


class Command(PersonCommand):
    help = "Let somebody who typed wrong passwords too often sign in again at once."

    def do(self, user: User) -> str:
        lift_lock_by_command(user)
        return f"{who_words(user)} may try to sign in again at once."
