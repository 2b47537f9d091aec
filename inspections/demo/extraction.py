"""The demo’s events of extraction: jobs, commitments, and the tables that jobs start from."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Any

from django.contrib.auth.models import User

from fleet.models import SuppressorHousing, Yard
from ratings.mechanics.soil import Layer
from ratings.models import ExtractionJob, PileSection, SoilTemplate
from ratings.piles.table import sections_by_name
from ratings.recording.commitment import commit_unit
from ratings.recording.job import save_job
from ratings.soilprofiles import layer_record

OF_THE_PLACE = ("site", "first_day", "last_day", "note", "water_depth_ft", "haul_limit_mi")
OF_THE_PILE = ("length_ft", "embedment_ft", "yield_strength_ksi")
OF_THE_CRANE = (
    "capacity_lbf",
    "hook_block_lb",
    "rigging_weight_lb",
    "rigging_limit_lbf",
    "legs",
    "leg_angle_deg",
)


def plan_job(event: dict[str, Any], submission_id: uuid.UUID, by: User) -> None:
    """A job saved: its pile from the table of sections, its ground, its crane."""
    save_job(
        submission_id=submission_id,
        job=None,
        fields={
            **{name: event[name] for name in OF_THE_PLACE if name in event},
            **{name: float(event[name]) for name in OF_THE_PILE},
            **{name: event[name] for name in OF_THE_CRANE if name in event},
            **_section_fields(event["section"]),
            **_set_up_fields(event.get("set_up", {})),
        },
        layers=[Layer(**layer) for layer in event["layers"]],
        distances={
            Yard.objects.get(name=name).pk: float(miles)
            for name, miles in event.get("distances", {}).items()
        },
        by=by,
    )


def commit(event: dict[str, Any], submission_id: uuid.UUID, by: User) -> None:
    commit_unit(
        submission_id=submission_id,
        job=ExtractionJob.objects.get(site=event["site"]),
        housing=SuppressorHousing.objects.get(mark=event["housing"]),
        by=by,
    )


def add_section(event: dict[str, Any], submission_id: uuid.UUID, by: User) -> None:
    PileSection.objects.create(recorded_by=by, **event["section"])


def keep_ground(event: dict[str, Any], submission_id: uuid.UUID, by: User) -> None:
    SoilTemplate.objects.create(
        name=event["name"],
        note=event["note"],
        water_depth_ft=event["water_depth_ft"],
        layers=[layer_record(Layer(**layer)) for layer in event["layers"]],
        recorded_by=by,
    )


def _section_fields(name: str) -> Mapping[str, Any]:
    section = sections_by_name()[name]
    return {
        "section": section.name,
        "pile_kind": section.kind,
        "area_in2": section.area_in2,
        "weight_lb_ft": section.weight_lb_ft,
        "perimeter_in": section.perimeter_in,
        "plug_area_in2": section.plug_area_in2 or None,
    }


def _set_up_fields(set_up: Mapping[str, float]) -> Mapping[str, float]:
    return {f"set_up_{name}": float(value) for name, value in set_up.items()}
