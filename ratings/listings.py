"""Listed ratings of hammers: what literature or a data plate claims, recorded with its source."""

from __future__ import annotations

import uuid
from datetime import date
from typing import Any

import django_filters
from django import forms
from django.contrib import messages
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Exists, FilteredRelation, OuterRef, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet import clock, together
from fleet.context import system_of
from fleet.dates import day_words
from fleet.fields import FactForm, PastDayField, open_to_correction, whole_number
from fleet.housings import LISTING_OF, each_once_all_are_locked, lock_every_housing
from fleet.models import Hammer, Mounting, SuppressorHousing
from fleet.people.own_yards import OwnYardsTable
from fleet.people.yards import in_yard_of, lock_and_look_again
from fleet.quantities import Measured, Quantity, listed_words
from fleet.questions import Question, among
from fleet.roles import manager_required, signed_in
from fleet.signers import signer_words
from fleet.tables import (
    NONE,
    Column,
    DayColumn,
    ListedColumn,
    PersonColumn,
    RecordsFilter,
    RecordsTable,
    records_page,
    table_of,
)
from ratings.ledger.posting import Cause, entries_caused_by, post
from ratings.models import CurrentRating, Listing, What
from ratings.models.policy import safeguards
from ratings.proposals.acts import (
    Act,
    Arguments,
    SecondPersonNeeded,
    asks_where_it_corrects,
    second_person,
    stand_words,
)
from ratings.proposals.recording import confirmers
from ratings.proposals.views import may_propose
from ratings.read_again import ReadAgainForm, note_read_again


class ListingForm(ReadAgainForm, FactForm):
    """What a source claims a hammer may be pulled with."""

    dated = PastDayField(label="Dated", help_text="The day the source bears.")
    note = forms.CharField(
        label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}), max_length=2000
    )

    class Meta:
        model = Listing
        fields = ("listed_lbf", "source", "dated", "note")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.system != "us":
            self.fields["listed_lbf"].help_text = ""


def _asks(given: Arguments) -> bool:
    return safeguards().second_person_listings or asks_where_it_corrects(given)


def _facts(given: Arguments) -> dict[str, str]:
    hammer, corrects = given["hammer"], given.get("corrects")
    in_force = Listing.objects.in_force_by_hammer([hammer.pk]).get(hammer.pk)
    mounting = Mounting.objects.current().filter(hammer=hammer).first()
    facts = {
        f"the listing of hammer {hammer}": f"{in_force.source} ({in_force.pk})"
        if in_force
        else "none",
        f"the housing on hammer {hammer}": str(mounting.housing) if mounting else "none",
    }
    if corrects is not None:
        facts["the listing it corrects"] = stand_words(Listing, corrects)
    return facts


def _listed_by(listing: Listing | None, system: str) -> str:
    return f"{listed_words(listing.listed_lbf, system)} by {listing.source}" if listing else ""


def _details(given: Arguments, system: str) -> list[tuple[str, str]]:
    corrects = given.get("corrects")
    before = _listed_by(corrects, system)
    hammer = given["hammer"]
    in_force = Listing.objects.in_force_by_hammer([hammer.pk]).get(hammer.pk)
    told = [
        ("Hammer", str(hammer)),
        ("Listed rating", listed_words(given["listed_lbf"], system)),
        # What it takes the place of: whoever confirms it weighs the one against the other.
        ("In force today", _listed_by(in_force, system) or "no listing"),
        ("Source", given["source"]),
        ("Dated", day_words(given["dated"])),
        ("Note", given.get("note", "")),
        ("Right though it can hardly be, because", given.get("read_again_reason", "")),
        ("Corrects", before),
    ]
    return [(label, words) for label, words in told if words]


LISTING_ACT = Act(
    What.LISTING,
    asks=_asks,
    title=lambda given: f"Listing of hammer {given['hammer']} by {given['source']}",
    about=lambda given: given["hammer"],
    facts=_facts,
    details=_details,
    page=lambda given: reverse("new-listing", args=[given["hammer"].pk]),
    known=Listing,
    cause=Cause.LISTING,
)


# A listing so many times what was listed before, or what the unit pulls, is likelier a slip of
# unit, such as kN for lbf, 4.45 times: common practice, no published source.
FAR_OFF = 4.0


def doubt_of_listing(
    hammer: Hammer, listed_lbf: float, corrects: Listing | None = None
) -> ValidationError | None:
    """Return why a listing can hardly be, by what is in force or what its unit pulls; else None.

    corrects: one that was wrong, and tells nothing.
    """
    if corrects is not None:
        standing = Listing.objects.filter(hammer=hammer).exclude(pk=corrects.pk)
        before = standing.in_force_by_hammer([hammer.pk]).get(hammer.pk)
    else:
        found = each_once_all_are_locked(
            LISTING_OF, [hammer.pk], Listing.objects.in_force_by_hammer
        )
        before = found.get(hammer.pk)
    what = "the listing in force"
    known_lbf = before.listed_lbf if before is not None else None
    if known_lbf is None:
        known_lbf = _PULL_OF_UNIT.first(hammer=hammer)
        what = "what its unit pulls by its pads"
    if not known_lbf or known_lbf / FAR_OFF < listed_lbf < known_lbf * FAR_OFF:
        return None
    return ValidationError(
        f"%(given)s can hardly be beside {what}, %(known)s: look whether the source means another "
        "unit of measure. Where it is right, tick this and say why.",
        params={
            "given": Measured(Quantity.FORCE, listed_lbf),
            "known": Measured(Quantity.FORCE, known_lbf),
        },
    )


