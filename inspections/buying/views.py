"""What to buy: the page, its orders, and the season's list on paper and as a table."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import urlencode

from fleet.cells import csv_download
from fleet.context import system_of
from fleet.fields import note_refusal, read_number, show_refusal, submission_of, words_by_field
from fleet.models.pad_lot import MOST_PADS_MOVED
from fleet.roles import RECORD, signed_in, who_words
from inspections.buying.forms import SeasonForm
from inspections.buying.recording import ListChanged, order_lines
from inspections.buying.season import SEASON, Line, Season, order_list_stated, rests_on, season
from ratings.record.giving import send_paper

CSV_HEADER = (
    "yard",
    "lot",
    "supplier",
    "short now",
    "for jobs",
    "needed by",
    "expected to fail",
    "free on the shelf",
    "free in no yard",
    "on order in time",
    "on order after the job began",
    "to buy",
    "price each",
    "currency",
    "price of",
    "source of the price",
    "lead days",
    "cost",
    "order by",
)


def buy(request: HttpRequest) -> HttpResponse:
    """Show what to buy of a yard or of all; posted, order the lines chosen."""
    form = _form(request)
    if request.method == "POST" and not signed_in(request).has_perm(RECORD):
        raise PermissionDenied
    troubles: list[str] = []
    if request.method == "POST" and form.is_valid():
        try:
            made = order_lines(
                submission_id=submission_of(request.POST),
                seen=request.POST.get("seen", ""),
                pads=_chosen(request),
                by=signed_in(request),
                **form.cleaned_data,
            )
        except ListChanged as refusal:
            note_refusal(*refusal.messages)
            messages.warning(request, " ".join(refusal.messages))
            return redirect(request.get_full_path())
        except ValidationError as refusal:
            troubles = [each for words in _words(request, refusal) for each in words]
        else:
            pads = sum(each.pads for each in made)
            messages.success(
                request,
                f"{len(made)} order{'' if len(made) == 1 else 's'} of {pads} pads recorded: send "
                "them to the suppliers, and record the days they promise.",
            )
            return redirect("pad-orders")
    form, found = _asked(request)
    return render(
        request,
        "buying/buy.html",
        {
            "section": "lots",
            "form": form,
            "found": found,
            "rests_on": rests_on(found) if found else [],
            "troubles": troubles,
            "submission_id": uuid.uuid4(),
            "sent": request.POST if troubles else {},
            "asked": _query(found) if found else "",
            "plan_asked": _plan_query(found) if found else "",
            "today": timezone.localdate(),
        },
    )


def order_list(request: HttpRequest) -> HttpResponse:
    """Print the season's list; asked wrongly, say what would do."""
    form, found = _asked(request, always=True)
    if found is None:
        return render(request, "buying/buy.html", {"section": "lots", "form": form})
    # Imported on need: the site must not wait for the PDF library at start.
    from inspections.buying.paper import order_list_pdf

    return send_paper(
        request,
        "order list",
        f"{found.until} {found.goal} {found.yard.pk if found.yard else ''}".strip(),
        f"order-list-{found.day}.pdf",
        lambda stamp: order_list_pdf(found, printed_by=who_words(signed_in(request)), stamp=stamp),
        order_list_stated(found),
    )


def order_list_csv(request: HttpRequest) -> HttpResponse:
    """Send the season's list as a CSV file; asked wrongly, say what would do."""
    form, found = _asked(request, always=True)
    if found is None:
        return render(request, "buying/buy.html", {"section": "lots", "form": form})
    return csv_download("order-list", CSV_HEADER, map(_row, found.lines))


def _row(line: Line) -> list[Any]:
    price = line.price
    return [
        line.yard.name,
        line.lot.mark,
        line.lot.supplier,
        line.short,
        line.for_jobs,
        line.needed_by,
        None if line.expected is None else round(line.expected, 1),
        line.free,
        line.loose,
        line.in_time,
        line.too_late,
        line.to_buy,
        price.amount if price else None,
        price.currency if price else "no price on record",
        price.valid_from if price else None,
        price.source if price else None,
        price.lead_days if price else None,
        line.cost,
        line.order_by if line.to_buy else None,
    ]


def _asked(request: HttpRequest, *, always: bool = False) -> tuple[SeasonForm, Season | None]:
    """Return the form, and the season asked for; None where none is, or it can't be."""
    form = _form(request)
    # All yards take a while: they are worked out once that is asked for.
    if not (always or "until" in request.GET) or not form.is_valid():
        return form, None
    given = form.cleaned_data
    try:
        return form, season(given["yard"], given["until"], given["goal"])
    except ValidationError as refusal:
        show_refusal(form, refusal, system_of(request))
        return form, None


def _form(request: HttpRequest) -> SeasonForm:
    usual = {"until": (timezone.localdate() + SEASON).isoformat(), "goal": "fewest"}
    return SeasonForm(usual | request.GET.dict())


def _words(request: HttpRequest, refusal: ValidationError) -> Any:
    return words_by_field(refusal, system_of(request)).values()


def _chosen(request: HttpRequest) -> dict[str, int]:
    """Return the pads to order of each line ticked. Raises ValidationError for no number."""
    found = {}
    for name in request.POST.getlist("line"):
        given = request.POST.get(f"pads-{name}", "")
        number = read_number(given, "12", 1, MOST_PADS_MOVED, whole=True)
        if number != int(number) or not 1 <= number <= MOST_PADS_MOVED:
            raise ValidationError(
                f"“{given}” pads can’t be ordered: give 1 to {MOST_PADS_MOVED:,}, whole."
            )
        found[name] = int(number)
    return found


def _query(found: Season) -> str:
    asked = {"yard": found.yard.pk if found.yard else None, "goal": found.goal}
    given = {name: value for name, value in asked.items() if value}
    return urlencode(given | {"until": found.until.isoformat()})


def _plan_query(found: Season) -> str:
    asked = {"goal": found.goal, "buy": "on", "yard": found.yard.pk if found.yard else None}
    return urlencode({name: value for name, value in asked.items() if value})
