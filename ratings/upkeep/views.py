"""Addresses for whoever watches the site by a program: it lives, it can serve, how it stands."""

from __future__ import annotations

from collections.abc import Iterable
from hmac import compare_digest

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db import Error, connection
from django.db.migrations.executor import MigrationExecutor
from django.db.models import Max, Min
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from fleet.long_work.queue import is_worker_there
from fleet.models import LongWork, TreeSize
from ratings.models import LedgerEntry, Seal, Verification

PLAIN = "text/plain; charset=utf-8"


@login_not_required
@never_cache
@require_safe
def health(request: HttpRequest) -> HttpResponse:
    """Say that this process lives; nothing else is asked."""
    return HttpResponse("It lives.\n", content_type=PLAIN)


@login_not_required
@never_cache
@require_safe
def ready(request: HttpRequest) -> HttpResponse:
    """Say whether this process can serve: its database answers, with this release's tables."""
    try:
        executor = MigrationExecutor(connection)
        plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except Error:
        return HttpResponse("The database does not answer.\n", content_type=PLAIN, status=503)
    if plan:
        return HttpResponse("The tables are not this release’s.\n", content_type=PLAIN, status=503)
    return HttpResponse("It can serve.\n", content_type=PLAIN)


@login_not_required
@never_cache
@require_safe
def metrics(request: HttpRequest) -> HttpResponse:
    """Give figures of the site as Prometheus reads them, to whoever brings the token of the
    settings; without one set there, the page is not there.
    """
    if not settings.METRICS_TOKEN:
        raise Http404("Metrics are not set up: LEDGER_METRICS_TOKEN is not set.")
    brought = request.headers.get("Authorization", "")
    if not compare_digest(brought.encode(), f"Bearer {settings.METRICS_TOKEN}".encode()):
        return HttpResponse(
            "Bring the token of LEDGER_METRICS_TOKEN.\n",
            content_type=PLAIN,
            status=401,
            headers={"WWW-Authenticate": "Bearer"},
        )
    # Imported on need: no other page waits for it.
    from prometheus_client import CONTENT_TYPE_LATEST, CollectorRegistry, Gauge, generate_latest

    registry = CollectorRegistry()
    for name, words, value in _figures():
        Gauge(f"line_pull_ledger_{name}", words, registry=registry).set(value)
    return HttpResponse(generate_latest(registry), content_type=CONTENT_TYPE_LATEST)


def _figures() -> Iterable[tuple[str, str, float]]:
    """Yield what is told: the end of its name, in words, and the figure."""
    now = timezone.now()
    yield "entries", "Entries of all ledgers.", LedgerEntry.objects.count()
    leaves = TreeSize.objects.filter(pk=1).values_list("size", flat=True).first() or 0
    yield "journal_leaves", "Lines of the journal that have their place.", leaves
    verified = Verification.objects.order_by("-at", "-pk").first()
    if verified is not None:
        yield (
            "verified_timestamp_seconds",
            "When the record was last verified.",
            (verified.at.timestamp()),
        )
        yield "verified_faults", "What was then found amiss.", verified.faults
    sealed = Seal.objects.aggregate(at=Max("made_at"))["at"]
    if sealed is not None:
        yield "sealed_timestamp_seconds", "When the record was last sealed.", sealed.timestamp()
    waiting = LongWork.objects.filter(ended_at=None)
    yield "long_works", "Long works waiting or being done.", waiting.count()
    oldest = waiting.aggregate(at=Min("asked_at"))["at"]
    age = (now - oldest).total_seconds() if oldest else 0.0
    yield "long_work_oldest_seconds", "How long the oldest of them was asked for.", age
    yield "worker_up", "Whether a worker of long work runs.", float(is_worker_there())
