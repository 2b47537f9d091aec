"""The board: every unit, worst first."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any, NamedTuple
from urllib.parse import urlencode

import django_filters
from django.db.models import (
    Case,
    Count,
    Exists,
    F,
    FilteredRelation,
    OuterRef,
    Q,
    QuerySet,
    Value,
    When,
)
from django.db.models.functions import NullIf
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.context import preference_of
from fleet.dates import day_count_words, day_words, days_words
from fleet.models import (
    Hire,
    Mounting,
    OutOfService,
    ReaderPreference,
    SuppressorHousing,
    Yard,
)
from fleet.people.own_yards import OWN_YARDS, OwnYardsFilter
from fleet.people.yards import yards_bound_to
from fleet.quantities import (
    Quantity,
    capacity_words,
    chance_words,
    listed_words,
    pull_words,
    share_words,
)
from fleet.roles import signed_in
from fleet.tables import (
    NONE,
    Column,
    OrderedRecords,
    RecordsTable,
    records_page,
    table_of,
)
from fleet.unchanged import Unchanged, as_recorded
from fleet.units import hammers_on_no_housing
from inspections.models import Finding, Severity
from ratings.jobs.may_go import standings_words
from ratings.jobs.rules import rules_in_force
from ratings.jobs.validity import commitments_fallen
from ratings.mechanics.standing import Standing
from ratings.models import Commitment, CurrentRating, LedgerEntry, LotRating, ProofPull, PullRecord
from ratings.pictures import small_rule
from ratings.surveillance.draws import draws_due
from ratings.surveillance.words import softenings

WORST_FIRST = (
    Standing.BELOW_LISTING,
    Standing.UNRATED,
    Standing.NOT_PROVEN,
    Standing.MEETS_LISTING,
)
OUT_OF_SERVICE = "out of service"
SPARE = "spare"
# What must not go out at all comes before every standing. Of one standing the one with no
# figure comes first: nothing is known to its credit. A spare goes out with no hammer: it comes
# last, whatever its pads are.
WORST_FIRST_ORDER = ("is_spare", "in_service", "rank", F("share").asc(nulls_first=True), "mark")
# Of any machine of a unit. Found once for a question, and not for each housing anew.
_OUTAGES = OutOfService.objects.open().with_unit().filter(unit_today__isnull=False)
_OUT = Q(pk__in=_OUTAGES.values("unit_today"))
_MOUNTED = Exists(Mounting.objects.current().filter(housing=OuterRef("pk")))


def board_units() -> QuerySet[SuppressorHousing]:
    """Return every housing with its head entry and all that the board sorts by.

    A housing that was never counted has no ledger yet and ranks as unrated. What else is told of
    those shown comes by `with_outages`.
    """
    return _board_units().all()


@cache
def _board_units() -> QuerySet[SuppressorHousing]:
    """Return the question of board_units, which takes long to put together, and none has asked."""
    head = "current_rating__head"
    return (
        SuppressorHousing.objects.in_use()
        .select_related("yard", head)
        .annotate(
            mounting=FilteredRelation("mountings", condition=Q(mountings__removed_at__isnull=True)),
            hammer_mark=F("mounting__hammer__mark"),
            in_service=Case(When(_OUT, then=Value(0)), default=Value(1)),
            is_spare=Case(When(mounting__isnull=True, then=Value(1)), default=Value(0)),
            rank=Case(
                *(
                    When(**{f"{head}__standing": standing.value}, then=Value(rank))
                    for rank, standing in enumerate(WORST_FIRST)
                ),
                default=Value(WORST_FIRST.index(Standing.UNRATED)),
            ),
            pull_lbf=F(f"{head}__pull_lbf"),
            working_capacity_lbf=F(f"{head}__working_capacity_lbf"),
            listed_lbf=F(f"{head}__listed_lbf"),
            share=F(f"{head}__working_capacity_lbf") / NullIf(F(f"{head}__listed_lbf"), Value(0.0)),
            sound_pads=F(f"{head}__sound_pads"),
            usable_travel_in=F(f"{head}__usable_travel_in"),
        )
        .order_by(*WORST_FIRST_ORDER)
    )


def with_outages(housings: Iterable[Any]) -> list[Any]:
    """Return housings, each with since when and why its unit is out of service where it is."""
    listed = list(housings)
    outages = _OUTAGES.filter(unit_today__in=[each.pk for each in listed]).order_by("since", "pk")
    # The newest of a unit is written last, and so stays.
    out = {key: told for key, *told in outages.values_list("unit_today", "since", "reason")}
    for each in listed:
        each.out_since, each.out_reason = out.get(each.pk, (None, ""))
    return listed


def standing_counts() -> list[tuple[Standing, int]]:
    """Return how many units in service stand how, worst first; a spare housing is no unit."""
    in_service = SuppressorHousing.objects.filter(_MOUNTED, ~_OUT)
    counted = in_service.order_by().values_list("current_rating__head__standing")
    many: dict[str, int] = {}
    for standing, count in counted.annotate(count=Count("pk")):
        # A housing that was never counted has no head, and stands as unrated.
        key = standing or Standing.UNRATED.value
        many[key] = many.get(key, 0) + count
    return [(standing, many.get(standing.value, 0)) for standing in WORST_FIRST]


def out_of_service_count() -> int:
    """Return how many units are out of service, however they stand."""
    return SuppressorHousing.objects.filter(_MOUNTED).filter(_OUT).count()


def spare_count() -> int:
    """Return how many housings hang on no hammer."""
    return SuppressorHousing.objects.in_use().exclude(_MOUNTED).count()


def worst_first() -> tuple[int, ...]:
    """Return the keys of all units as the board orders them."""
    return tuple(board_units().values_list("pk", flat=True))


class BareHammer(NamedTuple):
    """What the board says of a hammer that hangs from no housing."""

    mark: str
    make_and_type: str


@dataclass(frozen=True)
class FleetTold:
    """What the board says of the whole fleet, whoever reads it."""

    counts: tuple[tuple[Standing, int], ...]
    out_count: int
    spare_count: int
    has_units: bool
    has_yard: bool
    bare_hammers: tuple[BareHammer, ...]
    bare_count: int
    draft_count: int
    has_commitments: bool
    standings_words: str


def fleet_told() -> FleetTold:
    """Return what the board says of the whole fleet. In a fixed number of queries."""
    bare_hammers = list(hammers_on_no_housing()[:BARE_HAMMERS_SHOWN])
    is_full = len(bare_hammers) == BARE_HAMMERS_SHOWN
    return FleetTold(
        counts=tuple(standing_counts()),
        out_count=out_of_service_count(),
        spare_count=spare_count(),
        has_units=SuppressorHousing.objects.exists(),
        has_yard=Yard.objects.exists(),
        bare_hammers=tuple(BareHammer(each.mark, each.make_and_type) for each in bare_hammers),
        bare_count=hammers_on_no_housing().count() if is_full else len(bare_hammers),
        draft_count=LotRating.objects.waiting().count(),
        has_commitments=Commitment.objects.not_over(timezone.localdate()).exists(),
        standings_words=standings_words(rules_in_force()),
    )


def holds_now(housings: Collection[int]) -> dict[int, str]:
    """Return the site and days of each unit's first commitment that isn't over, by its key."""
    held = (
        Commitment.objects.not_over(timezone.localdate())
        .filter(housing__in=housings)
        .select_related("job")
    )
    # The first of a unit is written last, and so stays.
    return {
        each.housing_id: f"{each.job.site}, {days_words(each.first_day, each.last_day)}"
        for each in held.order_by("-first_day")
    }


def open_findings(housings: Collection[int]) -> dict[int, int]:
    """Return how many findings to be acted on are open at each unit that has any, by its key."""
    found = (
        Finding.objects.open()
        .of_units(housings)
        .filter(severity__in=(Severity.REPAIR, Severity.DO_NOT_USE))
    )
    counted = found.order_by().values("unit_today").annotate(many=Count("pk"))
    return dict(counted.values_list("unit_today", "many"))


def standing_line(housing: SuppressorHousing) -> str:
    """Return a unit's standing in US customary figures.

    The housing comes from board_units, by with_outages.
    """
    hammer = getattr(housing, "hammer_mark", None)
    unit = f"{housing.mark} {'on ' + hammer if hammer else SPARE}:"
    out = _out_words(housing)
    rating: CurrentRating | None = getattr(housing, "current_rating", None)
    if rating is None:
        return f"{unit:<22} {out}unrated, never counted"
    entry = rating.head
    listed_lbf = entry.listed_lbf
    words = (
        f"{unit:<22} {out}{entry.standing}, line pull "
        f"{pull_words(entry.pull_lbf, 'us', listed_lbf=listed_lbf)}, working capacity "
        f"{capacity_words(entry.working_capacity_lbf, 'us', listed_lbf=listed_lbf)}, listed "
        f"{listed_words(listed_lbf, 'us')}"
    )
    if entry.results["missing"]:
        words += f"; missing: {', '.join(entry.results['missing'])}"
    return words


def _out_since(housing: SuppressorHousing) -> datetime | None:
    since: datetime | None = getattr(housing, "out_since", None)
    return since


def _out_words(housing: SuppressorHousing) -> str:
    since = _out_since(housing)
    if since is None:
        return ""
    reason = str(getattr(housing, "out_reason", "")).rstrip(".")
    return f"{OUT_OF_SERVICE} since {day_words(since)} ({reason}); "


# So many letters of its reasons a row shows on a line of their own, at a desk; the others open.
REASONS_SHOWN = 33
PLACE_SHOWN = 22
BARE_HAMMERS_SHOWN = 25
DRAFTS_SHOWN = 10
# As WORST_FIRST_ORDER, in names alone, so that the table can turn it round.
WORST_FIRST_COLUMNS = ("is_spare", "in_service", "rank", "share", "mark")


class BoardTable(RecordsTable):
    """A row for each unit."""

    caption = "Units, worst first"
    nothing_found = "No unit matches: clear the filters."
    css = "tiles"

    mark = Column("Unit")
    standing = Column("Standing", accessor="rank", order_by=WORST_FIRST_COLUMNS)
    rule = Column("Pull rule", empty_values=(), orderable=False)
    pull_lbf = Column("Line pull")
    working_capacity_lbf = Column("Working capacity")
    listed_lbf = Column("Listed")
    share = Column("Of listed")
    sound_pads = Column("Sound pads", default="not counted")
    usable_travel_in = Column("Usable travel")
    counted_at = Column("Last full count", empty_values=())

    def __init__(self, *args: Any, known: Unchanged | None = None, **kwargs: Any) -> None:
        """known: of the record as it stands, where the rows of its first page may be kept."""
        self._known = known
        # The cells of each row, where they are.
        self._told: tuple[tuple[str, ...], ...] | None = None
        super().__init__(*args, **kwargs)

    def read_page(self) -> None:
        keys = self.data.keys_of(self.page) if isinstance(self.data, OrderedRecords) else None
        # Nearly all who look read the first page: to keep every page would take much memory.
        if self._known is None or keys is None or self.page.number > 1:
            super().read_page()
        else:
            self._told = self._known.once(rows_told, keys, self.system)

    @property
    def paginated_rows(self) -> Iterable[Any]:
        if self._told is None:
            return super().paginated_rows  # type: ignore[no-any-return]  # carries no types
        return [_RowTold(list(zip(self.columns, cells, strict=True))) for cells in self._told]

    def load_page(self, records: list[SuppressorHousing]) -> None:
        keys = [record.pk for record in records]
        with_outages(records)
        _read_documents(records)
        _see_when_last_seen(records)
        self.holds, self.findings = holds_now(keys), open_findings(keys)
        self.hires = Hire.objects.open_by_housing(keys)
        self.pulls = ProofPull.objects.by_housing(keys)
        self.overloads = PullRecord.objects.open_overloads(
            {record.pk: getattr(record, "counted_at", None) for record in records}
        )

    def render_mark(self, record: SuppressorHousing) -> SafeString:
        hammer, hold = getattr(record, "hammer_mark", None), self.holds.get(record.pk)
        hire = self.hires.get(record.pk)
        words = f"held by {hold}" if hold else ""
        if hire is not None and (hire.is_out or not hold):
            # Where it is now counts more than where it is to go.
            words = hire.board_words
        where = f"{record.yard.name} · {words}" if words else record.yard.name
        return format_html(
            '<span class="line" title="{0} {1}"><a href="{2}"><strong>{0}</strong></a> '
            '<span class="small">{1}</span></span>'
            "{3}",
            record.mark,
            f"on {hammer}" if hammer else SPARE,
            reverse("unit", args=[record.pk]),
            format_html('<span class="line faint small">{}</span>', where)
            if len(where) <= PLACE_SHOWN
            else format_html(
                '<details class="reasons small faint"><summary>{} · {}</summary>{}</details>',
                record.yard.name,
                "hired" if hire is not None and words == hire.board_words else "held",
                words,
            ),
        )

    def render_standing(self, record: SuppressorHousing) -> str:
        entry = _head(record)
        standing = entry.judged if entry else Standing.UNRATED
        is_spare, out_since = not getattr(record, "hammer_mark", None), _out_since(record)
        chance = "" if is_spare else _chance_words(entry)
        reasons = self._flags(record, entry)
        if out_since is not None:
            reasons = [
                f"since {day_words(out_since)}",
                str(getattr(record, "out_reason", "")).rstrip("."),
                *reasons,
            ]
            # By its pads alone: it does not look good to go.
            reasons += [] if is_spare else [f"{standing} by its pads"]
        if reasons and chance:
            reasons, chance = [*reasons, f"chance {chance}"], ""
        return render_to_string(
            "units/board_standing.html",
            {
                "is_spare": is_spare,
                "standing": standing,
                "chance": chance,
                "is_out": out_since is not None,
                "reasons": reasons,
                "shown": _shortened(reasons, REASONS_SHOWN),
            },
        )

    def _flags(self, record: SuppressorHousing, entry: LedgerEntry | None) -> list[str]:
        """Return what is to be looked at before a unit goes, what counts most first."""
        results: dict[str, Any] = entry.results if entry else {"missing": ["a pad count"]}
        overload, pulls = self.overloads.get(record.pk), self.pulls.get(record.pk)
        many = self.findings.get(record.pk, 0)
        missing = " and ".join(SHORTER.get(each, each) for each in results["missing"])
        found = {
            f"overloaded on {day_words(overload.pulled_at)}" if overload else "": overload
            is not None,
            f"{many} finding{'' if many == 1 else 's'} open": many > 0,
            f"needs {missing}": bool(missing) and bool(getattr(record, "hammer_mark", None)),
            "out of balance": bool(results.get("is_out_of_balance")),
            "travel beyond design": record.is_taped_beyond_design,
            "stale rating": bool(results.get("stale_lots")),
            "softer than its pads": pulls is not None and pulls.softness is not None,
            "stiffer than its pads": bool(pulls and pulls.newest and pulls.newest.is_stiffer),
        }
        unrated = [
            f"{pads['count']} pad{'' if pads['count'] == 1 else 's'} unrated"
            for pads in results.get("unrated_pads", [])
        ]
        return [*(words for words, holds in found.items() if holds), *unrated]

    def render_rule(self, record: SuppressorHousing) -> SafeString:
        return small_rule(_head(record), record.mark, self.system)

    def render_pull_lbf(self, record: SuppressorHousing, value: float) -> SafeString:
        return _two_lines(pull_words(value, self.system, listed_lbf=_listed(record)))

    def render_working_capacity_lbf(self, record: SuppressorHousing, value: float) -> SafeString:
        return _two_lines(capacity_words(value, self.system, listed_lbf=_listed(record)))

    def render_listed_lbf(self, value: float) -> SafeString:
        return _two_lines(listed_words(value, self.system))

    def render_share(self, value: float) -> str:
        return share_words(value)

    def render_sound_pads(self, record: SuppressorHousing, value: int) -> str:
        entry = _head(record)
        if entry is None:
            return NONE
        # Nothing counted yet takes more room than a row has.
        return (
            entry.sound_pads_words.replace("nothing counted yet", "not counted") if entry else NONE
        )

    def render_usable_travel_in(self, record: SuppressorHousing, value: float) -> SafeString:
        entry = _head(record)
        return format_html(
            '<span class="line">{}</span><span class="line faint small">'
            '<span class="visually-hidden">limited by </span>{}</span>',
            Quantity.LENGTH.words(value, self.system),
            # Where the pads were tested no further, in what a column has room for.
            entry.results["limited_by"].replace("tested stretch", "tests") if entry else NONE,
        )

    def render_counted_at(self, record: SuppressorHousing) -> SafeString:
        counted_at: datetime | None = getattr(record, "counted_at", None)
        looked_at: datetime | None = getattr(record, "looked_at", None)
        small = [] if counted_at is None else [_ago_words(counted_at)]
        if looked_at is not None and looked_at != counted_at:
            small.append(f"looked at {day_words(looked_at)}")
        return format_html(
            '<span class="line">{0}</span><span class="line faint small" title="{1}">{1}</span>',
            "never" if counted_at is None else day_words(counted_at),
            ", ".join(small),
        )


class _RowTold(NamedTuple):
    """A row whose cells are known: each with its column."""

    items: list[tuple[Any, str]]


def rows_told(keys: tuple[int, ...], system: str) -> tuple[tuple[str, ...], ...]:
    """Return what the board says of some units, cell by cell, to whoever reads in a system."""
    units = list(board_units().defer("current_rating__head__document").filter(pk__in=keys))
    table = BoardTable(units, request=HttpRequest(), system=system)
    table.load_page(units)
    return tuple(tuple(cell for _, cell in row.items()) for row in table.rows)


def _read_documents(records: Iterable[Any]) -> None:
    """Read the documents of the entries shown: long, and so not read of all that are sorted."""
    heads = {head.pk: head for record in records if (head := _head(record)) is not None}
    documents = LedgerEntry.objects.filter(pk__in=heads).order_by()
    for key, document in documents.values_list("pk", "document"):
        heads[key].document = document


def _see_when_last_seen(records: Iterable[Any]) -> None:
    """Find when the units shown were last seen, which takes long of all that are sorted."""
    by_key = {record.pk: record for record in records}
    for seen in SuppressorHousing.objects.filter(pk__in=by_key).with_last_seen():
        for name in ("looked_at", "counted_at"):
            setattr(by_key[seen.pk], name, getattr(seen, name))


# What an entry says is missing, in words that a row has room for.
SHORTER = {
    "an approved rate of any lot that has a sound pad fitted": "a rate of its pads",
    "a pad count": "a count",
}


def _shortened(reasons: list[str], room: int) -> str:
    """Return the reasons that a line has room for; "" where it has for all of them."""
    if len(" · ".join(reasons)) <= room:
        return ""
    for many in range(len(reasons) - 1, 0, -1):
        words = f"{' · '.join(reasons[:many])} · {len(reasons) - many} more"
        if len(words) <= room:
            return words
    return "needs a look" if len(reasons) == 1 else f"{len(reasons)} things to look at"


def _two_lines(words: str) -> SafeString:
    """Return a force with what stands in brackets on a line of its own."""
    first, bracket, rest = words.partition(" (")
    if not bracket:
        return format_html('<span class="line">{}</span>', words)
    return format_html(
        '<span class="line">{}</span> <span class="line small faint also">({}</span>', first, rest
    )


def _ago_words(at: datetime) -> str:
    days = (timezone.localdate() - timezone.localdate(at)).days
    return "today" if days < 1 else f"{day_count_words(days)} ago"


def _head(record: SuppressorHousing) -> LedgerEntry | None:
    rating = getattr(record, "current_rating", None)
    return rating.head if rating else None


def _chance_words(entry: LedgerEntry | None) -> str:
    """Return how likely a flagged unit meets its listing all the same; "" where it is no matter."""
    if entry is None or entry.judged not in (Standing.NOT_PROVEN, Standing.BELOW_LISTING):
        return ""
    chance = entry.chance_to_meet
    return "" if chance is None else chance_words(chance)


def _listed(record: SuppressorHousing) -> float | None:
    entry = _head(record)
    return entry.listed_lbf if entry else None


class BoardFilter(OwnYardsFilter):
    """Narrow the board by standing, yard, mounting or a word.

    Whoever is bound to yards sees those first, and all at a choice.
    """

    hint = "mark, hammer or yard"
    searched = (
        "mark",
        "mounting__hammer__mark",
        "mounting__hammer__make",
        "mounting__hammer__type_name",
        "yard__name",
    )

    standing = django_filters.ChoiceFilter(
        label="Standing",
        empty_label="any",
        choices=[
            (OUT_OF_SERVICE, OUT_OF_SERVICE),
            (SPARE, SPARE),
            *((standing.value, standing.value) for standing in WORST_FIRST),
        ],
        method="filter_standing",
    )
    yard = django_filters.ModelChoiceFilter(
        label="Yard", empty_label="any", queryset=Yard.objects.all()
    )
    mounted = django_filters.ChoiceFilter(
        label="Mounted",
        empty_label="either",
        choices=[("yes", "on a hammer"), ("no", "off the hammer")],
        method="filter_mounted",
    )

    # The units carry what the board's own query adds to each of them.
    def filter_standing(self, units: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        if value == SPARE:
            return units.filter(is_spare=1)
        if value == OUT_OF_SERVICE:
            return units.filter(is_spare=0, in_service=0)
        rank = [standing.value for standing in WORST_FIRST].index(value)
        return units.filter(is_spare=0, in_service=1, rank=rank)

    def filter_mounted(self, units: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        return units.filter(mounting__isnull=value == "no")


# Kept for a person, on whatever they read it. Not the word searched: it is of the moment.
REMEMBERED = ("standing", "yard", "mounted", "bound")


def _kept_filters(request: HttpRequest) -> dict[str, str]:
    """Return how whoever reads the board last narrowed it."""
    preference = preference_of(request)
    kept = dict(preference.board_filters) if preference else {}
    # Who is bound to yards, and has not asked for all, sees those first.
    if "bound" not in kept and yards_bound_to(request.user):
        kept["bound"] = OWN_YARDS
    return kept


def _keep_filters(request: HttpRequest, filters: dict[str, str]) -> None:
    if _kept_filters(request) != filters:
        ReaderPreference.objects.update_or_create(
            user=signed_in(request), defaults={"board_filters": filters}
        )


def board(request: HttpRequest) -> HttpResponse:
    """Show every unit, worst first, narrowed as its reader last narrowed it."""
    if "all" in request.GET:
        _keep_filters(request, {"bound": ""} if yards_bound_to(request.user) else {})
        return redirect(f"{reverse('board')}?bound=" if yards_bound_to(request.user) else "board")
    if not request.GET and not getattr(request, "htmx", False) and (last := _kept_filters(request)):
        return redirect(f"{reverse('board')}?{urlencode(last)}")
    units: Any = board_units().defer("current_rating__head__document")
    if any("counted_at" in each for each in request.GET.getlist("sort")):
        units = units.with_last_seen()
    filters = BoardFilter(request.GET, queryset=units, request=request)
    if filters.form.is_valid() and any(name in request.GET for name in REMEMBERED):
        asked = {name: request.GET.get(name, "") for name in REMEMBERED}
        kept = {name: value for name, value in asked.items() if value}
        if filters.yards:
            # That all yards were asked for is kept too; who asked for neither sees theirs again.
            kept["bound"] = request.GET.get("bound", OWN_YARDS)
        _keep_filters(request, kept)
    known = as_recorded()
    fleet = known.once(fleet_told)
    told = {
        "draft_count": fleet.draft_count,
        "softenings": known.once(softenings),
        "fallen": commitments_fallen() if fleet.has_commitments else [],
        "draws_overdue": [each for each in known.once(draws_due) if each.is_overdue],
    }
    context = {
        "section": "board",
        "known": known,
        "fleet": fleet,
        "drafts": LotRating.objects.waiting()[:DRAFTS_SHOWN],
        "is_narrowed": filters.is_narrowing,
        "tells": any(told.values()),
        **told,
    }
    records = filters.qs
    if filters.form.is_valid() and not filters.is_narrowing:
        records = OrderedRecords(records, known.once(worst_first))
    table = table_of(request, BoardTable, records, known=known)
    return records_page(request, "units/board.html", table, filters, context)
