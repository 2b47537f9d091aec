"""The demo's scenario as it is written in fixtures/demo.toml."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

SCENARIO = Path(__file__).resolve().parents[2] / "fixtures" / "demo.toml"


def read_scenario() -> dict[str, Any]:
    """Return the scenario, its events in the order they happened."""
    scenario = tomllib.loads(SCENARIO.read_text(encoding="utf-8"))
    scenario["events"].sort(key=lambda event: event["at"])
    return scenario
