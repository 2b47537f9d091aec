"""The pages of restoring: the best plan for what is short, kept plans, and what is made of them."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.html import format_html
from django.utils.http import urlencode
from django.utils.safestring import SafeString
from django.views.decorators.http import require_POST

from fleet.context import system_of
from fleet.fields import note_refusal, show_refusal, submission_of, whole_number
from fleet.models import SuppressorHousing
from fleet.quantities import capacity_words, money
from fleet.roles import RECORD, manager_required, planner_required, signed_in
from fleet.tables import (
    Column,
    MomentColumn,
    PersonColumn,
    RecordsTable,
    TemplateColumn,
    records_page,
    table_of,
)
from inspections.count.sets import filled_form
from inspections.models import RepairOrder, RestorePlan
from inspections.restoring.forms import RestoreForm
from inspections.restoring.held import Came, Deviation, Fate, came_of, deviations, mean_words
from inspections.restoring.planning import Asked, changes_since, make
from inspections.restoring.recording import (
    PlanChanged,
    close_with_parts,
    is_sourced,
    keep_plan,
    open_orders,
    order_from_plan,
    ordered,
    unit_of,
)
from ratings.drawing.deviation_graph import DeviationRow, draw_deviations, height_of
from ratings.mechanics.deviations import LEAST_DEVIATIONS
from ratings.mechanics.standing import Standing
from ratings.models import CurrentRating
from ratings.pictures import GRAPH_SIZES, pictures


class CameTable(RecordsTable):
    """Each unit of each kept plan, what was promised of it, and what came."""

    caption = "Units of kept plans"
    empty_words = "None yet: keep a plan, and carry it out."
    dated_by = ("plan__recorded_at", "fitted_at")

    plan = Column("Plan", empty_values=(), orderable=False)
    mark = Column("Unit")
    fate = TemplateColumn("restoring/fate.html", "State", orderable=False)
    pads = Column("Pads", empty_values=(), orderable=False)
    capacity = Column("Working capacity", empty_values=(), orderable=False)
    cost = Column("Cost of the parts", empty_values=(), orderable=False)
    days = Column("Days", empty_values=(), orderable=False)

    def render_plan(self, record: Came) -> SafeString:
        url = reverse("restoring-plan", args=[record.plan.pk])
        return format_html('<a href="{}">{}</a>', url, record.plan.pk)

    def render_mark(self, record: Came) -> SafeString:
        return format_html(
            '<a href="{}">{}</a>', reverse("unit", args=[record.housing]), record.mark
        )

    def render_pads(self, record: Came) -> SafeString:
        return self._both(record.pads_promised, _came(record.pads))

    def render_capacity(self, record: Came) -> SafeString:
        promised, came = (
            None
            if each is None
            else capacity_words(each, self.system, listed_lbf=record.listed_lbf)
            for each in (record.capacity_promised_lbf, record.capacity_lbf)
        )
        return self._both(promised, _came(came))

    def render_cost(self, record: Came) -> SafeString:
        promised = record.cost_promised if record.currency else None
        words = None if promised is None else money(promised, record.currency)
        came = record.cost_words or None
        if record.cost is not None:
            came = _came(money(record.cost, record.currency))
        return self._both(words, came)

    def render_days(self, record: Came) -> SafeString:
        took = None if record.days is None else f"{record.days} it took"
        return self._both(record.days_promised, took)

    def _both(self, promised: object, came: object) -> SafeString:
        said = "none promised" if promised is None else f"{promised} promised"
        return format_html("{}<br>{}", said, "–" if came is None else came)


def _came(figure: object) -> str | None:
    return None if figure is None else f"{figure} came"


class RestorePlanTable(RecordsTable):
    """Every plan kept, the newest first."""

    caption = "Kept plans"
    empty_words = "None yet: make one for a unit, a yard or the fleet, and keep it."
    dated_by = ("recorded_at",)

    recorded_at = MomentColumn(
        "Kept", linkify=lambda record: reverse("restoring-plan", args=[record.pk])
    )
    scope = Column("Of", empty_values=(), orderable=False)
    goal = Column("Best at")
    pads = Column("Pads", empty_values=(), orderable=False)
    by = PersonColumn("By")

    def render_scope(self, record: RestorePlan) -> str:
        return scope_words(record.housing, record.yard)

    def render_goal(self, record: RestorePlan) -> str:
        return record.goal_words

    def render_pads(self, record: RestorePlan) -> str:
        return str(record.document["pads"])


def scope_words(housing: Any, yard: Any) -> str:
    """Return what a plan is of, in words."""
    if housing is not None:
        return f"unit {housing}"
    return f"yard {yard}" if yard is not None else "the whole fleet"


@planner_required
def restore(request: HttpRequest) -> HttpResponse:
    """Show the best plan for a unit, a yard or the fleet; posted, keep it."""
    key = whole_number(request.GET.get("unit", ""))
    housing = None
    if key is not None:
        housing = get_object_or_404(SuppressorHousing.objects.select_related("yard"), pk=key)
    form = RestoreForm({"goal": "fewest"} | request.GET.dict(), of_unit=housing is not None)
    # The whole fleet takes a while: it is planned once that is asked for.
    is_asked = housing is not None or "goal" in request.GET
    context: dict[str, Any] = {"section": "board", "form": form, "housing": housing}
    if is_asked and form.is_valid():
        asked = Asked(
            form.cleaned_data["goal"],
            housing,
            form.cleaned_data.get("yard"),
            form.cleaned_data["take"],
            form.cleaned_data["buy"],
        )
        try:
            if request.method == "POST":
                standing = open_orders([housing.pk]).get(housing.pk) if housing else None
                if standing is not None and "order" in request.POST:
                    return _ordered_before(request, standing)
                kept = keep_plan(
                    submission_id=submission_of(request.POST),
                    asked=asked,
                    seen=request.POST.get("seen", ""),
                    by=signed_in(request),
                )
                if housing is not None and "order" in request.POST and may_record(request):
                    return _ordered(request, kept, housing.pk)
                messages.success(request, "The plan is kept.")
                return redirect("restoring-plan", kept.pk)
            made = make(asked)
            context |= {"plan": made.document, "seen": made.digest}
            context |= _of_all(made.document)
        except PlanChanged as refusal:
            note_refusal(*refusal.messages)
            messages.warning(request, " ".join(refusal.messages))
            return redirect(request.get_full_path())
        except ValidationError as refusal:
            show_refusal(form, refusal, system_of(request))
    context |= {
        "submission_id": uuid.uuid4(),
        "restored": _units(context["plan"]) if "plan" in context else [],
        "is_asked": is_asked,
    }
    return render(request, "restoring/restore.html", context)


def brief(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Show in a few lines what the best plan with the fewest pads does for one unit."""
    housing = get_object_or_404(SuppressorHousing.objects.select_related("yard"), pk=housing_id)
    try:
        document = make(Asked("fewest", housing)).document
    except ValidationError as refusal:
        return render(request, "restoring/brief.html", {"refusal": " ".join(refusal.messages)})
    context = {"plan": document, "restored": _units(document)}
    return render(request, "restoring/brief.html", context)


