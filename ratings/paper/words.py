"""Words for people and moments, as papers have them."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.utils import timezone


def when_words(at: datetime) -> str:
    return f"{timezone.localtime(at):%-d %b %Y %H:%M}"


def who_words(user: User) -> str:
    return user.get_full_name() or user.get_username()
