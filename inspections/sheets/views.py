"""A yard's own sheet: sent, its columns confirmed, its doubts answered, rehearsed, then taken."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST
from django_htmx.http import HttpResponseClientRedirect

from fleet.aside import NoRoom
from fleet.fields import note_refusal
from fleet.roles import manager_required, signed_in
from inspections.exchange.incoming import Refused
from inspections.models import SheetDraft
from inspections.schedule.kinds import kinds_in_use
from inspections.sheets.doubts import answer_words
from inspections.sheets.forms import SheetForm
from inspections.sheets.layout import Block, Column, guess_as
from inspections.sheets.long_work import REHEARSE, TAKE, begin, is_long, working_on
from inspections.sheets.meanings import BY_SORT, MANY, NEEDED, Sort, is_pad_column
from inspections.sheets.recording import (
    answer_doubts,
    confirm_columns,
    keep_sheet,
    open_sheet,
    read_otherwise,
    rehearse_sheet,
    take_back,
    take_sheet,
    throw_away,
    waiting_of,
)
from inspections.sheets.rehearsal import Sheets, doubts_kept, moves_kept
from ratings.models import LotRating

logger = logging.getLogger(__name__)

LEAST_PADS_OFFERED = 4
MOST_PADS_OPEN = 5


@manager_required
def sheets(request: HttpRequest) -> HttpResponse:
    """Send a sheet, or go on with one that waits."""
    is_sent = request.method == "POST"
    form = SheetForm(
        request.POST if is_sent else None,
        request.FILES if is_sent else None,
    )
    if is_sent and form.is_valid():
        try:
            draft = keep_sheet(
                owner=signed_in(request),
                yard=form.cleaned_data["yard"],
                name=form.name,
                grids=form.grids,
            )
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            return redirect("sheet", draft.pk)
    if is_sent:
        logger.warning("sheet of “%s” refused: %r", request.user, form.errors.get_json_data())
    context = {"section": "due", "form": form, "waiting": waiting_of(signed_in(request))}
    return render(request, "sheets/sheets.html", context)


@manager_required
def sheet(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Show what each column is taken for, to be confirmed or changed."""
    draft = _draft(request, draft_id)
    opened = open_sheet(draft)
    troubles: list[str] = []
    if request.method == "POST":
        said = {block.number: _said(request, opened, block) for block in opened.blocks}
        is_other = any(
            said[block.number]["sort"] != opened.readings[block.number].sort
            for block in opened.blocks
        )
        if is_other:
            read_otherwise(draft=draft, readings=said)
            messages.info(request, "What its columns mean is offered anew: look and confirm.")
            return redirect("sheet", draft.pk)
        troubles = [words for block in opened.blocks for words in _troubles(block, said)]
        if not troubles:
            draft = confirm_columns(draft=draft, readings=said, by=signed_in(request))
            _rehearse(request, draft, opened)
            return redirect("sheet-rehearsal", draft.pk)
        logger.warning("columns of “%s” refused: %s", request.user, troubles)
        for number, each in said.items():
            opened.readings[number].meanings.clear()
            opened.readings[number].meanings.update(each["meanings"])
    context = {
        "section": "due",
        "draft": draft,
        "troubles": troubles,
        "tables": [_table(opened, block) for block in opened.blocks],
        "sorts": [(each.value, each.label) for each in Sort],
        "kinds": [kind.name for kind in kinds_in_use()],
    }
    return render(request, "sheets/sheet.html", context)


@dataclass
class ColumnRow:
    """A column on the page: where it stands, what it is taken for, and some of its values."""

    column: Column
    meaning: str
    by: str
    samples: list[tuple[str, str, bool]]


