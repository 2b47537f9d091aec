"""Words for people, as papers have them."""

from __future__ import annotations

from django.contrib.auth.models import User


def who_words(user: User) -> str:
    return user.get_full_name() or user.get_username()
