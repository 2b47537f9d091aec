"""Passwords and codes guessed on the pages of somebody signed in: so many a minute of an address.

A session that is left open lets whoever sits down there try: not for long.
"""

from __future__ import annotations

import logging
from typing import Any

from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from fleet.fields import note_refusal
from fleet.throttle import count_failure, has_failed_often

logger = logging.getLogger(__name__)

TOO_MANY = 429
NOT_THE_PASSWORD = "The password was not the one on record."


def too_many_guesses(
    request: HttpRequest, name: str, context: dict[str, Any] | None = None
) -> HttpResponse | None:
    """Refuse what is sent from where guesses at something failed too often; None where not."""
    if request.method != "POST" or not has_failed_often(request, name):
        return None
    logger.warning("refused: too many guesses at %s as “%s”", name, request.user)
    return render(request, "people/too_often.html", context, status=TOO_MANY)


def count_wrong_password(request: HttpRequest, name: str, form: Form) -> None:
    """Count a guess, and put it on record, where the password of now was not right on a form.

    One left blank is no guess.
    """
    if "old" in form.errors and form.data.get("old"):
        count_failure(request, name)
        note_refusal(NOT_THE_PASSWORD)