def _table(opened: Sheets, block: Block) -> dict[str, Any]:
    reading, found = opened.readings[block.number], opened.guesses[block.number]
    rows = [
        ColumnRow(
            column,
            reading.meanings.get(column.place, ""),
            found.by.get(column.place, "")
            if reading.meanings.get(column.place) == found.meanings.get(column.place)
            else "as you chose",
            opened.reader.sample(block, column, reading.meanings.get(column.place, "")),
        )
        for column in block.columns
        if reading.meanings.get(column.place) or any(True for _ in block.cells(column.place))
    ]
    return {
        "block": block,
        "sort": reading.sort.value,
        "kind": reading.kind,
        "asks_kind": reading.sort is Sort.INSPECTIONS and "kind" not in reading.meanings.values(),
        "groups": _groups(rows),
        "meanings": _offered(opened, reading.sort, set(reading.meanings.values())),
        "is_left": reading.sort is Sort.LEAVE,
    }


def _groups(rows: list[ColumnRow]) -> list[dict[str, Any]]:
    """Columns as the page shows them: those of pads, which are many, closed where all is clear."""
    pads = [row for row in rows if is_pad_column(row.meaning)]
    if len(pads) < MOST_PADS_OPEN:
        return [{"rows": rows}]
    is_doubtful = any(not is_clear for row in pads for _, _, is_clear in row.samples)
    return [
        {"rows": [row for row in rows if row not in pads]},
        {"rows": pads, "is_of_pads": True, "is_open": is_doubtful},
    ]


def _offered(opened: Sheets, sort: Sort, used: set[str]) -> list[tuple[str, str]]:
    """What a column may mean; pads up to the largest housing there is."""
    most = max([LEAST_PADS_OFFERED, *opened.known.positions.values()])
    return [
        (name, meaning.label)
        for name, meaning in BY_SORT[sort].items()
        if not is_pad_column(name) or name in used or int(name.split(":")[2]) <= most
    ]


def _said(request: HttpRequest, opened: Sheets, block: Block) -> dict[str, Any]:
    """What was posted of a table; where its sort was changed, its columns are guessed anew."""
    reading = opened.readings[block.number]
    given = request.POST.get(f"sort-{block.number}", "")
    sort = Sort(given) if given in tuple(Sort) else reading.sort
    kinds = {kind.name for kind in kinds_in_use()}
    kind = request.POST.get(f"kind-{block.number}", "")
    meanings = {
        column.place: name
        for column in block.columns
        if (name := request.POST.get(f"column-{block.number}-{column.place}", "")) in BY_SORT[sort]
    }
    if sort is not reading.sort:
        known = opened.known
        meanings = dict(guess_as(block, sort, known.machine_keys, known.yard_words).meanings)
    return {"sort": sort, "meanings": meanings, "kind": kind if kind in kinds else reading.kind}


def _troubles(block: Block, said: dict[int, dict[str, Any]]) -> list[str]:
    """What is wrong with a table's columns as they were chosen, in words."""
    each = said[block.number]
    meanings: dict[int, str] = each["meanings"]
    labels = {name: meaning.label for name, meaning in BY_SORT[each["sort"]].items()}
    names = list(meanings.values())
    twice = [name for name in dict.fromkeys(names) if names.count(name) > 1 and name not in MANY]
    words = [
        f"Sheet “{block.sheet}”: two columns are taken for {labels[name]}. Leave one of them out."
        for name in twice
    ]
    for group in NEEDED[each["sort"]]:
        if not set(group) & set(names):
            wanted = " or ".join(labels[name] for name in group)
            words.append(
                f"Sheet “{block.sheet}”: no column is taken for {wanted}. Choose one, or leave "
                "the sheet."
            )
    return words


