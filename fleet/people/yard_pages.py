"""What a page that writes is of, by its address: its form is shown only to who may act on that."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.apps import apps

from fleet.models import Clamp, Hammer, MachineSort, PowerPack, SuppressorHousing, Yard
from fleet.people.places import EVERY_YARD
from fleet.people.yards import KEYS

# As KEYS, of the addresses of pages that write. What is recorded of a job is looked at only then:
# a job leads also to its copy.
PAGE_KEYS = {
    **KEYS,
    "rating_id": "ratings.LotRating",
    "finding_id": "inspections.Finding",
    "order_id": "inspections.RepairOrder",
    "line_id": "inspections.RepairLine",
    "inspection_id": "inspections.Inspection",
    "document_id": "inspections.MachineDocument",
    "hire_id": "fleet.Hire",
    "transfer_id": "fleet.Transfer",
    "pull_id": "ratings.ProofPull",
    "entry_id": "ratings.LedgerEntry",
    "commitment_id": "ratings.Commitment",
    "condition_id": "ratings.CommitmentCondition",
    "pad_order_id": "fleet.PadOrder",
    "receipt_id": "fleet.PadReceipt",
    "stand_id": "ratings.TestStand",
    "gauge_id": "ratings.Gauge",
}
# Pages of a lot on which somebody says of which yard’s shelf it is.
OF_A_SHELF = {"lot-stock", "lot-price", "move-yards"}
# Pages whose every act is of all yards, and the keys of what is: people, kinds of inspections.
OF_EVERY_YARD = {
    "new-person",
    "exchange",
    "receive-unit",
    "sheets",
    "kinds",
    "retention-rule",
    "take-lesson",
    "change-lesson-rules",
}
KEYS_OF_EVERY_YARD = {"user_id", "qualification_id", "kind_id", "draft_id"}


def named_by_page(page: str, parts: Mapping[str, Any]) -> Iterable[Any]:
    """Yield what a page that writes is of, that stands somewhere or is of every yard.

    parts: of its address, by their names.
    """
    if page in OF_EVERY_YARD or (page.startswith("new-") and _is_of_yards(parts)):
        yield EVERY_YARD
    for name, key in parts.items():
        if name in KEYS_OF_EVERY_YARD:
            yield EVERY_YARD
        if name == "lot_id" and page in OF_A_SHELF:
            continue
        model = apps.get_model(PAGE_KEYS[name]) if name in PAGE_KEYS else _model_of(name, parts)
        if model is Yard:
            yield EVERY_YARD
        elif model is not None:
            yield model._default_manager.filter(pk=key).first()


def _is_of_yards(parts: Mapping[str, Any]) -> bool:
    return "thing" in parts and parts["thing"].model is Yard


MODEL_BY_SLUG: dict[str, Any] = {
    MachineSort.HAMMER.slug: Hammer,
    MachineSort.HOUSING.slug: SuppressorHousing,
    MachineSort.CLAMP.slug: Clamp,
    MachineSort.POWER_PACK.slug: PowerPack,
}


def _model_of(name: str, parts: Mapping[str, Any]) -> Any:
    """Return the model of a machine or of a thing that is set up, by what its page is of."""
    if name == "record_id":
        return parts["thing"].model
    if name != "machine_id":
        return None
    if hasattr(parts.get("kind"), "model"):
        return parts["kind"].model
    if "sort" not in parts:
        # Whose meter is read by itself.
        return PowerPack
    return MODEL_BY_SLUG.get(parts["sort"])
