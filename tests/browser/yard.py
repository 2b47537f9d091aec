"""A yard that holds a unit in each state and a record of each kind, and all its pages."""

from __future__ import annotations

import uuid
from datetime import timedelta

from django.contrib.auth.models import User
from django.urls import reverse

from inspections.recording.inspection import Correction
from inspections.recording.replacement import PadFitted, sign_replacement
from inspections.recording.submission import Submission
from ratings.recording.mounting import mount_housing
from tests.builders import MONDAY, Unit, bench_test, count, list_hammer, rated_unit, receive
from tests.factories import HammerFactory, HousingFactory, PadLotFactory


def furnish() -> tuple[User, dict[str, str]]:
    """Fill an empty database; return who keeps the yard, and the path of every page by name."""
    good = rated_unit(in_stock=6)
    short = rated_unit(unsound={"A1": "cracked", "A2": "missing", "A3": "swollen"}, in_stock=2)
    unproven = rated_unit(listed_lbf=47_900)
    uncounted = HousingFactory(bumper="rubber block in the lower stop")
    stranger = PadLotFactory(mark="UNTESTED", note="Came fitted.")
    unrated = HousingFactory()
    hammer = HammerFactory(yard=unrated.yard, make="Invented", type_name="Long type name 40")
    list_hammer(hammer, good.manager, 90_000)
    mount_housing(housing=unrated, hammer=hammer, at=MONDAY, by=good.manager)
    count(unrated, good.manager, stranger)
    HammerFactory(mark="BARE")
    replaced, corrected = _history(good, short)
    test = bench_test(good.lot, good.manager, rate_lbf_in=1010, at=MONDAY + timedelta(days=2))
    receive(stranger, good.manager, 3)
    units = {
        "unit that meets its listing": good.housing.pk,
        "unit below its listing": short.housing.pk,
        "unit not proven": unproven.housing.pk,
        "unit unrated": unrated.pk,
        "unit never counted": uncounted.pk,
    }
    return good.manager, {
        "board": reverse("board"),
        "board with nothing on it": reverse("board") + "?search=nothing",
        **{name: reverse("unit", args=[pk]) for name, pk in units.items()},
        "count": reverse("count-pads", args=[short.housing.pk]),
        "correction": reverse("count-pads", args=[good.housing.pk]) + "?corrects=2",
        "replace": reverse("replace-pads", args=[short.housing.pk]),
        "mounting": reverse("mounting", args=[good.housing.pk]),
        "lots": reverse("lots"),
        "lot": reverse("lot", args=[good.lot.pk]),
        "lot untested": reverse("lot", args=[stranger.pk]),
        "lot form": reverse("new-lot"),
        "stock": reverse("lot-stock", args=[good.lot.pk]),
        "bench form": reverse("new-bench-test", args=[good.lot.pk]),
        "bench test": reverse("bench-test", args=[test.test.pk]),
        "bench correction": reverse("new-bench-test", args=[good.lot.pk])
        + f"?corrects={test.test.pk}",
        "listings": reverse("listings"),
        "listing form": reverse("new-listing", args=[hammer.pk]),
        "policy": reverse("policy"),
        "inspection corrected": reverse("inspection", args=[corrected]),
        "inspection that corrects": reverse("inspection", args=[corrected + 1]),
        "replacement": reverse("replacement", args=[replaced]),
        "404": "/units/999999/",
    }


def _history(good: Unit, short: Unit) -> tuple[int, int]:
    """A replacement, and an inspection with the one that corrects it; returns their keys."""
    later = MONDAY + timedelta(days=1)
    replacement = sign_replacement(
        housing=short.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=later,
        pads=[PadFitted("A", 1, short.lot.pk)],
        by=short.manager,
        note="From the shelf.",
    )
    wrong = count(good.housing, good.manager, good.lot, at=later, unsound={"A1": "cracked"})
    count(
        good.housing,
        good.manager,
        good.lot,
        at=later,
        correction=Correction("It was the next pad over.", wrong.inspection),
        unsound={"A2": "cracked"},
    )
    return replacement.replacement.pk, wrong.inspection.pk