@manager_required
def rehearsal(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Show every doubt and what would become of the sheet; take answers, and take it."""
    draft = _draft(request, draft_id)
    if not draft.is_confirmed:
        return redirect("sheet", draft.pk)
    person = signed_in(request)
    if "taken" in draft.rehearsal:
        return _is_taken(request, draft)
    working = working_on(draft)
    if working is not None:
        context = {"section": "due", "draft": draft, "working": working}
        return render(request, "sheets/working.html", context)
    if request.method == "POST" and "take" in request.POST:
        return _take(request, draft)
    if request.method == "POST":
        keys = request.POST.getlist("back")
        if keys:
            draft = take_back(draft=draft, keys=keys, by=person)
        else:
            doubts = doubts_kept(draft.rehearsal)
            given = {
                doubt.id: request.POST.get(f"typed-{doubt.id}", "").strip()
                or request.POST.get(f"answer-{doubt.id}", "")
                for doubt in doubts
            }
            draft = answer_doubts(draft=draft, doubts=doubts, given=given, by=person)
        _rehearse(request, draft, open_sheet(draft))
        return redirect("sheet-rehearsal", draft.pk)
    return render(request, "sheets/rehearsal.html", _rehearsed(draft))


def _rehearse(request: HttpRequest, draft: SheetDraft, opened: Sheets) -> None:
    """Rehearse a sheet at once, or beside the page where it is long."""
    rows = _rows(opened)
    if is_long(rows):
        begin(draft, signed_in(request), REHEARSE, rows)
        return
    try:
        rehearse_sheet(draft=draft, by=signed_in(request))
    except NoRoom as full:
        note_refusal(str(full))
        messages.error(request, str(full))


def _rows(opened: Sheets) -> int:
    return sum(len(block.rows) for block in opened.blocks)


def _is_taken(request: HttpRequest, draft: SheetDraft) -> HttpResponse:
    news = draft.rehearsal["taken"]
    throw_away(draft)
    _tell_taken(request, news)
    is_polled = "HX-Request" in request.headers
    return HttpResponseClientRedirect(reverse("board")) if is_polled else redirect("board")


def _tell_taken(request: HttpRequest, news: int) -> None:
    messages.success(request, f"{news} record{' is' if news == 1 else 's are'} taken in.")
    if LotRating.objects.waiting().exists():
        messages.warning(request, "Ratings drafted from bench tests wait for a second person.")


def _rehearsed(draft: SheetDraft) -> dict[str, Any]:
    tried = draft.rehearsal
    is_tried = "fingerprint" in tried
    doubts = doubts_kept(tried)
    doubt_count = tried.get("doubt_count", 0)
    return {
        "section": "due",
        "draft": draft,
        "tried": tried if is_tried else None,
        "moves": moves_kept(tried),
        "doubts": doubts,
        "doubt_count": doubt_count,
        "more_doubts": doubt_count - len(doubts),
        "answers": [
            (key, each["question"], answer_words(each["value"]))
            for key, each in draft.answers.items()
        ],
        "trouble": tried.get("trouble", ""),
        "may_take": is_tried and not doubt_count and bool(tried["news"]),
    }


def _take(request: HttpRequest, draft: SheetDraft) -> HttpResponse:
    rows = _rows(open_sheet(draft))
    if is_long(rows):
        begin(draft, signed_in(request), TAKE, rows)
        return redirect("sheet-rehearsal", draft.pk)
    try:
        news = take_sheet(draft=draft, by=signed_in(request))
    except ValidationError as refusal:
        note_refusal(*refusal.messages)
        messages.error(request, " ".join(refusal.messages))
        return redirect("sheet-rehearsal", draft.pk)
    except NoRoom as full:
        note_refusal(str(full))
        messages.error(request, str(full))
        return redirect("sheet-rehearsal", draft.pk)
    except Refused as refused:
        logger.warning("sheet of “%s” not taken: %s", request.user, refused)
        _rehearse(request, draft, open_sheet(draft))
        note_refusal(str(refused))
        messages.error(request, "A row can’t be taken any more, so nothing was: see below.")
        return redirect("sheet-rehearsal", draft.pk)
    _tell_taken(request, news)
    return redirect("board")


@manager_required
@require_POST
def throw_sheet_away(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Remove a sheet that waits, with its answers."""
    draft = _draft(request, draft_id)
    name = draft.name
    throw_away(draft)
    messages.success(request, f"“{name}” is thrown away. Nothing of it was taken.")
    return redirect("sheets")


def _draft(request: HttpRequest, draft_id: int) -> SheetDraft:
    return get_object_or_404(
        SheetDraft.objects.select_related("yard"), pk=draft_id, owner=signed_in(request)
    )
