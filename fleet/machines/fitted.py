from __future__ import annotations

from typing import Any

from fleet.models import ClampFitting, Hammer, PowerPackConnection


def machines_on(hammer: Hammer) -> dict[str, Any]:
    """Return the clamp and the power pack that are on a hammer today, by name; None for none."""
    connections = PowerPackConnection.objects.current().filter(hammer=hammer)
    connection = connections.select_related("power_pack").first()
    return {
        "clamp": ClampFitting.objects.current().clamps_by_hammer([hammer.pk]).get(hammer.pk),
        "power_pack": connection.power_pack if connection else None,
    }
