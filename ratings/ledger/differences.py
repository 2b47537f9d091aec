"""What changed from one ledger entry to the next, in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from fleet.units import Quantity, force_words
from ratings.models import LedgerEntry

POLICY_WORDS = {
    "confidence": "policy confidence",
    "pad_spread_pct": "policy pad-to-pad spread, %",
    "linearity_limit_pct": "policy linearity limit, %",
    "tape_resolution_in": "policy tape resolution, in",
    "rate_valid_days": "policy days a rate holds",
    "coldest_f": "policy coldest rubber, °F",
    "warmest_f": "policy warmest rubber, °F",
    "stale_rates": "policy on stale rates",
}


def differences(before: LedgerEntry | None, entry: LedgerEntry, system: str) -> list[str]:
    """Return a line for each input that differs from the entry before."""
    if before is None:
        return ["first entry of this housing"]
    lines = [
        *_pad_lines(before.inputs, entry.inputs),
        *_travel_lines(before.inputs, entry.inputs, system),
        *_lot_lines(before.inputs, entry.inputs, system),
        *_listing_lines(before, entry, system),
        *_policy_lines(before.inputs, entry.inputs),
    ]
    return lines or ["no input differs"]


def pull_change_lbf(before: LedgerEntry | None, entry: LedgerEntry) -> float | None:
    """Return how the line pull moved from the entry before, None where either is missing."""
    if before is None or before.pull_lbf is None or entry.pull_lbf is None:
        return None
    return entry.pull_lbf - before.pull_lbf


def _pad_lines(then: dict[str, Any], now: dict[str, Any]) -> Iterator[str]:
    old = {(pad["side"], pad["number"]): pad for pad in then["positions"]}
    changes: dict[tuple[str, str], list[str]] = {}
    for pad in now["positions"]:
        was = old.get((pad["side"], pad["number"]))
        if was != pad:
            change = (_pad_words(was), _pad_words(pad))
            changes.setdefault(change, []).append(f"{pad['side']}{pad['number']}")
    for (was_words, is_words), places in changes.items():
        yield f"{', '.join(places)}: {was_words} → {is_words}"


def _pad_words(pad: dict[str, Any] | None) -> str:
    if pad is None or not pad["condition"]:
        return "not counted"
    if pad["condition"] == "missing":
        return "missing"
    return f"{pad['condition']}, lot {pad['lot'] or 'unknown'}"


def _travel_lines(then: dict[str, Any], now: dict[str, Any], system: str) -> Iterator[str]:
    if then["travel_in"] != now["travel_in"]:
        was, taped = (_length(inputs["travel_in"], system) for inputs in (then, now))
        yield f"travel: {was} → {taped}"


def _length(value: float | None, system: str) -> str:
    return "not taped" if value is None else Quantity.LENGTH.words(value, system)


def _lot_lines(then: dict[str, Any], now: dict[str, Any], system: str) -> Iterator[str]:
    old = {lot["lot"]: lot for lot in then["lots"]}
    for lot in now["lots"]:
        was = old.pop(lot["lot"], None)
        if was != lot:
            yield f"rate of lot {lot['lot']}: {_rate(was, system)} → {_rate(lot, system)}"
    for mark in old:
        yield f"lot {mark} no longer fitted"


def _rate(lot: dict[str, Any] | None, system: str) -> str:
    if lot is None:
        return "none in use"
    rate = Quantity.RATE.words(lot["rate_lbf_in"], system)
    stale = f", stale: {lot['stale']}" if lot["stale"] else ""
    return f"{rate} to {Quantity.LENGTH.words(lot['tested_stretch_in'], system)}{stale}"


def _listing_lines(before: LedgerEntry, entry: LedgerEntry, system: str) -> Iterator[str]:
    was, now = before.contents["provenance"], entry.contents["provenance"]
    if was["hammer"] != now["hammer"]:
        yield f"hammer: {was['hammer'] or 'none'} → {now['hammer'] or 'none'}"
    if before.listed_lbf != entry.listed_lbf:
        yield (
            f"listed: {force_words(before.listed_lbf, system)} → "
            f"{force_words(entry.listed_lbf, system)}"
        )
    elif was["listing"] != now["listing"] and now["listing"]:
        yield f"listing source: {now['listing']['source']}"


def _policy_lines(then: dict[str, Any], now: dict[str, Any]) -> Iterator[str]:
    for name, words in POLICY_WORDS.items():
        if then["policy"][name] != now["policy"][name]:
            yield f"{words}: {then['policy'][name]} → {now['policy'][name]}"
