"""What a phone sends, as tests need it."""

from __future__ import annotations

import json
import uuid
from datetime import timedelta
from typing import TYPE_CHECKING, Any, TypeAlias

from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.models import PadLot, SuppressorHousing
from tests.builders import Unit, pads

if TYPE_CHECKING:
    # What a test's client gets back, which has the document of a JSON answer too.
    from django.test.client import _MonkeyPatchedWSGIResponse

    Answer: TypeAlias = _MonkeyPatchedWSGIResponse


def payload(unit: Unit, **changes: Any) -> dict[str, Any]:
    """A pad count of a unit, all sound, seen just now."""
    now = timezone.now().isoformat()
    plain: dict[str, Any] = {
        "id": str(uuid.uuid4()),
        "housing": unit.housing.pk,
        "kind": "pad count",
        "seen_at": now,
        "sent_at": now,
        "signed_by": unit.manager.pk,
        "pads": pads_sent(unit.housing, unit.lot),
        "travel_in": 6.0,
        "travel_reason": "",
        "hours": None,
        "weather": "",
        "note": "",
        "checklist": None,
        "answers": [],
        "findings": [],
        "photos": [],
    }
    return plain | changes


def finding_sent(**changes: Any) -> dict[str, Any]:
    """Something to be mended within a month."""
    plain = {
        "number": 1,
        "severity": "mend",
        "text": "Hose chafed at the swivel",
        "act_by": day_in(30),
        "who_acts": "Odo Brandt",
    }
    return plain | changes


def day_in(days: int) -> str:
    """A day so many days from today, as a phone sends it."""
    return (timezone.localdate() + timedelta(days=days)).isoformat()


def pads_sent(
    housing: SuppressorHousing, lot: PadLot | None, unsound: dict[str, str] | None = None
) -> list[dict[str, Any]]:
    return [
        {
            "side": pad.side,
            "number": pad.number,
            "condition": pad.condition,
            "lot": pad.lot_id,
        }
        for pad in pads(housing, lot, unsound)
    ]


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def send(client: Client, sent: dict[str, Any]) -> Answer:
    return client.post(
        reverse("field-inspections"), json.dumps(sent), content_type="application/json"
    )