def _current(hammer: Any) -> QuerySet[Mounting]:
    return Mounting.objects.current().filter(hammer=hammer)


_RECORDED = Question(
    lambda submission_id: Listing.objects.filter(submission_id=submission_id).order_by()
)
_PULL_OF_UNIT = Question(
    lambda hammer: (
        CurrentRating.objects.filter(housing__mountings__in=_current(hammer))
        .order_by("pk")
        .values_list("head__pull_lbf", flat=True)[:1]
    )
)
_HOUSING_ON = Question(
    lambda hammer: _current(hammer).order_by().values_list("housing_id", flat=True)
)
_HOUSINGS = Question(
    lambda keys: SuppressorHousing.objects.filter(among("pk", keys)).order_by("pk")
)


@second_person(LISTING_ACT)
@in_yard_of("hammer")
@transaction.atomic
def record_listing(
    *,
    submission_id: uuid.UUID,
    hammer: Hammer,
    listed_lbf: float,
    source: str,
    dated: date,
    by: User,
    note: str = "",
    corrects: Listing | None = None,
    is_read_again: bool = False,
    read_again_reason: str = "",
) -> Listing:
    """Record what a source claims for a hammer. A second copy of a submission changes nothing.

    is_read_again, read_again_reason: somebody's word, and why, where it can hardly be; kept in its
    note. Raises NotReadAgain where it can hardly be, and that is not said.
    """
    # All of them, so that none is put on this hammer before the listing can be seen.
    lock_every_housing()
    known = _RECORDED.first(submission_id=submission_id)
    if known is not None:
        return known
    lock_and_look_again()
    note = note_read_again(
        doubt_of_listing(hammer, listed_lbf, corrects),
        note,
        is_read_again=is_read_again,
        reason=read_again_reason,
    )
    ids = set(_HOUSING_ON.ask(hammer=hammer))
    listing = Listing.objects.create(
        submission_id=submission_id,
        hammer=hammer,
        listed_lbf=listed_lbf,
        source=source,
        dated=dated,
        recorded_by=by,
        note=note,
        corrects=corrects,
    )
    together.forget((LISTING_OF, hammer.pk))
    post(
        _HOUSINGS.ask(keys=ids),
        cause=_cause(listing),
        occurred_at=clock.now(),
        by=by,
        corrects=(entries_caused_by(Cause.LISTING, corrects.pk, ids) if corrects else None),
    )
    return listing


def _cause(listing: Listing) -> Cause:
    words = f"Hammer {listing.hammer} listed at {listing.listed_lbf:,.0f} lbf by {listing.source}"
    if listing.corrects is not None:
        words += ", correcting an earlier listing"
    return Cause(Cause.LISTING, words, listing.pk)


class ListedHammerTable(OwnYardsTable):
    """A row for each hammer, with the listing in force and the housing it carries.

    A correction stands in the place of what it corrects, which no query can sort by.
    """

    caption = "Listed ratings"
    empty_words = "No hammer is on record. Enter one under Set-up."
    nothing_found = "No hammer matches: clear the filters."

    mark = Column("Hammer")
    listed = Column("Listed", empty_values=(), orderable=False)
    source = Column("Source", empty_values=(), orderable=False)
    housing = Column("Housing", empty_values=(), order_by="mounting__housing__mark")
    yard = Column("Yard", accessor="yard__name")
    record = Column("", empty_values=(), orderable=False)

    def load_page(self, records: list[Hammer]) -> None:
        keys = [hammer.pk for hammer in records]
        self.listings = Listing.objects.in_force_by_hammer(keys)
        mounted = Mounting.objects.current().filter(hammer__in=keys)
        self.housings = {
            mounting.hammer_id: mounting.housing for mounting in mounted.select_related("housing")
        }

    def render_mark(self, record: Hammer) -> SafeString:
        words = record.make_and_type
        below = format_html('<br><span class="small faint">{}</span>', words) if words else ""
        return format_html("<strong>{}</strong>{}", record.mark, below)

    def render_listed(self, record: Hammer) -> SafeString | str:
        listing = self.listings.get(record.pk)
        if listing is None:
            return format_html("<strong>{}</strong>", "none recorded")
        return listed_words(listing.listed_lbf, self.system)

    def render_source(self, record: Hammer) -> str:
        listing = self.listings.get(record.pk)
        return f"{listing.source}, {day_words(listing.dated)}" if listing else NONE

    def render_housing(self, record: Hammer) -> SafeString | str:
        housing = self.housings.get(record.pk)
        if housing is None:
            return "none"
        url = reverse("unit", args=[housing.pk])
        return format_html('<a href="{}">{}</a>', url, housing.mark)

    def render_record(self, record: Hammer) -> SafeString | str:
        if not self.may_record_in(record.yard_id):
            return ""
        return format_html(
            '<a href="{}">Record a listing<span class="visually-hidden"> of {}</span></a>',
            reverse("new-listing", args=[record.pk]),
            record.mark,
        )


