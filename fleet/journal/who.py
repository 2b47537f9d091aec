"""Who is at work: whom a leaf names as having done what it tells of."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from django.http import HttpRequest, HttpResponse

_request: ContextVar[HttpRequest | None] = ContextVar("request", default=None)


def who() -> int | None:
    """Return the key of who is signed in; None in a command, or before signing in."""
    request = _request.get()
    user = getattr(request, "user", None)
    key: int | None = getattr(user, "pk", None)
    return key


@contextmanager
def at_work(request: HttpRequest) -> Iterator[None]:
    """Remember a request in the block too: an answer that streams is made after it was given."""
    before = _request.get()
    _request.set(request)
    try:
        yield
    finally:
        _request.set(before)


class WhoIsAtWork:
    """Remember the request while it is answered."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        token = _request.set(request)
        try:
            return self.get_response(request)
        finally:
            _request.reset(token)
