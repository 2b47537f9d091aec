"""What clients of a storm send with: `python -m tests.faults.prepared` makes it and prints it."""

from __future__ import annotations

import json
import os
from typing import Any

import django

# Housings that hold the same lot, for each lot: those of the second are more than are rated again
# at once where a storm is served. Pads are fitted to one of each lot alone, so that whoever does is
# seldom told that others signed meanwhile.
HOUSINGS = (3, 6)
MOST_AT_ONCE = 4
IN_STOCK = 20_000


def prepared() -> dict[str, Any]:
    """Make units, people signed in and a program's token, and say what they are sent with."""
    from django.test import Client
    from factory.django import DjangoModelFactory

    from tests import factories
    from tests.builders import count, rated_unit
    from tests.inspections.api.asking import token_of
    from tests.inspections.field.sent import pads_sent

    for each in vars(factories).values():
        if isinstance(each, type) and issubclass(each, DjangoModelFactory) and each._meta.model:
            # Beyond the marks of the demo.
            each.reset_sequence(1_000, force=True)
    lots, units, fitted = [], [], []
    for housings in HOUSINGS:
        first = rated_unit(in_stock=IN_STOCK)
        lots.append(first.lot.pk)
        others = [factories.HousingFactory(positions_per_side=4) for _ in range(housings - 1)]
        for housing in others:
            count(housing, first.manager, first.lot)
        there = [
            {"housing": each.pk, "lot": first.lot.pk, "pads": pads_sent(each, first.lot)}
            for each in (first.housing, *others)
        ]
        fitted.append(there.pop())
        units += there
    drafter = factories.ManagerFactory()
    people = []
    for name in ("Phone", "Fitter", "Rater", "Importer", "Reader"):
        client, user = Client(), factories.ManagerFactory(first_name=name)
        client.force_login(user)
        people.append({"user": user.pk, "session": client.cookies["sessionid"].value})
    return {
        "token": token_of(drafter).secret,
        "units": units,
        "fitted": fitted,
        "lots": lots,
        "people": people,
        "stand": factories.TestStandFactory(bore_in=4.0).pk,
        "gauge": factories.GaugeFactory(span_psi=1000.0).pk,
        "tape": factories.TapeFactory().pk,
    }


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")
    django.setup()
    print(json.dumps(prepared()))


if __name__ == "__main__":
    main()
