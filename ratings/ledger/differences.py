"""What changed from one ledger entry to the next, in words."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any

from fleet.dates import day_words
from fleet.models.housing import UNSOUND
from fleet.models.housing_guide import guide_words
from fleet.quantities import Quantity, listed_words, plain_number
from ratings.ledger.posting import Cause
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
    "pad_spread_degrees_of_freedom": "policy degrees of freedom of that spread",
    "conditions_pct": "policy conditions of use, ± %",
    "unknown_temperature_pct": "policy for a temperature not read, ± %",
    "seal_friction_pct": "policy seal friction, % off",
    "first_stretch_pct": "policy first stretch, % off",
    "conditioning_cycles": "policy conditioning cycles",
    "gap_band_pct": "policy doubt between readings, %",
    "largest_strain_pct": "policy largest strain, %",
    "refused_shortcuts": "policy tests refused",
}


def differences(before: LedgerEntry | None, entry: LedgerEntry, system: str) -> list[str]:
    """Return a line for each input that differs from the entry before."""
    if before is None:
        return ["first entry of this housing"]
    then, now = _facts(before, system), _facts(entry, system)
    is_replaced = entry.cause == Cause.PAD_REPLACEMENT
    lines = [
        *_pad_lines(before.inputs["positions"], entry.inputs["positions"], is_replaced=is_replaced)
    ]
    for name, (value, words) in now.items():
        was, was_words = then.get(name, (None, "none in use"))
        if name not in then and name.startswith("rubber of"):
            continue
        if was != value:
            lines.append(f"{name}: {was_words} → {words}")
    lines += _policy_lines(before.inputs["policy"], entry.inputs["policy"])
    lines += [f"{lot} no longer fitted" for lot in _lots(before) if lot not in _lots(entry)]
    guides = [each.contents["provenance"].get("guide") for each in (before, entry)]
    if then["sides"] == now["sides"] and guides[1] and guides[0] != guides[1]:
        lines.append(f"sides still {now['sides'][1]}: {guides[1]['reason']}")
    sources = [each.contents["provenance"]["listing"] for each in (before, entry)]
    if before.listed_lbf == entry.listed_lbf and sources[1] and sources[0] != sources[1]:
        lines.append(f"listing source: {sources[1]['source']}")
    return lines or [NO_INPUT_DIFFERS]


def pull_change_lbf(before: LedgerEntry | None, entry: LedgerEntry) -> float | None:
    """Return how the line pull moved from the entry before, None where either is missing."""
    if before is None or before.pull_lbf is None or entry.pull_lbf is None:
        return None
    return entry.pull_lbf - before.pull_lbf


def _facts(entry: LedgerEntry, system: str) -> dict[str, tuple[Any, str]]:
    """Return what an entry rests on but for its pads and the policy: its value and that in words.

    By name.
    """
    hammer, travel_in = entry.contents["provenance"]["hammer"], entry.inputs["travel_in"]
    travel = "not taped" if travel_in is None else Quantity.LENGTH.words(travel_in, system)
    is_guided = entry.inputs.get("is_guided")
    # Entries of the first format asked nothing of guides and added the two sides up.
    sides = "added up, guided or not" if is_guided is None else guide_words(is_guided)
    return {
        "travel": (travel_in, travel),
        "sides": (is_guided, sides),
        **{f"rate of {name}": (lot, _rate(lot, system)) for name, lot in _lots(entry).items()},
        "hammer": (hammer, hammer or "none"),
        "listed": (entry.listed_lbf, listed_words(entry.listed_lbf, system)),
        **{
            f"rubber of lot {each['lot']}": (
                each["thickness_in"],
                f"{Quantity.LENGTH.words(each['thickness_in'], system, 3)} thick",
            )
            for each in entry.inputs.get("rubber", ())
        },
        "proof pull": (entry.inputs.get("proof"), _proof(entry)),
    }


def _policy_lines(then: dict[str, Any], now: dict[str, Any]) -> Iterator[str]:
    """Say what the yard rates otherwise by: written in words only where it is."""
    for name, words in POLICY_WORDS.items():
        # An entry of format 1 says nothing of some: then nothing is known to have changed.
        if name in then and name in now and then[name] != now[name]:
            yield f"{words}: {_plain(then[name])} → {_plain(now[name])}"


def _plain(value: Any) -> str:
    """Return a figure of the policy as people write it."""
    if isinstance(value, list):
        return ", ".join(map(str, value)) or "none"
    if isinstance(value, float | int):
        return plain_number(value, 4)
    return "none" if value is None else str(value)


def _proof(entry: LedgerEntry) -> str:
    proof = entry.inputs.get("proof")
    if not proof:
        return "none in use"
    day = day_words(date.fromisoformat(proof["pulled_on"]))
    return f"{100.0 * proof['ratio']:.1f} % of what its pads say on {day}"


def _lots(entry: LedgerEntry) -> dict[str, dict[str, Any]]:
    return {f"lot {lot['lot']}": lot for lot in entry.inputs["lots"]}


def _rate(lot: dict[str, Any], system: str) -> str:
    rate = Quantity.RATE.words(lot["rate_lbf_in"], system)
    stale = f", stale: {lot['stale']}" if lot["stale"] else ""
    return f"{rate} to {Quantity.LENGTH.words(lot['tested_stretch_in'], system)}{stale}"


def _pad_lines(
    then: list[dict[str, Any]], now: list[dict[str, Any]], *, is_replaced: bool
) -> Iterator[str]:
    old = {(pad["side"], pad["number"]): pad for pad in then}
    changes: dict[tuple[str, str], list[str]] = {}
    for pad in now:
        was = old.get((pad["side"], pad["number"]))
        if was != pad:
            change = (_pad_words(was), _pad_words(pad))
            changes.setdefault(change, []).append(f"{pad['side']}{pad['number']}")
    for (was_words, is_words), places in changes.items():
        healed = "" if is_replaced or not _is_healed(old, places, is_words) else HEALED
        yield f"{', '.join(places)}: {was_words} → {is_words}{healed}"


NO_INPUT_DIFFERS = "no input differs"
HEALED = ", sound again with no new pad"


def _is_healed(
    old: dict[tuple[str, int], dict[str, Any]], places: list[str], is_words: str
) -> bool:
    was = old.get((places[0][0], int(places[0][1:])))
    return is_words.startswith("sound") and was is not None and was["condition"] in UNSOUND


def _pad_words(pad: dict[str, Any] | None) -> str:
    if pad is None or not pad["condition"]:
        return "not counted"
    if pad["condition"] == "missing":
        return "missing"
    return f"{pad['condition']}, lot {pad['lot'] or 'unknown'}"
