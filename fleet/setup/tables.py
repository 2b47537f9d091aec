from __future__ import annotations

from datetime import date
from typing import Any

from django.db.models import Field, Model
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe
from django.utils.text import capfirst

from fleet.dates import day_words
from fleet.models import SetUpChange
from fleet.models.measured_fields import Measured
from fleet.quantities import plain_number
from fleet.setup.things import Thing
from fleet.tables import (
    NONE,
    Column,
    DayColumn,
    MeasuredColumn,
    MomentColumn,
    PersonColumn,
    RecordsTable,
)


def value_words(field: Field[Any, Any], value: Any, system: str, none: str = "blank") -> str:
    """Return a value on record of a field in words, a measured one in the reader's system."""
    if value is None or value == "":
        return none
    if isinstance(field, Measured):
        if field.quantity is not None:
            shown = field.quantity.shown(float(value), system)
            return f"{plain_number(shown, 4)} {field.quantity.symbol(system)}"
        return plain_number(float(value), 4)
    if field.choices:
        return str(dict(field.flatchoices).get(value, value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    if field.get_internal_type() == "DateField":
        return day_words(value if isinstance(value, date) else date.fromisoformat(str(value)))
    return str(value)


class ThingTable(RecordsTable):
    """Things of one kind, with their yard and what else of them is worth a column."""

    thing: Thing[Any]

    name = Column("Name", empty_values=())
    yard = Column("Yard", accessor="yard__name")

    def render_name(self, record: Any) -> SafeString:
        url = reverse(self.thing.page, args=[record.pk])
        words = getattr(record, "mark", None) or record.name
        out = format_html(" <strong>{}</strong>", "out of use") if record.retired_on else ""
        return format_html('<a href="{}"><strong>{}</strong></a>{}', url, words, out)


def table_class_of(thing: Thing[Any]) -> type[ThingTable]:
    """Return the table of things of one kind."""
    names = {field.name for field in thing.model._meta.concrete_fields}
    named = "mark" if "mark" in names else "name"
    columns = {name: _column(thing.model, name) for name in thing.shown}
    columns["name"] = Column("Name" if named == "name" else "Mark", empty_values=(), order_by=named)
    if "yard" not in names:
        columns["yard"] = None
    meta = type("Meta", (), {"sequence": ("name", *thing.shown, "...")})
    return type(
        f"{thing.model.__name__}Table",
        (ThingTable,),
        columns
        | {
            "thing": thing,
            "Meta": meta,
            "caption": capfirst(thing.plural),
            "anchor": thing.folder,
            "empty_words": f"No {thing.name} is on record yet.",
        },
    )


def _column(model: type[Model], name: str) -> Any:
    field = model._meta.get_field(name)
    heading = capfirst(str(getattr(field, "verbose_name", name)))
    if isinstance(field, Measured):
        if field.quantity is not None:
            return MeasuredColumn(field.quantity, heading)
        return Column(heading, css="number")
    if getattr(field, "choices", None):
        return Column(heading, accessor=f"get_{name}_display", order_by=name)
    return DayColumn(heading) if field.get_internal_type() == "DateField" else Column(heading)


class SetUpChangeTable(RecordsTable):
    """What was changed of one thing, the newest first. model: what kind of thing."""

    caption = "Changes on record"
    anchor = "changes"
    own_prefix = "changes-"
    empty_words = "None: it was entered before changes were kept, and stands as it was entered."
    dated_by = ("recorded_at",)

    recorded_at = MomentColumn("When")
    kind = Column("What", accessor="get_kind_display", orderable=False)
    changes = Column("From, to", empty_values=(), orderable=False)
    reason = Column("Why", default=NONE, orderable=False)
    by = PersonColumn("By")

    def __init__(self, *args: Any, model: type[Model], **kwargs: Any) -> None:
        self.model = model
        super().__init__(*args, **kwargs)

    def render_changes(self, record: SetUpChange) -> SafeString | str:
        fields = {field.name: field for field in self.model._meta.concrete_fields}
        lines = [
            (
                capfirst(str(fields[name].verbose_name)),
                value_words(fields[name], before, self.system),
                value_words(fields[name], after, self.system),
            )
            for name, (before, after) in record.changes.items()
            if name in fields
        ]
        return format_html_join(mark_safe("<br>"), "{}: {} → {}", lines) or NONE
