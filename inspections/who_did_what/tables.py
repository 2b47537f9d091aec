from __future__ import annotations

import operator
from functools import reduce

import django_filters
from django.contrib.auth.models import User
from django.db.models import Q, QuerySet
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.fields import PlainText
from fleet.journal.scope import journaled_models
from fleet.models import Leaf, SuppressorHousing
from fleet.roles import who_words
from fleet.tables import Column, DatedFilter, DaysAsked, MomentColumn, RecordsTable
from inspections.search.sources import words_asked
from inspections.who_did_what.doings import REFUSAL, SIGN_IN, Telling, kind_words, with_before

NOBODY = "nobody"
WRITES, SIGN_INS, REFUSALS = "writes", "sign-ins", "refusals"


# So many lines are found by their texts and counted; no more texts are read than it takes.
MOST_FOUND = 1_000


class DoingTable(RecordsTable):
    """Lines of the journal in words, the newest first."""

    caption = "Who did what"
    empty_words = "Nothing is on record yet."
    nothing_found = "Nothing matches: clear the filters."
    css = "doings"

    recorded_at = MomentColumn("When", orderable=False)
    who = Column("Who", empty_values=(), orderable=False)
    what = Column("What", empty_values=(), orderable=False)
    place = Column("Line", css="number", empty_values=(), orderable=False)

    def load_page(self, records: list[Leaf]) -> None:
        # Not with the list itself: it would be looked up for every line before the page, too.
        lines = with_before(Leaf.objects.filter(pk__in=[record.pk for record in records]))
        told = Telling(self.system).tell(list(lines))
        self.doings = {doing.leaf.pk: doing for doing in told}

    def render_who(self, record: Leaf) -> str:
        return self.doings[record.pk].who

    def render_what(self, record: Leaf) -> SafeString:
        doing = self.doings[record.pk]
        link = format_html(' <a href="{}">Open</a>', doing.page) if doing.page else ""
        mark = "⚠ " if record.model == REFUSAL else ""
        return format_html("{}{}{}", mark, doing.what, link)

    def render_place(self, record: Leaf) -> SafeString:
        words = "waits" if record.place is None else f"{record.place:,}"
        return format_html('<a href="{}">{}</a>', reverse("leaf", args=[record.pk]), words)


class DoingForm(PlainText, DaysAsked):
    """What is asked of the list, on record where it is refused."""


def _people() -> list[tuple[str, str]]:
    people = User.objects.order_by("first_name", "last_name", "username")
    return [*((str(each.pk), who_words(each)) for each in people), (NOBODY, "nobody signed in")]


def _kinds() -> list[tuple[str, str]]:
    labels = (model._meta.label_lower for model in journaled_models())
    return sorted(((label, kind_words(label)) for label in labels), key=operator.itemgetter(1))


def _names(column: str, key: int | str) -> Q:
    """Return that a line’s row names a record in a column; most texts are read once for it."""
    begun = f'"{column}":{key}'
    ends = (Q(document__contains=f"{begun}{end}") for end in ",}")
    return Q(document__contains=begun) & reduce(operator.or_, ends)


class DoingFilter(DatedFilter):
    """Narrow the lines by who, what, which kind of record, which unit, and days.

    By the text that was hashed, not by columns beside it: what narrows is what is proven.
    """

    hint = "a mark, a reason, words of a note"
    begins = "recorded_at"

    who = django_filters.ChoiceFilter(
        label="Who", empty_label="anybody", choices=_people, method="filter_who"
    )
    what = django_filters.ChoiceFilter(
        label="What",
        empty_label="all",
        choices=[(WRITES, "writes"), (SIGN_INS, "sign-ins"), (REFUSALS, "refusals")],
        method="filter_what",
    )
    kind = django_filters.ChoiceFilter(
        label="Kind of record", empty_label="any", choices=_kinds, field_name="model"
    )
    unit = django_filters.CharFilter(label="Unit", method="filter_unit")

    class Meta:
        form = DoingForm

    def filter_search(self, records: QuerySet[Leaf], name: str, value: str) -> QuerySet[Leaf]:
        for word in words_asked(value):
            records = records.filter(document__icontains=word)
        return records

    def filter_who(self, records: QuerySet[Leaf], name: str, value: str) -> QuerySet[Leaf]:
        signed = "null" if value == NOBODY else value
        who = Q(document__contains=f'","by":{signed},')
        if value != NOBODY:
            # Whoever was not let in had not signed in.
            who |= Q(model=SIGN_IN, document__contains=f'"person_id":{value},')
            # By a command, in whose name it was signed.
            who |= _names("recorded_by_id", value) & Q(document__contains='","by":null,')
        return records.filter(who)

    def filter_what(self, records: QuerySet[Leaf], name: str, value: str) -> QuerySet[Leaf]:
        if value == WRITES:
            return records.exclude(model__in=[SIGN_IN, REFUSAL])
        return records.filter(model=SIGN_IN if value == SIGN_INS else REFUSAL)

    def filter_unit(self, records: QuerySet[Leaf], name: str, value: str) -> QuerySet[Leaf]:
        units = SuppressorHousing.objects.filter(mark__iexact=value.strip())
        keys = list(units.values_list("pk", flat=True))
        if not keys:
            return records.none()
        names = (_names("housing_id", key) for key in keys)
        own = Q(model=SuppressorHousing._meta.label_lower, row_key__in=map(str, keys))
        return records.filter(reduce(operator.or_, names, own))

    @property
    def newest(self) -> QuerySet[Leaf]:
        """What is listed: all, or of what only the texts of lines tell the newest, MOST_FOUND."""
        found: QuerySet[Leaf] = self.qs
        return found[:MOST_FOUND] if self._reads_texts else found

    def cut_words(self, listed: int) -> str:
        """Say that older lines than those listed may match too, "" where none can."""
        if not self._reads_texts or listed < MOST_FOUND:
            return ""
        return (
            f"The newest {MOST_FOUND:,} that match are listed. For those before them, ask by days, "
            "or take the list as a file, which holds them all."
        )

    @property
    def _reads_texts(self) -> bool:
        asked = self.form.cleaned_data if self.form.is_valid() else {}
        return any(map(asked.get, ("search", "who", "unit")))

    @property
    def refusals(self) -> list[str]:
        """What won't do of all that is asked: who is nobody's number lists nothing, not all."""
        return [
            f"{self.form.fields[name].label}: {each}" if name in self.form.fields else str(each)
            for name, given in self.form.errors.items()
            for each in given
        ]
