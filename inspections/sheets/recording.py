"""Sheets kept until they are taken, what was confirmed of them, and what a yard means by words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.models import Yard
from fleet.people.yards import in_every_yard
from inspections.models import SheetDraft, SheetWord
from inspections.models.sheet_draft import LONGEST_WORD, MOST_DRAFTS
from inspections.sheets.doubts import LEAVE_CELL, LEAVE_ROW, Doubt
from inspections.sheets.grid import Grid, packed
from inspections.sheets.meanings import Sort
from inspections.sheets.rehearsal import Sheets, fingerprint, opened, rehearse, take

LONGEST_ANSWER = 400


class NotRehearsed(ValidationError):
    """A sheet that is not, or no longer, what was rehearsed without doubts."""


@transaction.atomic
def keep_sheet(*, owner: User, yard: Yard | None, name: str, grids: list[Grid]) -> SheetDraft:
    """Keep a sheet for the person who sent it, until it is taken or thrown away.

    Raises ValidationError where as many wait as one person may have.
    """
    User.objects.select_for_update().get(pk=owner.pk)
    if SheetDraft.objects.filter(owner=owner).count() >= MOST_DRAFTS:
        raise ValidationError(
            f"{MOST_DRAFTS} sheets of yours wait already: take or throw away one of them first."
        )
    return SheetDraft.objects.create(owner=owner, yard=yard, name=name[:160], cells=packed(grids))


def throw_away(draft: SheetDraft) -> None:
    """Remove a sheet and its answers; what was confirmed of its words stays remembered."""
    draft.delete()


def remembered(draft: SheetDraft) -> dict[tuple[str, str], str]:
    """Return what the draft's yard means by words, by place and word."""
    words = SheetWord.objects.filter(yard=draft.yard_id).values_list("place", "word", "meaning")
    return {(place, word): meaning for place, word, meaning in words}


def open_sheet(draft: SheetDraft) -> Sheets:
    """Return a draft as it stands, with what its yard confirmed before."""
    return opened(draft, remembered(draft))


def read_otherwise(*, draft: SheetDraft, readings: Mapping[int, Mapping[str, Any]]) -> None:
    """Keep that tables of a sheet hold something else than was thought, to be confirmed anew."""
    draft.readings = _kept_readings(readings)
    draft.is_confirmed = False
    draft.save()


def _kept_readings(readings: Mapping[int, Mapping[str, Any]]) -> dict[str, Any]:
    """Return readings as a draft holds them."""
    return {
        str(number): {
            "sort": str(each["sort"]),
            "meanings": {str(place): name for place, name in each["meanings"].items()},
            "kind": each["kind"],
        }
        for number, each in readings.items()
    }


@transaction.atomic
def confirm_columns(
    *, draft: SheetDraft, readings: dict[int, dict[str, Any]], by: User
) -> SheetDraft:
    """Keep what each table's columns mean, and remember it for the yard.

    readings: by table, its sort, its meanings by the place of the column, and the kind of its
    inspections.
    """
    draft = SheetDraft.objects.select_for_update().get(pk=draft.pk)
    sheets = open_sheet(draft)
    draft.readings = _kept_readings(readings)
    draft.is_confirmed = True
    draft.rehearsal = {}
    if not draft.answers:
        draft.answers = _answers_remembered(draft)
    draft.save()
    words: dict[tuple[str, str], str] = {}
    for block in sheets.blocks:
        each = readings[block.number]
        words["sort", block.key] = str(each["sort"])
        words["kind", block.key] = each["kind"]
        if each["sort"] == Sort.LEAVE:
            continue
        for column in block.columns:
            if column.header:
                place = f"column {each['sort']}"
                words[place, column.header.lower()] = each["meanings"].get(column.place, "")
    _remember(draft, words, by)
    return draft


def _answers_remembered(draft: SheetDraft) -> dict[str, Any]:
    """What the yard said before of values that were doubts; it stands among the answers."""
    return {
        f"{place.removeprefix('value ')}|{word}": {
            "value": meaning,
            "question": f"“{word}”, as answered before",
        }
        for (place, word), meaning in remembered(draft).items()
        if place.startswith("value ")
    }


def _remember(draft: SheetDraft, words: dict[tuple[str, str], str], by: User) -> None:
    if draft.yard is None:
        return
    for (place, word), meaning in words.items():
        SheetWord.objects.update_or_create(
            yard=draft.yard,
            place=place[:40],
            word=word[:LONGEST_WORD],
            defaults={"meaning": meaning[:200], "confirmed_by": by},
        )


@transaction.atomic
def answer_doubts(
    *, draft: SheetDraft, doubts: Iterable[Doubt], given: dict[str, str], by: User
) -> SheetDraft:
    """Keep what was answered to doubts, by their ids, and remember what holds for the yard."""
    draft = SheetDraft.objects.select_for_update().get(pk=draft.pk)
    words: dict[tuple[str, str], str] = {}
    for doubt in doubts:
        value = given.get(doubt.id, "").strip()[:LONGEST_ANSWER]
        if not value:
            continue
        kept: dict[str, Any] = {
            "value": value,
            "question": f"{doubt.column}: {doubt.given or doubt.words}"[:200],
        }
        if doubt.rows:
            kept["rows"] = [list(each) for each in doubt.rows]
            kept["field"] = "" if value == LEAVE_ROW else doubt.about
        draft.answers[doubt.key] = kept
        if doubt.place and value not in (LEAVE_ROW, LEAVE_CELL):
            words[f"value {doubt.place}", doubt.given] = value
    draft.rehearsal = {}
    draft.save()
    _remember(draft, words, by)
    return draft


@transaction.atomic
def take_back(*, draft: SheetDraft, keys: Iterable[str], by: User) -> SheetDraft:
    """Take answers back, so that their doubts are asked again, here and in later sheets."""
    draft = SheetDraft.objects.select_for_update().get(pk=draft.pk)
    for key in keys:
        draft.answers.pop(key, None)
        place, _, word = key.partition("|")
        SheetWord.objects.filter(
            yard=draft.yard_id, place=f"value {place}"[:40], word=word[:LONGEST_WORD]
        ).delete()
    draft.rehearsal = {}
    draft.save()
    return draft


@in_every_yard
def rehearse_sheet(*, draft: SheetDraft, by: User) -> SheetDraft:
    """Try a sheet as it stands, and keep what became of it. Nothing is recorded."""
    draft.rehearsal = rehearse(open_sheet(draft), by)
    draft.save(update_fields=["rehearsal", "changed_at"])
    return draft


@in_every_yard
@transaction.atomic
def take_sheet(*, draft: SheetDraft, by: User, keeps_draft: bool = False) -> int:
    """Record a sheet whole, or nothing of it, and return how many records are new.

    keeps_draft: whether the draft stays until its person has seen that it is taken.
    Raises NotRehearsed where a doubt is left, or it is no longer what was rehearsed; Refused of
    the register where a row can't be taken any more.
    """
    draft = SheetDraft.objects.select_for_update().get(pk=draft.pk)
    understood = open_sheet(draft).understood()
    if len(understood.doubts):
        raise NotRehearsed("Something is in doubt still: answer it first.")
    if fingerprint(understood) != draft.rehearsal.get("fingerprint"):
        raise NotRehearsed("What this comes to has changed since it was rehearsed: look again.")
    news = take(understood, by, draft.name)
    if not keeps_draft:
        draft.delete()
    return news


def waiting_of(owner: User) -> list[SheetDraft]:
    """Return the sheets that wait for a person, without their cells."""
    return list(SheetDraft.objects.filter(owner=owner).defer("cells").select_related("yard"))
