from __future__ import annotations

from django.contrib.auth.models import User

from fleet.management.person_command import PersonCommand
from fleet.people.second_step import take_away_by_command
from fleet.roles import who_words


class Command(PersonCommand):
    help = "Let somebody sign in by password alone whose phone, codes and passkeys are lost."

    def do(self, user: User) -> str:
        take_away_by_command(user)
        return f"{who_words(user)} signs in by password alone, until a phone or passkey is set up."
