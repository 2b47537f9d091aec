"""The pads of a bench test: what may be said of each, held to what can be."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields

from django.core.exceptions import ValidationError

from fleet.models import SuppressorHousing
from fleet.models.measured_fields import measured_field
from fleet.quantities import plain_number
from ratings.models import BenchPad, BenchTest

Origin, Fate = BenchPad.Origin, BenchPad.Fate
LONGEST_MARK = 40


@dataclass(frozen=True)
class TestedPad:
    """A pad that was stretched: which, where it came from, and what became of it.

    number: among the pads that shared the load, from 1. Nothing else need be said. Only a pad
    from service has a housing, a position in it (its side and number) and hours worked there.
    """

    __test__ = False  # A pad that was tested, not a test for pytest to collect.

    number: int
    mark: str = ""
    origin: str = ""
    housing: SuppressorHousing | None = None
    side: str = ""
    position: int | None = None
    hours: float | None = None
    fate: str = ""

    @property
    def is_silent(self) -> bool:
        """Whether nothing was said of it."""
        return self == TestedPad(self.number)


class PadError(ValueError):
    """A pad that can't be: its number in the test and the field to blame."""

    def __init__(self, number: int, field: str, message: str) -> None:
        self.number = number
        self.field = field
        self.trouble = message
        super().__init__(f"pad {number}: {message}")


def mark_key(mark: str) -> str:
    """Return what two marks of one pad share: capitals and spaces around it make no other pad."""
    return " ".join(mark.split()).casefold()


def check_pads(pads: Sequence[TestedPad], pads_in_test: int) -> None:
    """Refuse pads that can't be. Raises PadError naming the pad and the field."""
    numbers: set[int] = set()
    marked: dict[str, int] = {}
    for pad in pads:
        if not 1 <= pad.number <= pads_in_test:
            raise PadError(
                pad.number,
                "mark",
                f"{pads_in_test} pad{'s' * (pads_in_test != 1)} shared the load: leave this row "
                "blank, or correct how many did",
            )
        if pad.number in numbers:
            raise PadError(pad.number, "number", "given twice: give each pad one row")
        numbers.add(pad.number)
        _check_mark(pad)
        other = marked.setdefault(mark_key(pad.mark), pad.number) if pad.mark else pad.number
        if other != pad.number:
            raise PadError(
                pad.number,
                "mark",
                f"“{pad.mark}” is the mark of pad {other} too: one pad is stretched once in a "
                "test. Read the marks again",
            )
        _check_choice(pad, "origin", Origin.values)
        _check_choice(pad, "fate", Fate.values)
        _check_service(pad)


def _check_mark(pad: TestedPad) -> None:
    if not pad.mark:
        return
    if len(pad.mark) > LONGEST_MARK:
        raise PadError(
            pad.number, "mark", f"has {len(pad.mark)} characters: {LONGEST_MARK} at the most"
        )
    try:
        BenchPad._meta.get_field("mark").run_validators(pad.mark)
    except ValidationError as error:
        raise PadError(pad.number, "mark", " ".join(error.messages)) from error


def _check_choice(pad: TestedPad, name: str, choices: Iterable[str]) -> None:
    given = getattr(pad, name)
    if given and given not in choices:
        raise PadError(pad.number, name, f"“{given}” won’t do: give {' or '.join(choices)}")


def _check_service(pad: TestedPad) -> None:
    served = {
        "housing": pad.housing is not None,
        "position": bool(pad.side) or pad.position is not None,
        "hours": pad.hours is not None,
    }
    if pad.origin != Origin.FROM_SERVICE:
        for name in (name for name, is_given in served.items() if is_given):
            raise PadError(
                pad.number,
                name,
                "only a pad from service worked in a housing: say that it came from service, or "
                "leave this blank",
            )
    if served["position"]:
        _check_position(pad)
    try:
        measured_field(BenchPad, "hours").refuse_out_of_bounds(pad.hours)
    except ValidationError as error:
        raise PadError(pad.number, "hours", " ".join(error.messages)) from error


def _check_position(pad: TestedPad) -> None:
    if pad.housing is None:
        raise PadError(
            pad.number, "housing", "a position is of a housing: say which, or leave both blank"
        )
    if (pad.side, pad.position) not in pad.housing.position_keys:
        last = pad.housing.positions_per_side
        raise PadError(
            pad.number,
            "position",
            f"housing {pad.housing} has A1 to A{last} and B1 to B{last}: give one of these",
        )


def record_pads(test: BenchTest, pads: Iterable[TestedPad]) -> None:
    """Record what was said of a test's pads; a pad of which nothing was said has no row."""
    names = [field.name for field in fields(TestedPad)]
    BenchPad.objects.bulk_create(
        BenchPad(test=test, **{name: getattr(pad, name) for name in names})
        for pad in pads
        if not pad.is_silent
    )


def pads_of(test: BenchTest) -> tuple[TestedPad, ...]:
    """Return what is on record of a test's pads."""
    names = [field.name for field in fields(TestedPad)]
    return tuple(
        TestedPad(**{name: getattr(pad, name) for name in names}) for pad in test.pads.all()
    )


def told_pads(pads: Iterable[TestedPad]) -> str:
    """Tell what was said of a test's pads, a line each; "" where nothing was."""
    return "\n".join(_told_pad(pad) for pad in pads if not pad.is_silent)


def _told_pad(pad: TestedPad) -> str:
    position = f"{pad.side}{pad.position}" if pad.position is not None else ""
    told = [
        f"marked {pad.mark}" if pad.mark else "",
        pad.origin,
        f"out of housing {pad.housing} {position}".rstrip() if pad.housing else "",
        f"{plain_number(pad.hours, 3)} h" if pad.hours is not None else "",
        pad.fate,
    ]
    return f"Pad {pad.number}: {', '.join(each for each in told if each)}"
