"""What programs send: its shape, by which it is refused, and its words in the document.

Bounds of figures are told here and held by the forms that read them, in whose words they are
refused; each is declared once, on its model.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from django.db import models
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, WithJsonSchema, create_model

from fleet.fields import LARGEST_KEY
from fleet.models import HourReading, MachineSort
from fleet.models.housing import Condition, Side
from fleet.models.measured_fields import measured_field
from inspections.api.columns import words_of
from inspections.api.moments import plain_day, zoned_moment
from inspections.field.payload import MOST_FINDINGS, MOST_ROWS
from inspections.machines.forms import METERED
from inspections.models import Finding, Inspection, ItemAnswer
from inspections.models.kind import LONGEST_NAME
from ratings.bench.forms import MOST_READINGS
from ratings.models import BenchPad, BenchReading, BenchTest, PullRecord
from ratings.models.bench import MOST_PADS_IN_TEST
from ratings.read_again import LONGEST_REASON

LONGEST_NOTE = 2000
# Something stands in it that can be seen.
FILLED = r"\S"


def _zoned(given: str) -> str:
    return zoned_moment(given).isoformat()


def _day(given: str) -> str:
    return plain_day(given).isoformat()


Key = Annotated[int, Field(ge=0, le=LARGEST_KEY)]
Moment = Annotated[
    str, AfterValidator(_zoned), WithJsonSchema({"type": "string", "format": "date-time"})
]
Day = Annotated[str, AfterValidator(_day), WithJsonSchema({"type": "string", "format": "date"})]


class Body(BaseModel):
    """Something sent: nothing in it that has no name here, and no text for a number."""

    model_config = ConfigDict(extra="forbid", strict=True)


def body(name: str, about: str, **fields: Any) -> type[Body]:
    """Return the shape of something sent: its fields by name, each made by the functions below."""
    made: type[Body] = create_model(name, __base__=Body, __doc__=about, **fields)
    return made


def needed(annotation: Any, words: str = "") -> tuple[Any, Any]:
    """Return a field that must be given."""
    return annotation, Field(description=words) if words else Field()


def optional(annotation: Any, words: str = "") -> tuple[Any, Any]:
    """Return a field that may be left out, or be null."""
    return annotation | None, Field(None, description=words or None)


def listed(row: Any, most: int, words: str = "") -> tuple[Any, Any]:
    """Return a list that may be empty."""
    return list[row], Field(default_factory=list, max_length=most, description=words or None)


def figure(model: type[models.Model], name: str) -> Any:
    """Return the type of a figure: the document has its bounds, and its form holds it to them."""
    field: Any = measured_field(model, name)
    schema = {
        "type": "integer" if field.is_whole else "number",
        "exclusiveMinimum" if field.above_least else "minimum": field.least,
        "maximum": field.most,
        "description": words_of(field),
    }
    return Annotated[int if field.is_whole else float, WithJsonSchema(schema)]


def text(model: type[models.Model], name: str, *, is_filled: bool = False) -> Any:
    """Return the type of a text, no longer than its column."""
    field: Any = model._meta.get_field(name)
    most, pattern = field.max_length or LONGEST_NOTE, FILLED if is_filled else None
    return Annotated[str, Field(max_length=most, pattern=pattern, description=words_of(field))]


def choice(model: type[models.Model], name: str) -> Any:
    """Return the type of a choice: one of its few words."""
    field: Any = model._meta.get_field(name)
    words = tuple(value for value, _ in field.flatchoices if value)
    return Annotated[Literal[words], Field(description=words_of(field))]


PAD = body(
    "PadSent",
    "What was seen at one position.",
    side=needed(Literal[tuple(Side.values)]),
    number=needed(Annotated[int, Field(ge=1, le=MOST_ROWS)], "Counted from the top."),
    condition=needed(Literal[tuple(Condition.values)]),
    lot=optional(Key, "The id of its lot; null for a pad that is missing, or of no known lot."),
)
ANSWER = body(
    "AnswerSent",
    "What was said of one item of a checklist.",
    key=needed(text(ItemAnswer, "key", is_filled=True)),
    part=optional(text(ItemAnswer, "part")),
    text=optional(text(ItemAnswer, "text")),
    state=needed(choice(ItemAnswer, "state")),
    reason=optional(text(ItemAnswer, "reason")),
)
FINDING = body(
    "FindingSent",
    "Something found wrong: all but the least grave says who must act, and by when.",
    number=needed(
        Annotated[int, Field(ge=0, le=MOST_FINDINGS)], "Which of the findings it is, each once."
    ),
    severity=needed(choice(Finding, "severity")),
    text=needed(text(Finding, "text", is_filled=True)),
    item_key=optional(text(Finding, "item_key")),
    act_by=optional(Day, "By when somebody must act."),
    who_acts=optional(text(Finding, "who_acts")),
    machine=optional(
        Literal[tuple(MachineSort.values)], "What it was found at; else its words tell."
    ),
)
INSPECTION = body(
    "InspectionSent",
    "An inspection of a unit, signed by the person of the token.",
    housing=needed(Key, "The id of the unit’s housing."),
    kind=needed(
        Annotated[str, Field(max_length=LONGEST_NAME, pattern=FILLED)],
        "Such as pad count, each shift, monthly, or a kind of the yard’s own.",
    ),
    seen_at=needed(Moment, "When it was seen."),
    pads=listed(PAD, MOST_ROWS, "Every position; empty where they were not counted."),
    travel_in=optional(figure(Inspection, "travel_in"), "Travel as taped, in."),
    travel_reason=optional(text(Inspection, "travel_reason")),
    hours=optional(figure(HourReading, "hours"), "What the hammer’s meter showed."),
    pack_hours=optional(figure(HourReading, "hours"), "What the power pack’s meter showed."),
    weather=optional(text(Inspection, "weather")),
    note=optional(text(Inspection, "note")),
    answers=listed(ANSWER, MOST_ROWS, "To the checklist of its kind."),
    findings=listed(FINDING, MOST_ROWS, "What was found wrong."),
    sound_again_reason=optional(text(Inspection, "sound_again_reason")),
    second_look_by=optional(Key, "The id of the manager who looks at those pads too."),
)
READING = body(
    "ReadingSent",
    "One reading of tape and gauge.",
    tape_in=needed(figure(BenchReading, "tape_in")),
    gauge_psi=needed(figure(BenchReading, "gauge_psi")),
    run=optional(figure(BenchReading, "run")),
    branch=optional(choice(BenchReading, "branch")),
)
TESTED_PAD = body(
    "TestedPadSent",
    "What is known of one pad of a test.",
    mark=optional(text(BenchPad, "mark")),
    origin=optional(choice(BenchPad, "origin")),
    housing=optional(Key, "The id of the housing it came out of."),
    position=optional(
        Annotated[str, Field(pattern="^[AB][0-9]{1,3}$")], "Where in it, such as A3."
    ),
    hours=optional(figure(BenchPad, "hours")),
    fate=optional(choice(BenchPad, "fate")),
)
BENCH_TEST = body(
    "BenchTestSent",
    "A bench test of pads of a lot. It drafts a rating, which a second person approves.",
    lot=needed(Key, "The id of the lot."),
    stand=needed(Key, "The id of the test stand."),
    gauge=needed(Key, "The id of the gauge."),
    tape=needed(Key, "The id of the tape."),
    thermometer=optional(Key, "The id of the thermometer."),
    end=needed(choice(BenchTest, "end"), "The end of the cylinder that the pressure acts on."),
    pads_in_test=needed(figure(BenchTest, "pads_in_test")),
    tape_datum_in=needed(figure(BenchTest, "tape_datum_in")),
    gauge_zero_psi=optional(figure(BenchTest, "gauge_zero_psi")),
    tested_at=needed(Moment, "When it was tested."),
    conditioning_cycles=optional(figure(BenchTest, "conditioning_cycles")),
    rubber_temperature_f=optional(figure(BenchTest, "rubber_temperature_f")),
    tape_after_in=optional(figure(BenchTest, "tape_after_in")),
    arrangement=optional(text(BenchTest, "arrangement")),
    witness=optional(text(BenchTest, "witness")),
    note=optional(text(BenchTest, "note")),
    pads=listed(TESTED_PAD, MOST_PADS_IN_TEST, "One each that shared the load, or none."),
    readings=(list[READING], Field(min_length=2, max_length=MOST_READINGS)),  # type: ignore[valid-type]
    is_read_again=optional(bool, "Of a rate that can hardly be: it was read again, and is right."),
    read_again_reason=optional(Annotated[str, Field(max_length=LONGEST_REASON)], "Why it is."),
)
HOURS = body(
    "HourReadingSent",
    "What the hour meter of a hammer or a power pack showed, read by itself.",
    sort=needed(Literal[tuple(str(each) for each in METERED)]),
    machine=needed(Key, "The id of the hammer, or of the power pack."),
    hours=needed(figure(HourReading, "hours")),
    read_at=needed(Moment, "When it was read."),
    corrects=optional(
        Key,
        "The id of a reading of that meter that was wrong and counts no more. Where the policy "
        "asks for a second person, a correction is proposed on the page, not here.",
    ),
)
PULL = body(
    "PullSent",
    "What happened when a pile of a committed job was pulled.",
    commitment=needed(Key, "The id of the commitment the unit was there for."),
    pile_group=needed(Annotated[int, Field(ge=0, le=MOST_FINDINGS)], "Which piles of its answer."),
    pile_mark=needed(text(PullRecord, "pile_mark", is_filled=True)),
    pulled_at=needed(Moment, "When it was pulled."),
    outcome=needed(choice(PullRecord, "outcome")),
    method=needed(choice(PullRecord, "method")),
    load_source=needed(choice(PullRecord, "load_source")),
    hook_load_lbf=optional(figure(PullRecord, "hook_load_lbf")),
    tare_lbf=optional(figure(PullRecord, "tare_lbf")),
    stretch_in=optional(figure(PullRecord, "stretch_in")),
    minutes=optional(figure(PullRecord, "minutes")),
    toe_depth_ft=optional(figure(PullRecord, "toe_depth_ft")),
    in_the_way=optional(text(PullRecord, "in_the_way")),
    watched_by=needed(text(PullRecord, "watched_by", is_filled=True)),
    are_doubts_known=optional(bool, "What is doubted was read again, and is right."),
)
