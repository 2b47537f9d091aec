"""How often one address may ask for a page that needs no account.

Counted in Django's own cache, a minute at a time. A package for it wants a cache server shared by
many processes, which a yard on one machine does not run; one process serves the site.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from functools import wraps
from ipaddress import (
    IPv4Address,
    IPv4Network,
    IPv6Address,
    IPv6Network,
    ip_address,
    ip_network,
)
from typing import Any, Concatenate, ParamSpec

from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest, HttpResponse

logger = logging.getLogger(__name__)

WINDOW_SECONDS = 60

Arguments = ParamSpec("Arguments")


def at_most(requests: int, refuse: Callable[[HttpRequest], HttpResponse]) -> Callable[[Any], Any]:
    """Answer so many requests of one address in a minute, and refuse the rest (429)."""

    def decorate(
        view: Callable[Concatenate[HttpRequest, Arguments], HttpResponse],
    ) -> Callable[..., HttpResponse]:
        @wraps(view)
        def counted(
            request: HttpRequest, *args: Arguments.args, **kwargs: Arguments.kwargs
        ) -> HttpResponse:
            if _asked(request, view.__name__) <= requests:
                return view(request, *args, **kwargs)
            logger.warning("refused: more than %d requests a minute of one address", requests)
            response = refuse(request)
            response.status_code = 429
            response["Retry-After"] = str(WINDOW_SECONDS)
            return response

        return counted

    return decorate


def _asked(request: HttpRequest, name: str) -> int:
    """Return how many requests for a page came from an address in this minute, this one too."""
    key = _key(request, name)
    if cache.add(key, 1, 2 * WINDOW_SECONDS):
        return 1
    try:
        return int(cache.incr(key))
    except ValueError:
        # Dropped from a full cache in between.
        return 1


def _key(request: HttpRequest, name: str) -> str:
    minute = int(time.time()) // WINDOW_SECONDS
    return f"throttle:{name.replace(' ', '-')}:{address_of(request)}:{minute}"


def address_of(request: HttpRequest) -> str:
    """Return the address a request came from; of IPv6 the network that one customer is given.

    Behind a proxy it is the one the proxy itself saw: what stands before it in the header is
    whatever the client wrote there.
    """
    address = _address_of(request)
    if address is None:
        return "unknown"
    if address.version == 4:
        return str(address)
    return str(_network_of(address))


def plain_address_of(request: HttpRequest) -> str | None:
    """Return the same for a column of addresses: the first of a network, None if unknown."""
    address = _address_of(request)
    if address is None or address.version == 4:
        return None if address is None else str(address)
    return str(_network_of(address).network_address)


def _network_of(address: IPv4Address | IPv6Address) -> IPv4Network | IPv6Network:
    return ip_network(f"{address}/64", strict=False)


def _address_of(request: HttpRequest) -> IPv4Address | IPv6Address | None:
    given = request.META.get("REMOTE_ADDR", "")
    if settings.SECURE_PROXY_SSL_HEADER:
        given = request.META.get("HTTP_X_FORWARDED_FOR", given).rsplit(",", 1)[-1].strip()
    try:
        return ip_address(given)
    except ValueError:
        return None


FAILURES_IN_A_MINUTE = 10


def has_failed_often(request: HttpRequest, name: str) -> bool:
    """Whether an address has failed at something as often in this minute as it may."""
    return int(cache.get(_key(request, name), 0)) >= FAILURES_IN_A_MINUTE


def count_failure(request: HttpRequest, name: str) -> None:
    """Count that an address failed at something: a password tried that was not it."""
    _asked(request, name)