def kept_plan(request: HttpRequest, plan_id: int) -> HttpResponse:
    """Show a plan as it was kept, whether it still holds, and what came of it."""
    plan = get_object_or_404(
        RestorePlan.objects.select_related("housing", "yard", "recorded_by"), pk=plan_id
    )
    came = came_of([plan])
    restored = _units(plan.document, plan, came)
    return render(
        request,
        "restoring/plan.html",
        {
            # The pads that a plan fits change what it rests on: that makes it no stale one.
            "is_carried_out": any(each["done"] for each in restored)
            and all(each["done"] for each in restored if each["placed"]),
            "section": "board",
            "kept": plan,
            "plan": plan.document,
            **_of_all(plan.document),
            "scope": scope_words(plan.housing, plan.yard),
            "changed": changes_since(plan),
            "anew": _query(plan),
            "restored": restored,
            "came": came,
        },
    )


def plans_record(request: HttpRequest) -> HttpResponse:
    """Show how plans have held: what each promised of its units, and what came."""
    plans = RestorePlan.objects.defer("basis").select_related("recorded_by")
    found = came_of(list(plans))
    told = deviations(found)
    context = {
        "section": "board",
        "deviations": [
            {
                "name": each.name,
                "mean": each.mean,
                "values": each.values,
                "words": mean_words(each),
            }
            for each in told
        ],
        "least": LEAST_DEVIATIONS,
        "graphs": deviation_graphs(told) if any(each.values for each in told) else None,
    }
    table = table_of(request, CameTable, found)
    return records_page(request, "restoring/plans_record.html", table, None, context)


def deviation_graphs(told: Sequence[Deviation]) -> dict[str, SafeString]:
    """Return how plans held as a picture, for a wide page and for a phone."""
    groups = []
    for unit, title in (
        ("%", "% over the promise, or under it"),
        ("days", "days after the promise, or before it"),
    ):
        rows = [
            DeviationRow(each.name, each.values, each.mean.mean, each.mean.low, each.mean.high)
            if each.mean
            else DeviationRow(each.name, each.values)
            for each in told
            if each.unit == unit and each.values
        ]
        if rows:
            groups.append((title, rows))
    sizes = {name: (width, height_of(groups, width)) for name, (width, _) in GRAPH_SIZES.items()}
    return pictures(
        sizes,
        "How far what came lay from what plans promised",
        "The table below holds it all.",
        lambda surface, width, _height: draw_deviations(surface, groups, width),
    )


def kept_plans(request: HttpRequest) -> HttpResponse:
    """List every plan kept."""
    plans = RestorePlan.objects.select_related("housing", "yard", "recorded_by")
    table = table_of(request, RestorePlanTable, plans)
    return records_page(request, "restoring/plans.html", table, None, {"section": "board"})


