"""A lot of which no pad is left: put out of use, and brought back, each on record."""

from __future__ import annotations

from collections.abc import Iterator

from fleet.models import PadLot
from fleet.setup.forms import ThingForm
from fleet.setup.things import Thing
from fleet.stock import whereabouts


def in_the_way_of_lot(lot: PadLot) -> Iterator[str]:
    """Yield where pads of a lot still are."""
    for there in whereabouts(lot):
        pads = f"{there['pads']} pad{'' if there['pads'] == 1 else 's'}"
        verb = "lies" if there["pads"] == 1 else "lie"
        if there["kind"] == "shelf":
            yield (
                f"{pads} {verb} on the shelf of {there['place']}: record that they were scrapped, "
                "tested or fitted, or count the shelf."
            )
        else:
            yield (
                f"{pads} of it {'is' if there['pads'] == 1 else 'are'} in housing "
                f"{there['place']} ({there['positions']}): replace them, or count what is there."
            )


LOT = Thing(
    model=PadLot,
    name="lot",
    plural="lots",
    folder="lots",
    form=ThingForm,
    lead="Pads bought and rated together.",
    in_the_way=in_the_way_of_lot,
    section="lots",
    own_page="lot",
)
