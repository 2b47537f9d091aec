"""A plan in words: why each unit was chosen, why each other was not, what a job lacks."""

from __future__ import annotations

from dataclasses import dataclass

from fleet.dates import day_words, days_words
from fleet.fields import whole_number
from fleet.quantities import Quantity
from ratings.jobs.words import capitalized, margin_words
from ratings.mechanics.planning import Aim, Choice, Fit, JobPlan, NotUsed, Offer, PassedOver, Way
from ratings.plan.offers import FleetPlan

NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def number_words(number: int) -> str:
    """Return a small number as a word, others in figures."""
    return NUMBERS[number] if 0 <= number < len(NUMBERS) else f"{number:,}"


def haul_words(haul_mi: float | None, system: str) -> str:
    """Return a haul such as "40 mi", or that it isn't known."""
    return "haul not known" if haul_mi is None else Quantity.DISTANCE.words(haul_mi, system)


def choice_words(choice: Choice, needed: int, system: str) -> str:
    """Say why a unit was chosen, such as "the nearest of the three that suit and are free"."""
    free = choice.rivals + needed
    if choice.aim is None:
        if choice.suited <= needed:
            return "the only one that suits" if needed == 1 else "all that suit are needed"
        return (
            "the only one that suits and is free"
            if needed == 1
            else "all that suit and are free are needed"
        )
    of = f"of the {number_words(free)} that suit and are free"
    many = number_words(needed)
    if choice.aim is Aim.OUTRIGHT:
        one = "the only one" if needed == 1 else f"one of the {many}"
        return f"{one} {of} to suit outright, not with care only"
    the, ones = ("the", "one") if needed == 1 else (f"one of the {many}", "")
    if choice.aim is Aim.TO_DO:
        return f"{the} {ones} {of} with the least to do before it goes".replace("  ", " ")
    if choice.aim is Aim.HAUL_KNOWN:
        return f"{the} {ones} {of} whose haul is known".replace("  ", " ")
    if choice.aim is Aim.HAUL:
        return f"{the} nearest {of}: {haul_words(choice.offer.haul_mi, system)}"
    if choice.aim is Aim.SPARE:
        margin = margin_words(choice.offer.margin)
        return (
            f"{of}, equally near, {the} {ones} with the least to spare, {margin} in line pull: "
            "stronger ones are kept for stronger pulls"
        ).replace("  ", " ")
    first = "the first" if needed == 1 else f"one of the first {many}"
    return f"{first} by mark {of}, alike in haul and strength"


def passed_words(passed: PassedOver, plan: FleetPlan, system: str) -> str:
    """Say why a unit doesn't go to a job."""
    if passed.reason is NotUsed.MAY_NOT_GO:
        return f"May not go: {passed.offer.why_not or 'it can’t be judged'}."
    if passed.reason is NotUsed.HELD and passed.busy:
        days = days_words(passed.busy.days.first_day, passed.busy.days.last_day)
        return f"Held: {passed.busy.what}, {days}."
    if passed.reason is NotUsed.ELSEWHERE and passed.other_job is not None:
        other = plan.job(passed.other_job)
        return (
            f"Goes to {other.site}, {days_words(other.first_day, other.last_day)}, and is on the "
            "way before and after."
        )
    return _better_words(passed, system)


def _better_words(passed: PassedOver, system: str) -> str:
    mine, better = passed.offer, passed.better
    if better is None or passed.aim is None:
        return "Suits, and is not needed."
    if passed.aim is Aim.OUTRIGHT:
        return f"Suits with care only; {better.unit} suits outright."
    if passed.aim is Aim.TO_DO:
        return f"More is to be done before it goes than to {better.unit}."
    if passed.aim is Aim.HAUL_KNOWN:
        return f"Its haul is not known; that of {better.unit} is."
    if passed.aim is Aim.HAUL:
        return (
            f"Farther: {haul_words(mine.haul_mi, system)}, {better.unit} "
            f"{haul_words(better.haul_mi, system)}."
        )
    if passed.aim is Aim.SPARE:
        return (
            f"More than needed: {margin_words(mine.margin)} in line pull, {better.unit} "
            f"{margin_words(better.margin)}."
        )
    return f"Alike in all that counts; {better.unit} comes first by mark."