class ListedHammerFilter(RecordsFilter):
    """Narrow the hammers by a word, by whether they are listed, or carry a housing."""

    hint = "mark, make, housing or yard"
    searched = ("mark", "make", "type_name", "mounting__housing__mark", "yard__name")

    listed = django_filters.ChoiceFilter(
        label="Listing",
        empty_label="any",
        choices=[("yes", "on record"), ("no", "none recorded")],
        method="filter_listed",
    )
    mounted = django_filters.ChoiceFilter(
        label="Housing",
        empty_label="any",
        choices=[("yes", "carries one"), ("no", "carries none")],
        method="filter_mounted",
    )

    def filter_listed(self, hammers: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        there = Exists(Listing.objects.filter(hammer=OuterRef("pk")))
        return hammers.filter(there if value == "yes" else ~there)

    def filter_mounted(self, hammers: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        return hammers.filter(mounting__isnull=value == "no")


def listings(request: HttpRequest) -> HttpResponse:
    """Show every hammer and what it is listed at."""
    in_use = Hammer.objects.filter(retired_on__isnull=True)
    hammers = in_use.select_related("yard").annotate(
        mounting=FilteredRelation("mountings", condition=Q(mountings__removed_at__isnull=True))
    )
    filters = ListedHammerFilter(request.GET, queryset=hammers)
    table = table_of(request, ListedHammerTable, filters.qs)
    return records_page(request, "ratings/listings.html", table, filters, {"section": "listings"})


class ListingTable(RecordsTable):
    """The listings of one hammer, the newest first."""

    caption = "On record"
    anchor = "earlier"
    empty_words = "None yet."
    dated_by = ("recorded_at",)

    listed_lbf = ListedColumn("Listed")
    source = Column("Source")
    dated = DayColumn("Dated")
    recorded_at = DayColumn("Recorded")
    by = PersonColumn("By")
    correction = Column("Correction", empty_values=(), orderable=False)

    def load_page(self, records: list[Listing]) -> None:
        self.confirmers = confirmers(Cause.LISTING, [each.pk for each in records])

    def render_by(self, record: Listing) -> str:
        second = self.confirmers.get(record.pk)
        confirmed = f", confirmed by {signer_words(second)}" if second else ""
        return f"{signer_words(record)}{confirmed}"

    def render_correction(self, record: Listing) -> SafeString:
        words = "a correction" if record.corrects_id else ""
        if hasattr(record, "corrected_by"):
            end = format_html("<strong>{}</strong>", "corrected since")
        else:
            end = format_html('<a href="?corrects={}">Correct it</a>', record.pk)
        return format_html("{}{}{}", words, "; " if words else "", end)


@manager_required
@may_propose
def new_listing(request: HttpRequest, hammer_id: int) -> HttpResponse:
    """Record a listed rating of a hammer; its unit is judged against it at once."""
    hammer = get_object_or_404(Hammer, pk=hammer_id)
    corrects = _corrected_listing(request, hammer)
    data = request.POST if request.method == "POST" else None
    form = ListingForm(data, initial=_initial(corrects), system=system_of(request))
    if request.method == "POST" and form.is_valid() and _record(request, form, hammer, corrects):
        messages.success(request, f"The listing of hammer {hammer} is recorded.")
        mounting = Mounting.objects.current().filter(hammer=hammer).first()
        return redirect("unit", mounting.housing_id) if mounting else redirect("listings")
    return render(
        request,
        "ratings/listing_form.html",
        {
            "section": "listings",
            "hammer": hammer,
            "form": form,
            "corrects": corrects,
            "table": table_of(
                request,
                ListingTable,
                hammer.listings.select_related("recorded_by", "corrected_by"),
            ),
        },
    )


def _record(
    request: HttpRequest, form: ListingForm, hammer: Hammer, corrects: Listing | None
) -> bool:
    cleaned = form.cleaned_data
    try:
        record_listing(
            submission_id=cleaned["submission_id"],
            hammer=hammer,
            listed_lbf=cleaned["listed_lbf"],
            source=cleaned["source"],
            dated=cleaned["dated"],
            by=signed_in(request),
            note=cleaned["note"],
            corrects=corrects,
            **form.read_again,
        )
    except SecondPersonNeeded:
        raise
    except ValidationError as refusal:
        form.refuse(refusal, form.system)
        return False
    return True


def _corrected_listing(request: HttpRequest, hammer: Hammer) -> Listing | None:
    key = whole_number(request.GET.get("corrects", ""))
    if key is None:
        return None
    is_open = open_to_correction(request.POST.get("submission_id", ""))
    return get_object_or_404(Listing, is_open, pk=key, hammer=hammer)


def _initial(corrects: Listing | None) -> dict[str, Any]:
    if corrects is None:
        return {}
    return {name: getattr(corrects, name) for name in ("listed_lbf", "source", "dated")}