@manager_required
@require_POST
def order(request: HttpRequest, plan_id: int, housing_id: int) -> HttpResponse:
    """Make the repair order of one unit of a plan, and fill the form of its replacement."""
    return _ordered(request, get_object_or_404(RestorePlan, pk=plan_id), housing_id)


@manager_required
@require_POST
def close_order(request: HttpRequest, plan_id: int, housing_id: int) -> HttpResponse:
    """Close the repair order of a plan carried out, with the pads of the plan as its parts."""
    plan = get_object_or_404(RestorePlan, pk=plan_id)
    made = ordered(plan, housing_id)
    if made is None:
        raise Http404("No repair order was made of this plan for that unit.")
    try:
        close_with_parts(plan=plan, housing_id=housing_id, by=signed_in(request))
    except ValidationError as refusal:
        note_refusal(*refusal.messages)
        messages.warning(request, " ".join(refusal.messages))
    else:
        messages.success(request, "The repair is done, its pads are recorded as parts.")
    return redirect("repair-order", made.pk)


def may_record(request: HttpRequest) -> bool:
    """Say whether who asks may record what was done to machines."""
    return signed_in(request).has_perm(RECORD)


def _ordered(request: HttpRequest, plan: RestorePlan, housing_id: int) -> HttpResponse:
    """Order what a plan has for a unit; then to the filled form, where its pads are at hand."""
    try:
        made = order_from_plan(plan=plan, housing_id=housing_id, by=signed_in(request))
    except ValidationError as refusal:
        note_refusal(*refusal.messages)
        messages.warning(request, " ".join(refusal.messages))
        return redirect("restoring-plan", plan.pk)
    messages.success(request, f"Repair order {made.pk} is made.")
    unit = unit_of(plan, housing_id)
    if unit is None or any(draw["kind"] != "shelf" for draw in unit["draws"]):
        # Pads to be bought or taken out of another unit first can't be fitted yet.
        return redirect("repair-order", made.pk)
    return redirect(_form(unit))


def _ordered_before(request: HttpRequest, order: RepairOrder) -> HttpResponse:
    messages.info(request, f"Repair order {order.pk} is open already: nothing more is ordered.")
    return redirect("repair-order", order.pk)


def _query(plan: RestorePlan) -> str:
    """The address of the same plan made anew, after its question mark."""
    asked = {"goal": plan.goal, "unit": plan.housing_id, "yard": plan.yard_id}
    asked |= {"take": plan.takes_from_units and "on", "buy": plan.buys and "on"}
    return urlencode({name: given for name, given in asked.items() if given})


def _of_all(document: dict[str, Any]) -> dict[str, Any]:
    """Return how many units of a plan are short of their listing, and whether it places any pad.

    Plans of before were of short units alone. The pads a plan is counted by are those of units it
    brings to their listing: a unit that none bring there still has the best that can be had.
    """
    return {
        "of_short": int(document.get("short", len(document["units"]))),
        "has_pads": any(each["placed"] for each in document["units"]),
    }


def _units(
    document: dict[str, Any], plan: RestorePlan | None = None, came: Sequence[Came] = ()
) -> list[dict[str, Any]]:
    """Return the units of a plan with the link that fills the form, and what came of a kept one."""
    units = sorted(
        document["units"], key=lambda each: (not each["meets"], not each["placed"], each["mark"])
    )
    done = {each.housing for each in came if each.fate is Fate.DONE}
    standing = open_orders([each["housing"] for each in units])
    heads = CurrentRating.objects.filter(housing__in=done).select_related("head")
    ratings = {each.housing_id: each for each in heads}
    return [
        each
        | {
            "before": _judged(each["before"]),
            "after": _judged(each["after"]),
            "form": _form(each),
            "is_sourced": is_sourced(each),
            # Pads that do for a job, whether or not they bring the unit to its listing.
            "for_jobs": any(
                job["is_ready"] and not job["was_ready"] for job in each.get("jobs", ())
            ),
            "sound_out": sum(at["is_sound_now"] for at in each["placed"]),
            "open_order": standing.get(each["housing"]),
            # What its listing would take is no matter of a unit that meets it.
            "says_what_it_takes": not (
                each["meets"]
                or each.get("is_left_out")
                or each.get("is_giver")
                or each["before"]["standing"] == Standing.MEETS_LISTING.value
                or any(job["is_ready"] and not job["was_ready"] for job in each.get("jobs", ()))
            ),
            "order": ordered(plan, each["housing"]) if plan else None,
            "done": ratings.get(each["housing"]),
        }
        for each in units
    ]


def _form(unit: dict[str, Any]) -> str:
    """The address of the form of a replacement, filled as a plan has it for a unit."""
    places = [(at["side"], at["number"], at["lot_id"]) for at in unit["placed"]]
    return filled_form(unit["housing"], places)


def _judged(figures: dict[str, Any] | None) -> dict[str, Any] | None:
    return figures and figures | {"standing": Standing(figures["standing"])}