def way_words(way: Way) -> str:
    """Say what would give a job a unit."""
    if way.first_day is not None:
        return (
            f"Begin on {day_words(way.first_day)} or later: {way.offer.unit} is free then for "
            "all of it."
        )
    return f"{capitalized(way.offer.remedy)}: {way.offer.unit} may go then."


MOST_WAYS = 4


@dataclass(frozen=True)
class Row:
    """A unit for a job: chosen or not, and why. key: of its tick, "" where it isn't chosen.

    is_ticked, is_care_known, watched_by: as somebody sent the form before; of a unit that suits
    outright the tick is set from the first.
    """

    offer: Offer
    hammer: str
    housing_id: int
    why: str
    margin: str
    haul: str
    care: str = ""
    to_do: tuple[str, ...] = ()
    key: str = ""
    is_ticked: bool = False
    is_care_known: bool = False
    watched_by: str = ""

    @property
    def is_with_care(self) -> bool:
        return self.offer.fit is Fit.CARE


def tick_key(job_id: int, housing_id: int) -> str:
    """Return how the form names a unit for a job."""
    return f"{job_id}-{housing_id}"


def read_tick(key: str) -> tuple[int, int]:
    """Return the job and the housing of a tick; of one that can't be read, no job's and none's."""
    job_id, _, housing_id = key.partition("-")
    return whole_number(job_id) or 0, whole_number(housing_id) or 0


def chosen_rows(part: JobPlan, plan: FleetPlan, system: str) -> list[Row]:
    """Return the units a job gets, with why."""
    return [
        _row(
            choice.offer,
            plan,
            capitalized(choice_words(choice, part.job.units_needed, system)) + ".",
            system,
            is_chosen=True,
        )
        for choice in part.choices
    ]


def passed_rows(part: JobPlan, plan: FleetPlan, system: str) -> list[Row]:
    """Return the units a job doesn't get, with why: those that suit first."""
    order = (NotUsed.BETTER, NotUsed.ELSEWHERE, NotUsed.HELD, NotUsed.MAY_NOT_GO)
    listed = sorted(part.passed_over, key=lambda each: (order.index(each.reason), each.offer.unit))
    return [_row(each.offer, plan, passed_words(each, plan, system), system) for each in listed]


def closest_row(part: JobPlan, plan: FleetPlan, system: str) -> Row | None:
    """Return the unit that comes closest to suiting a job that none suits, None without figures."""

    def least_margin(passed: PassedOver) -> float:
        return plan.fits[passed.offer.unit, passed.offer.job].least_margin or 0.0

    unfit = [each for each in part.passed_over if each.reason is NotUsed.MAY_NOT_GO]
    closest = max(unfit, key=least_margin, default=None)
    if closest is None or least_margin(closest) <= 0.0:
        return None
    return _row(closest.offer, plan, closest.offer.why_not, system)


def _row(offer: Offer, plan: FleetPlan, why: str, system: str, *, is_chosen: bool = False) -> Row:
    unit, fit = plan.units[offer.unit], plan.fits[offer.unit, offer.job]
    return Row(
        offer=offer,
        hammer=unit.hammer.mark,
        housing_id=unit.housing.pk,
        why=why,
        margin=margin_words(offer.margin),
        haul=haul_words(offer.haul_mi, system),
        care=fit.care,
        to_do=tuple(f"{each.said}, {each.days}" for each in fit.to_do),
        key=tick_key(offer.job, unit.housing.pk) if is_chosen else "",
        is_ticked=offer.fit is not Fit.CARE,
    )
