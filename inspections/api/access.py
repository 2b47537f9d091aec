"""Who asks: a program with a token, and what that may do. A session of the site opens nothing."""

from __future__ import annotations

import logging
from typing import Any

from django.http import HttpRequest
from ninja.security import HttpBearer

from fleet.models import ApiScope, ApiToken
from fleet.people.tokens import (
    RIGHT_OF,
    TokenRefused,
    note_use,
    role_may,
    working_token,
)
from fleet.refusals import came_by_token
from fleet.throttle import WINDOW_SECONDS, count_failure, has_failed_often
from inspections.api.problems import Refused

logger = logging.getLogger(__name__)

FAILED = "API token"
CHALLENGE = {"WWW-Authenticate": 'Bearer realm="Line-Pull Ledger"'}
NO_TOKEN = "Send a token, as Authorization: Bearer lpl_…; it is made on the page of its person."


class Token(HttpBearer):
    """A token in the Authorization header, made on the page of the person it acts for."""

    def __init__(self, scope: ApiScope) -> None:
        self.scope = scope
        super().__init__()

    def __call__(self, request: HttpRequest) -> Any:
        """Return the token that was sent. Raises Refused where it may not do this."""
        found = super().__call__(request)
        if found is None:
            raise Refused(401, NO_TOKEN, headers=CHALLENGE)
        return found

    def authenticate(self, request: HttpRequest, token: str) -> ApiToken:
        """Let the request be its person’s. Raises Refused where the token won’t do."""
        try:
            found = working_token(token.strip())
        except TokenRefused as refusal:
            raise _refused(request, refusal) from None
        came_by_token(request, found)
        if self.scope not in found.scopes or not _may(found, self.scope):
            logger.warning("refused: token %d may not %s", found.pk, self.scope.label)
            raise Refused(
                403,
                f"The token “{found}” of {found.role} may not {self.scope.label}: its scopes are "
                f"{', '.join(found.scopes)}.",
            )
        # Whoever is at work is told in the journal by the request.
        request.user = found.recorded_by
        note_use(found)
        return found


def _may(token: ApiToken, scope: ApiScope) -> bool:
    """Whether its role may, and whether its person may at this moment."""
    return role_may(token.role, scope) and token.recorded_by.has_perm(RIGHT_OF[scope])


def _refused(request: HttpRequest, refusal: TokenRefused) -> Refused:
    """Return why a token is refused; who tries many is told to wait, and no more."""
    if refusal.token is not None:
        came_by_token(request, refusal.token)
    if has_failed_often(request, FAILED):
        logger.warning("refused: too many tokens of one address failed within a minute")
        wait = {"Retry-After": str(WINDOW_SECONDS)}
        return Refused(429, "Wait a minute before you try another token.", headers=wait)
    count_failure(request, FAILED)
    logger.warning("refused: a token that does not work")
    headers = {"WWW-Authenticate": f'{CHALLENGE["WWW-Authenticate"]}, error="invalid_token"'}
    return Refused(401, str(refusal), headers=headers)
