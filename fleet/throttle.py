"""How often one address may guess, and how often it may ask for a page that needs no account.

Guesses are counted in the database, since several processes, on several machines maybe, serve one
site: a limit is the site's, and what others do lets nobody begin anew. A page that is only looked
at writes nothing, and must be shown while the database takes no write at all: how often one was
asked for each process counts by itself, in its memory.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from datetime import UTC, datetime
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
from django.db import DEFAULT_DB_ALIAS, Error, transaction
from django.db.models import F, QuerySet
from django.http import HttpRequest, HttpResponse
from django.utils.crypto import salted_hmac

from fleet.models import Tally

logger = logging.getLogger(__name__)

WINDOW_SECONDS = 60

Arguments = ParamSpec("Arguments")


def at_most(requests: int, refuse: Callable[[HttpRequest], HttpResponse]) -> Callable[[Any], Any]:
    """Answer so many requests of one address in a minute, and refuse the rest (429).

    Each process of the site does so by itself.
    """

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
    return count_here(_key(request, name), 2 * WINDOW_SECONDS)


def count_here(key: str, seconds: int) -> int:
    """Count something once more in the memory of this process, and return how often it was."""
    if cache.add(key, 1, seconds):
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
    return is_reached(_key(request, name), FAILURES_IN_A_MINUTE, 2 * WINDOW_SECONDS)


def count_failure(request: HttpRequest, name: str) -> None:
    """Count that an address failed at something: a password tried that was not it."""
    count(_key(request, name), 2 * WINDOW_SECONDS)


def is_reached(key: str, most: int, seconds: int) -> bool:
    """Whether something was counted so often, by all processes of the site together.

    Once it was, this process knows for so long, and a flood asks the database nothing.
    """
    reached = f"reached:{most}:{key}"
    if cache.get(reached):
        return True
    if times_counted(key) < most:
        return False
    cache.set(reached, True, seconds)
    return True


def times_counted(key: str) -> int:
    """Return how often something was counted, by all processes of the site together."""
    times = _tallies(key).values_list("times", flat=True).first()
    return times or 0


def count(key: str, seconds: int) -> None:
    """Count something once more for the whole site; it is forgotten so long after the first.

    Two who count at one moment are both counted. Never raises where the database takes nothing:
    what was to be counted is refused all the same.
    """
    try:
        with transaction.atomic():
            if not _count_once_more(key):
                _begin(key, seconds)
                _count_once_more(key)
    except Error as trouble:
        logger.warning("a guess or a refusal could not be counted: %s", trouble)


def _count_once_more(key: str) -> int:
    return _tallies(key).update(times=F("times") + 1)


def _begin(key: str, seconds: int) -> None:
    """Begin to count something, unless another does this moment; what is over is let go."""
    now = time.time()
    Tally.objects.filter(until__lt=datetime.fromtimestamp(now, UTC)).delete()
    begun = Tally(key=_hash_of(key), until=datetime.fromtimestamp(now + seconds, UTC))
    Tally.objects.bulk_create([begun], ignore_conflicts=True)


def _tallies(key: str) -> QuerySet[Tally]:
    # A replica would tell what was counted a while ago.
    return Tally.objects.using(DEFAULT_DB_ALIAS).filter(key=_hash_of(key))


def _hash_of(key: str) -> str:
    return salted_hmac("fleet.throttle", key, algorithm="sha256").hexdigest()
