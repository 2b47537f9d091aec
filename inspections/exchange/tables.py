"""The tables of the register and their columns: what a header may hold and what it means.

A column of a model's field reads and means what that field does.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import models

from fleet.models import (
    Clamp,
    ClampFitting,
    Hammer,
    HourReading,
    HousingGuide,
    MachineSort,
    MeterChange,
    Mounting,
    OutOfService,
    PadLot,
    PowerPack,
    PowerPackConnection,
    ShelfCount,
    StockMove,
    SuppressorHousing,
    Yard,
)
from fleet.models.clamp import HELD_BY_COLUMN
from fleet.models.measured_fields import Measured, measured_field
from inspections.exchange.cells import (
    Column,
    NumberCell,
    TextCell,
    day,
    kind_needs,
    machine_sorts,
    moment,
    one_of,
    second_look,
    yes_or_no,
)
from inspections.models import (
    Inspection,
    InspectionKind,
    OwnKind,
    PadCount,
    PadReplacement,
    ReplacedPad,
)
from inspections.schedule.kinds import NEED_OR_SIGNER_WORDS
from ratings.models import (
    BenchPad,
    BenchReading,
    BenchTest,
    Gauge,
    GaugeCalibration,
    Listing,
    ReferenceCheck,
    ReferencePiece,
    ReferenceReading,
    Tape,
    TestStand,
    Thermometer,
)


@dataclass(frozen=True)
class Table:
    """A table: its name, what it holds, its columns, and the table its rows belong to."""

    name: str
    holds: str
    columns: tuple[Column, ...]
    belongs_to: str = ""

    @property
    def header(self) -> list[str]:
        return [column.name for column in self.columns]

    @property
    def when(self) -> str:
        """The column that says when a row happened, "" where none does."""
        times = (each.name for each in self.columns if each.read is moment and each.needed)
        return next(times, "")

    @property
    def parts(self) -> tuple[str, ...]:
        """The tables whose rows belong to this one's."""
        return tuple(each.name for each in TABLES if each.belongs_to == self.name)


def _column(
    model: type[models.Model],
    name: str,
    meaning: str = "",
    *,
    needed: bool | None = None,
    choices: Sequence[str] = (),
) -> Column:
    """Return the column of a model's field; its meaning is the field's own unless given.

    needed: unless given, where the model asks for it. choices: of those it has, where not all.
    """
    field: Any = model._meta.get_field(name)
    if needed is None:
        needed = not (field.blank or field.null or field.has_default())
    choices = choices or [value for value, _ in field.flatchoices]
    if not meaning:
        unit = field.quantity.symbol("us") if getattr(field, "quantity", None) else ""
        meaning = f"{field.verbose_name}{f', {unit}' if unit else ''}"
        meaning += f": {', '.join(choices)}" if choices else ""
        if field.has_default() and not needed:
            default = f"{field.default:g}" if isinstance(field.default, float) else field.default
            meaning += f"; {default} unless given"
    return Column(
        name, _reader(field, choices if needed or not choices else [*choices, ""]), meaning, needed
    )


def _of_one_machine(what: str) -> tuple[Column, ...]:
    """Return the columns that name one machine: its housing, or another sort of machine."""
    others = ("hammer", "clamp", "power_pack")
    return (
        _column(OutOfService, "housing", "the housing’s mark; blank where another is named"),
        *(
            _column(OutOfService, name, f"the {name.replace('_', ' ')}’s mark, where it is {what}")
            for name in others
        ),
    )


def _reader(field: Any, choices: Sequence[str]) -> Callable[[str], Any]:
    if isinstance(field, Measured):
        return NumberCell(field)
    if choices:
        return one_of(choices)
    if isinstance(field, models.BooleanField):
        return yes_or_no
    if isinstance(field, models.DateTimeField):
        return moment
    if isinstance(field, models.DateField):
        return day
    return TextCell(getattr(field, "max_length", None) or TextCell.most)


def _columns(model: type[models.Model], **meanings: str) -> tuple[Column, ...]:
    """Return columns of a model's fields, each with its meaning; blank where it is the field's."""
    return tuple(_column(model, name, meaning) for name, meaning in meanings.items())


def _name(name: str, meaning: str) -> Column:
    """Return the column by which a row names itself or a record."""
    return Column(name, TextCell(), meaning, needed=True)


YARD = "the yard’s name"
NOTE = "anything else"
CALIBRATION = {
    "certificate_number": "of its calibration",
    "calibrated_on": "when it was calibrated",
    "due_on": "when it is due again",
}
PRESSURE = NumberCell(measured_field(BenchReading, "gauge_psi"))
WHOSE_SHELF = "whose shelf; blank for none told apart"

