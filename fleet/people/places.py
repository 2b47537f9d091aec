"""Where a record stands, by what is known now: what whoever is bound to yards may act on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import Model, Q

from fleet.models import PadLot, Yard

# What a record is of, by its label: it stands where the first of these does that it names. What is
# not listed says its own yard. Labels, since a lower app knows no model of a higher one.
OF_WHAT: dict[str, tuple[str, ...]] = {
    "fleet.hire": ("housing",),
    "fleet.hourreading": ("machine",),
    "fleet.padreceipt": ("order",),
    "fleet.transfer": ("housing", "hammer"),
    "inspections.finding": ("machine",),
    "inspections.handover": ("hire",),
    "inspections.inspection": ("housing", "hammer", "clamp", "power_pack"),
    "inspections.machinedocument": ("machine",),
    "inspections.repairline": ("order",),
    "inspections.repairorder": ("machine",),
    "inspections.restoreplan": ("housing", "yard"),
    "ratings.commitment": ("housing",),
    "ratings.commitmentcondition": ("commitment",),
    "ratings.jobattachment": ("job",),
    "ratings.ledgerentry": ("housing",),
    "ratings.lotrating": ("lot",),
    "ratings.proofpull": ("housing",),
}

# Lots of pads and jobs stand wherever other things do.
JOB = "ratings.extractionjob"


class InEveryYard:
    """Stands for what holds in every yard at once."""


EVERY_YARD = InEveryYard()


@dataclass(frozen=True)
class Stands:
    """Where something is: None as its yard holds for every yard.

    record: what stands there, of what its yard is written on, None of what is in several.
    """

    what: str
    yard: Yard | None
    record: Any = None


def places_of(record: Any) -> list[Stands]:
    """Return where a record stands by what is known now; nowhere for what no yard owns."""
    if record is None:
        return []
    if isinstance(record, InEveryYard):
        return [Stands("This concerns", None)]
    if isinstance(record, Yard):
        return [Stands("This is of", record)]
    label = record._meta.label_lower
    if label == JOB:
        return _places_of_job(record)
    if isinstance(record, PadLot):
        return _places_of_lot(record)
    if label in OF_WHAT:
        return places_of(_of_what(record))
    if record.pk is not None:
        # As it is on record now: the copy at hand may be older, or be what it is to become.
        kept = type(record)._default_manager.select_related("yard").filter(pk=record.pk).first()
        record = kept or record
    yard = record.yard
    return [] if yard is None else [Stands(f"{record} stands in", yard, record)]


def stands_where_others_do(record: Any) -> bool:
    """Whether a record stands wherever other things do: a lot of pads, a job that holds units.

    No row of its own says where, so that none can be locked to keep it there.
    """
    if not isinstance(record, Model):
        return False
    label = record._meta.label_lower
    if label in OF_WHAT:
        return stands_where_others_do(_of_what(record))
    return label == JOB or isinstance(record, PadLot)


def _of_what(record: Any) -> Any:
    """Return what a record is of, by OF_WHAT: what it names first."""
    named = (getattr(record, name) for name in OF_WHAT[record._meta.label_lower])
    return next((each for each in named if each is not None), EVERY_YARD)


def _places_of_lot(lot: PadLot) -> list[Stands]:
    """Wherever pads of a lot are: on shelves, and in housings that are in use."""
    on_shelves = Q(shelves__lot=lot, shelves__pads__gt=0)
    fitted = Q(housings__positions__lot=lot, housings__retired_on=None)
    yards = Yard.objects.filter(on_shelves | fitted).distinct().order_by("name")
    return [Stands(f"Pads of lot {lot.mark} are in", yard) for yard in yards]


def _places_of_job(job: Any) -> list[Stands]:
    """A job stands in no yard: what changes it may change what units that are held for it do."""
    if job.pk is None:
        return []
    held = job.commitments.filter(released_at=None).select_related("housing__yard")
    return [
        Stands(f"{each.housing}, which this job holds, stands in", each.housing.yard, each.housing)
        for each in held
    ]
