"""Yards, hammers and housings: what is asked of each, and when it may be out of use."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django import forms
from django.utils import timezone

from fleet.dates import day_words
from fleet.housings import enter_housing
from fleet.models import Hammer, SuppressorHousing, Yard
from fleet.setup.forms import ThingForm
from fleet.setup.things import Thing, always

MOST_NAMED = 5
NOTE = "What else whoever works with it should know."


class YardForm(ThingForm):
    """A place where machines and pads are kept."""

    class Meta:
        model = Yard
        fields = ("name", "place", "currency")
        help_texts = {
            "name": "As people call it, such as Ferry yard.",
            "place": "Where it is, such as 4 Quay Road, Saltmere.",
        }


class HammerForm(ThingForm):
    """A hammer and the figures on its data plate."""

    class Meta:
        model = Hammer
        fields = (
            "yard",
            "mark",
            "make",
            "type_name",
            "serial_number",
            "eccentric_moment_lb_in",
            "frequency_vpm",
            "exciter_weight_lb",
            "figures_source",
            "note",
        )
        widgets = {"note": forms.Textarea(attrs={"rows": 3})}
        help_texts = {
            "mark": "What is painted on it, such as V-101. It stays as it is.",
            "make": "Who made it.",
            "type_name": "As its maker names the type.",
            "serial_number": "As on its plate.",
            "figures_source": "Where the three figures above were read, such as: data plate, by "
            "P. Holm on 3 March. Needed with any of them; leave blank what nobody has read.",
            "note": NOTE,
        }


class HousingForm(ThingForm):
    """A suppressor housing: its pad positions and the travel it was built for."""

    class Meta:
        model = SuppressorHousing
        fields = (
            "yard",
            "mark",
            "serial_number",
            "positions_per_side",
            "design_travel_in",
            "weight_lb",
            "bumper",
            "note",
        )
        widgets = {"note": forms.Textarea(attrs={"rows": 3})}
        help_texts = {
            "mark": "What is painted on it, such as S-01. It stays as it is.",
            "serial_number": "As on its plate.",
            "positions_per_side": "Count the places for pads on one side, empty ones too. It stays "
            "as it is.",
            "bumper": "What stands in the stop and shortens the travel, such as: rubber block in "
            "the lower stop. Blank where nothing does.",
            "note": NOTE,
        }


def _names(records: Any) -> str:
    names = [str(each) for each in records[: MOST_NAMED + 1]]
    more = " and more" if len(names) > MOST_NAMED else ""
    return ", ".join(names[:MOST_NAMED]) + more


def in_the_way_of_yard(yard: Yard) -> Iterator[str]:
    """Yield what is still kept in a yard."""
    for relation in yard._meta.related_objects:
        model: Any = relation.related_model
        if not any(field.name == "retired_on" for field in model._meta.concrete_fields):
            continue
        there = model._default_manager.filter(
            **{relation.field.name: yard}, retired_on__isnull=True
        )
        if there.exists():
            yield (
                f"{model._meta.verbose_name_plural} are in use there ({_names(there)}): give them "
                "another yard, or take them out of use."
            )
    shelves = yard.shelves.filter(pads__gt=0).select_related("lot")
    if shelves.exists():
        lots = _names([shelf.lot for shelf in shelves])
        yield f"pads lie on its shelf (lot {lots}): move them to another yard."
    transfers = yard_transfers(yard)
    if transfers:
        yield f"{transfers} to or from it: record that it arrived, or cancel it."


def yard_transfers(yard: Yard) -> str:
    """Return the open transfers to and from a yard in words, "" for none."""
    from fleet.models import Transfer

    open_ones = [
        each.what
        for each in Transfer.objects.open().select_related("housing", "hammer")
        if yard.pk in (each.origin_id, each.goal_id)
    ]
    return f"{', '.join(open_ones[:MOST_NAMED])} has a transfer" if open_ones else ""


def in_the_way_of_hammer(hammer: Hammer) -> Iterator[str]:
    """Yield what still hangs together with a hammer, or is still to come."""
    for mounting in hammer.mountings.current().select_related("housing"):
        yield f"housing {mounting.housing} hangs on it: take it off, or move it."
    for fitting in hammer.clampfittings.current().select_related("clamp"):
        yield f"clamp {fitting.clamp} is on it: take it off, or move it."
    for connection in hammer.powerpackconnections.current().select_related("power_pack"):
        yield f"power pack {connection.power_pack} drives it: disconnect it, or move it."
    yield from _to_come(hammer)


def in_the_way_of_housing(housing: SuppressorHousing) -> Iterator[str]:
    """Yield what a housing still hangs on, or what is still to come."""
    for mounting in housing.mountings.current().select_related("hammer"):
        yield f"it hangs on hammer {mounting.hammer}: take it off first."
    yield from _to_come(housing)


def _to_come(machine: Any) -> Iterator[str]:
    for transfer in machine.transfers.filter(end__isnull=True):
        yield f"{transfer.what} has its {transfer.words}: record its arrival, or cancel it."
    for hire in machine.hires.filter(ended_on__isnull=True):
        yield f"{hire.housing} has its {hire.words}: take it back, or cancel that."
    today = timezone.localdate()
    standing = machine.commitments.filter(released_at__isnull=True, last_day__gte=today)
    for commitment in standing.select_related("job"):
        until = day_words(commitment.last_day)
        yield f"it is committed to {commitment.job} until {until}: release it first."


YARD = Thing(
    model=Yard,
    name="yard",
    plural="yards",
    folder="yards",
    form=YardForm,
    lead="A place where hammers, housings and pads are kept. Everything else belongs to one.",
    shown=("place", "currency"),
    in_the_way=in_the_way_of_yard,
    effect="Papers and pages bear the new name from now on; what was printed keeps the old.",
)
HAMMER = Thing(
    model=Hammer,
    name="hammer",
    plural="hammers",
    folder="hammers",
    form=HammerForm,
    lead="The exciter itself. Housing, clamp and power pack are put on it, and changed. With its "
    "three figures a job can tell what it frees; without them a job says that it is not known.",
    shown=("make", "type_name"),
    fixed=always("mark"),
    in_the_way=in_the_way_of_hammer,
    effect="A changed figure changes every answer asked from now on, and a pull sheet that rests "
    "on the one of before is void.",
    more=("machine-page", "Its page: hours, what is due, findings, repairs", ("hammer",)),
)
HOUSING = Thing(
    model=SuppressorHousing,
    name="housing",
    plural="housings",
    folder="housings",
    form=HousingForm,
    lead="The frame between crane hook and exciter that holds the pads. Hung on a hammer, it is a "
    "unit.",
    shown=("positions_per_side", "design_travel_in"),
    fixed=always("mark", "positions_per_side"),
    save=enter_housing,
    in_the_way=in_the_way_of_housing,
    effect="A changed figure changes every answer asked from now on, and a pull sheet that rests "
    "on the one of before is void. What it can pull rests on the travel that was taped, which only "
    "a count changes.",
    more=("machine-page", "Its page: what is due, findings, repairs", ("housing",)),
)