TABLES = (
    Table(
        "yards",
        "places where hammers, housings and pads are kept",
        _columns(
            Yard,
            name="its name",
            place="where it is",
            currency="what its repairs and pads are paid in, by its three letters, such as USD",
        ),
    ),
    Table(
        "hammers",
        "vibratory hammers",
        _columns(
            Hammer,
            mark="what is painted on it",
            yard=YARD,
            make="its make",
            type_name="its type",
            serial_number="its serial number",
            eccentric_moment_lb_in="",
            frequency_vpm="vibrations per minute",
            exciter_weight_lb="",
            figures_source="where these figures are from",
            note=NOTE,
        ),
    ),
    Table(
        "clamps",
        "clamps with their jaws",
        _columns(
            Clamp,
            mark="what is painted on it",
            yard=YARD,
            make="its make",
            type_name="its type",
            serial_number="its serial number",
            weight_lb="",
            clamp_force_lbf="",
            figures_source="where these figures are from",
            **dict.fromkeys(HELD_BY_COLUMN, ""),
            jaws_note="what else there is to know of its jaws",
            retired_on="",
            note=NOTE,
        ),
    ),
    Table(
        "power_packs",
        "power packs that drive hammers",
        _columns(
            PowerPack,
            mark="what is painted on it",
            yard=YARD,
            make="its make",
            type_name="its type",
            serial_number="its serial number",
            power_hp="",
            flow_gpm="",
            pressure_psi="",
            figures_source="where these figures are from",
            retired_on="",
            note=NOTE,
        ),
    ),
    Table(
        "housings",
        "suppressor housings",
        _columns(
            SuppressorHousing,
            mark="what is painted on it",
            yard=YARD,
            positions_per_side="",
            design_travel_in="",
            serial_number="its serial number",
            weight_lb="",
            bumper="what stands in the stop",
            note=NOTE,
        ),
    ),
    Table(
        "lots",
        "pad lots",
        _columns(
            PadLot,
            mark="the lot’s mark",
            supplier="who supplied it",
            hardness_shore_a="",
            bonded_area_in2="",
            rubber_thickness_in="",
            reorder_point="order more at so many",
            use_by="when rubber on the shelf is too old",
            note=NOTE,
        ),
    ),
    Table(
        "stands",
        "bench stands that stretch pads",
        _columns(
            TestStand,
            name="its name",
            yard=YARD,
            bore_in="",
            rod_in="",
            bore_tolerance_in="",
            rod_tolerance_in="",
            bore_measured_on="when bore and rod were last measured",
            bore_measured_by="who measured them, and with what",
            note=NOTE,
        ),
    ),
    Table(
        "gauges",
        "pressure gauges",
        _columns(
            Gauge,
            mark="its mark",
            yard=YARD,
            span_psi="",
            grade="",
            resolution_psi="",
            serial_number="as on its dial",
            **CALIBRATION,
        ),
    ),
    Table(
        "tapes",
        "measuring tapes",
        _columns(Tape, mark="its mark", yard=YARD, resolution_in="", **CALIBRATION),
    ),
    Table(
        "thermometers",
        "thermometers for rubber",
        _columns(Thermometer, mark="its mark", yard=YARD, **CALIBRATION),
    ),
    Table(
        "pieces",
        "reference pieces, kept to check stands by",
        _columns(ReferencePiece, mark="its mark", yard=YARD, kind="", note=NOTE),
    ),
    Table(
        "certificates",
        "certificates of gauges",
        (
            _name("certificate", "any name, the same in its points"),
            *_columns(
                GaugeCalibration,
                gauge="the gauge’s mark",
                certificate_number="its number",
                laboratory="who calibrated it",
                serial_number="",
                calibrated_on="when",
                due_on="when it is due again",
                expanded_psi="",
                coverage_factor="",
                no_found_reason="",
                note=NOTE,
            ),
        ),
    ),
    Table(
        "certificate_points",
        "the points of those certificates, from the least pressure to the greatest",
        (
            _name("certificate", "the certificate’s name"),
            Column("applied_psi", PRESSURE, "pressure applied, psi", needed=True),
            Column("as_found_psi", PRESSURE, "what the gauge showed as it came, psi"),
            Column("as_left_psi", PRESSURE, "what it showed as it went back, where adjusted, psi"),
        ),
        belongs_to="certificates",
    ),
    Table(
        "checks",
        "checks of stands by reference pieces",
        (
            _name("check", "any name, the same in its readings"),
            *_columns(
                ReferenceCheck,
                stand="the stand’s name",
                gauge="the gauge’s mark",
                tape="the tape’s mark",
                piece="the piece’s mark",
                end="",
                tape_datum_in="",
                checked_at="when",
                gauge_zero_psi="",
                temperature_f="",
                note=NOTE,
            ),
        ),
    ),
    Table(
        "check_readings",
        "readings of those checks",
        (
            _name("check", "the check’s name"),
            *_columns(ReferenceReading, run="", branch="", tape_in="", gauge_psi=""),
        ),
        belongs_to="checks",
    ),
    Table(
        "bench_tests",
        "bench tests of lots",
        (
            _name("test", "any name, the same in its readings"),
            *_columns(
                BenchTest,
                lot="the lot’s mark",
                stand="the stand’s name",
                gauge="the gauge’s mark",
                tape="the tape’s mark",
                end="",
                pads_in_test="",
                tape_datum_in="",
                tested_at="when",
                gauge_zero_psi="",
                conditioning_cycles="",
                rubber_temperature_f="",
                thermometer="the thermometer’s mark",
                tape_after_in="",
                arrangement="how the pads stood",
                witness="who saw it",
                note=NOTE,
            ),
        ),
    ),
    Table(
        "readings",
        "readings of bench tests",
        (
            _name("test", "the test’s name"),
            *_columns(BenchReading, run="", branch="", tape_in="", gauge_psi=""),
        ),
        belongs_to="bench_tests",
    ),
    Table(
        "tested_pads",
        "the pads of those tests, where something is known of them",
        (
            _name("test", "the test’s name"),
            *_columns(
                BenchPad,
                number="which of the pads that shared the load, from 1",
                mark="what is painted on the pad",
                origin="",
                housing="the housing it worked in; blank where new",
                side="",
                position="",
                hours="",
                fate="",
            ),
        ),
        belongs_to="bench_tests",
    ),
    Table(
        "stock_moves",
        "pads that came to a shelf or left it, but for those fitted; counted is the difference "
        "that a count found",
        (
            *_columns(StockMove, lot="the lot’s mark", yard=WHOSE_SHELF),
            _column(
                StockMove,
                "kind",
                choices=[kind for kind in StockMove.Kind.values if kind != StockMove.Kind.FITTED],
            ),
            *_columns(
                StockMove, change="pads added; negative: left", occurred_at="when", note=NOTE
            ),
        ),
    ),
    Table(
        "shelf_counts",
        "what was counted on shelves; the books are brought to it",
        (
            _name("lot", "the lot’s mark"),
            Column("yard", TextCell(), WHOSE_SHELF),
            _column(ShelfCount, "pads", "pads that lie there", needed=True),
            Column("counted_at", moment, "when; no pad moved since", needed=True),
            _column(StockMove, "note", NOTE),
        ),
    ),
    Table(
        "mountings",
        "housings put on hammers and taken off",
        (
            _column(Mounting, "housing", "the housing’s mark"),
            _column(
                Mounting,
                "hammer",
                "the hammer’s mark; blank where it was taken off",
                needed=False,
            ),
            Column("at", moment, "when", needed=True),
        ),
    ),
    *(
        Table(
            name,
            holds,
            (
                _column(model, whose, f"the {whose.replace('_', ' ')}’s mark"),
                _column(
                    model,
                    "hammer",
                    "the hammer’s mark; blank where it was taken off",
                    needed=False,
                ),
                Column("at", moment, "when", needed=True),
            ),
        )
        for name, holds, model, whose in (
            ("clamp_fittings", "clamps fitted to hammers and taken off", ClampFitting, "clamp"),
            (
                "power_pack_connections",
                "power packs connected to hammers and taken off",
                PowerPackConnection,
                "power_pack",
            ),
        )
    ),
    Table(
        "guides",
        "whether housings are guided; one without a row here counts as not guided",
        _columns(
            HousingGuide,
            housing="the housing’s mark",
            occurred_at="since when, or when it was seen so",
            is_guided="yes where rods or slides keep it level, so that both sides stretch alike; "
            "else no",
            reason="what shows it",
        ),
    ),
    Table(
        "listings",
        "what literature or data plate claims of a hammer",
        _columns(
            Listing,
            hammer="the hammer’s mark",
            listed_lbf="",
            source="who claims it",
            dated="the day the source bears",
            note=NOTE,
        ),
    ),
    Table(
        "meter_changes",
        "hour meters changed or set back",
        _columns(
            MeterChange,
            hammer="the hammer’s mark",
            power_pack="the power pack’s mark, where the meter is its own",
            changed_at="when",
            old_hours="",
            new_hours="",
            reason="why",
        ),
    ),
    Table(
        "hour_readings",
        "hour meters read by themselves, beside those of inspections",
        _columns(
            HourReading,
            hammer="the hammer’s mark",
            power_pack="the power pack’s mark, where the meter is its own",
            hours="what it showed",
            read_at="when",
        ),
    ),
    Table(
        "kinds",
        "kinds of inspection of the yard’s own",
        (
            _column(OwnKind, "name", "its name"),
            Column(
                "looks_at",
                machine_sorts,
                f"what it looks at: one or more of {', '.join(MachineSort.values)}; by its name "
                "where it is blank",
            ),
            Column(
                "needs",
                kind_needs,
                f"what it needs to count: any of {', '.join(NEED_OR_SIGNER_WORDS)}; blank "
                "for nothing",
            ),
            Column("retired_at", moment, "since when it is no longer used; blank while it is"),
        ),
    ),
    Table(
        "counts",
        "inspections of housings",
        (
            _name("count", "any name, the same in its pads"),
            *_of_one_machine("inspected by itself, such as a hammer on no housing"),
            *_columns(Inspection, seen_at="when"),
            Column(
                "kind",
                TextCell(),
                f"{', '.join(InspectionKind.values)}, or one of table kinds; pad count unless "
                "given",
            ),
            *_columns(
                Inspection,
                travel_in="travel taped, in; blank where it was not",
                travel_reason="why a travel beyond design is right",
            ),
            _column(HourReading, "hours", "hour meter of the hammer", needed=False),
            Column(
                "pack_hours",
                NumberCell(measured_field(HourReading, "hours")),
                "hour meter of the power pack",
            ),
            *_columns(
                Inspection,
                weather="the weather",
                sound_again_reason="why pads found unsound before are sound with no new one; they "
                "wait for a second look all the same",
            ),
            Column(
                "second_look",
                second_look,
                "sound or not sound: what another person found of those pads. A file signs for "
                "nobody: it is kept in the note, and they wait for a second look here",
            ),
            Column("second_look_by", TextCell(), "who looked"),
            Column("second_look_reason", TextCell(), "what they saw"),
            *_columns(Inspection, note=NOTE),
        ),
    ),
    Table(
        "pads",
        "pads seen in those inspections, every position of a housing or none",
        (
            _name("count", "the count’s name"),
            *_columns(
                PadCount,
                side="",
                number="",
                condition="",
                lot="the pad’s lot; blank where not known",
            ),
        ),
        belongs_to="counts",
    ),
    Table(
        "replacements",
        "pads fitted from stock",
        (
            _name("replacement", "any name, the same in its pads"),
            *_columns(PadReplacement, housing="the housing’s mark", fitted_at="when", note=NOTE),
        ),
    ),
    Table(
        "fitted_pads",
        "the pads of those replacements",
        (
            _name("replacement", "the replacement’s name"),
            *_columns(ReplacedPad, side="", number="", lot="the lot it was taken from"),
        ),
        belongs_to="replacements",
    ),
    # Of one moment: it came back before it went out again.
    Table(
        "releases",
        "machines released to service, after an inspection since they went out",
        (
            *_of_one_machine("released"),
            Column("at", moment, "when", needed=True),
            Column(
                "reason",
                _column(OutOfService, "release_reason").read,
                "why it may go out again",
                needed=True,
            ),
            _column(
                OutOfService,
                "qualified_person",
                "who found it fit: the name of somebody who signs in here and whose qualification "
                "for releases held then",
                needed=True,
            ),
        ),
    ),
    Table(
        "out_of_service",
        "machines pulled out of service",
        (
            *_of_one_machine("taken out"),
            *_columns(OutOfService, since="since when", reason="why"),
        ),
    ),
)

BY_NAME = {table.name: table for table in TABLES}
# By the column that names one, which is its table's name in the singular: what the yard owns, and
# what it is called by.
NAMED: dict[str, tuple[type[models.Model], str]] = {
    "yard": (Yard, "name"),
    "hammer": (Hammer, "mark"),
    "clamp": (Clamp, "mark"),
    "power_pack": (PowerPack, "mark"),
    "housing": (SuppressorHousing, "mark"),
    "lot": (PadLot, "mark"),
    "stand": (TestStand, "name"),
    "gauge": (Gauge, "mark"),
    "tape": (Tape, "mark"),
    "thermometer": (Thermometer, "mark"),
    "piece": (ReferencePiece, "mark"),
}
