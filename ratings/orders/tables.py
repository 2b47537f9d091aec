"""Orders of pads and what came of them, as tables."""

from __future__ import annotations

from typing import Any

import django_filters
from django.db.models import F, QuerySet
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet import clock
from fleet.models import PadOrder, PadReceipt, Yard
from fleet.people.own_yards import OwnYardsFilter
from fleet.quantities import money
from fleet.tables import (
    Column,
    DatedFilter,
    DayColumn,
    MomentColumn,
    PersonColumn,
    RecordsTable,
    TemplateColumn,
)


def orders_with_all() -> QuerySet[PadOrder]:
    """Return every order with how it stands and what its rows show."""
    found: QuerySet[PadOrder] = PadOrder.objects.with_state().select_related(
        "yard", "lot", "cancellation", "recorded_by"
    )
    return found


class PadOrderTable(RecordsTable):
    """A row for each order of pads."""

    caption = "Orders of pads"
    empty_words = "No pads were ordered yet."
    nothing_found = "No order matches: clear the filters."

    number = Column("Order", accessor="pk")
    state = TemplateColumn("orders/state.html", "State", orderable=False)
    what = Column("Pads of", empty_values=(), orderable=False)
    yard = Column("For yard", accessor="yard__name")
    pads = Column("Ordered", css="number")
    received = Column("Came", css="number")
    due_on = DayColumn("Promised for")
    cost = Column("Cost", css="number", orderable=False)

    def render_number(self, record: PadOrder) -> SafeString:
        url = reverse("pad-order", args=[record.pk])
        return format_html('<a href="{}"><strong>{}</strong></a>', url, record.pk)

    def render_what(self, record: PadOrder) -> SafeString:
        return format_html(
            '{}<br><span class="small faint">{}</span>', record.what, record.supplier
        )

    def render_cost(self, record: PadOrder) -> str:
        return money(record.cost, record.currency)


class PadOrderFilter(OwnYardsFilter, DatedFilter):
    """Narrow the orders by a word, a yard, or how they stand."""

    hint = "lot, supplier or number"
    searched = ("lot__mark", "kind", "supplier", "supplier_words", "ordered_by")
    begins = "recorded_at"

    state = django_filters.ChoiceFilter(
        label="State",
        empty_label="any",
        choices=[
            ("open", "under way"),
            ("late", "late"),
            ("came", "all came"),
            ("cancelled", "cancelled"),
        ],
        method="filter_state",
    )
    yard = django_filters.ModelChoiceFilter(
        label="Yard", empty_label="any", queryset=Yard.objects.all()
    )

    def filter_state(self, found: Any, name: str, value: str) -> Any:
        if value == "cancelled":
            return found.filter(cancellation__isnull=False)
        if value == "came":
            return found.filter(cancellation__isnull=True, received__gte=F("pads"))
        return found.late(clock.today()) if value == "late" else found.open()


class PadReceiptTable(RecordsTable):
    """What came of one order."""

    caption = "What came"
    anchor = "came"
    own_prefix = "came-"
    empty_words = "Nothing came yet."
    dated_by = ("received_at",)

    received_at = DayColumn("When")
    pads = Column("Pads", css="number")
    lot = Column("Of lot", empty_values=(), order_by="lot__mark")
    note = Column("Note", empty_values=(), orderable=False)
    by = PersonColumn("Recorded by")
    act = TemplateColumn("orders/receipt_act.html", "", orderable=False)

    def render_lot(self, record: PadReceipt) -> SafeString:
        url = reverse("lot", args=[record.lot_id])
        return format_html('<a href="{}">{}</a>', url, record.lot)

    def render_note(self, record: PadReceipt) -> str:
        said = [record.note]
        if record.more_reason:
            said.append(f"more than ordered: {record.more_reason}")
        return "; ".join(each for each in said if each) or "–"


class PadPromiseTable(RecordsTable):
    """The days a supplier promised one order for since."""

    caption = "Promised anew"
    anchor = "promises"
    own_prefix = "promises-"
    empty_words = "The first day promised holds."
    dated_by = ("recorded_at",)

    recorded_at = MomentColumn("Said")
    promised_on = DayColumn("For")
    words = Column("In the supplier’s words")
    by = PersonColumn("Recorded by")
