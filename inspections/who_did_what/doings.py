"""Lines of the journal in words: who did what to which record, and the page that shows it."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db.models import Field, Model, OuterRef, QuerySet, Subquery
from django.urls import reverse

from fleet.models import Leaf, MachineSort, Refusal, SignIn
from ratings.proposals.telling import field_words
from ratings.record.lines import Names, told_by

SIGN_IN = SignIn._meta.label_lower
REFUSAL = Refusal._meta.label_lower
DID = {
    Leaf.What.RECORDED: "recorded",
    Leaf.What.CHANGED: "changed",
    Leaf.What.REMOVED: "removed",
    Leaf.What.FOUND: "found when the journal began",
    Leaf.What.CARRIED: "carried over by an upgrade",
}
# By label: the page of one such record, which takes its key.
PAGES = {
    "auth.user": "person",
    "fleet.clamp": "clamp",
    "fleet.hire": "hire",
    "fleet.padlot": "lot",
    "fleet.padorder": "pad-order",
    "fleet.powerpack": "power-pack",
    "fleet.suppressorhousing": "unit",
    "fleet.transfer": "transfer",
    "fleet.yard": "set-up-yard",
    "inspections.foreigncheck": "foreign-check",
    "inspections.forecast": "forecast",
    "inspections.inspection": "inspection",
    "inspections.machinedocument": "machine-document",
    "inspections.padreplacement": "replacement",
    "inspections.repairorder": "repair-order",
    "inspections.restoreplan": "restoring-plan",
    "inspections.takenimport": "taken-import",
    "ratings.benchtest": "bench-test",
    "ratings.commitment": "commitment",
    "ratings.extractionjob": "job",
    "ratings.gauge": "gauge",
    "ratings.gaugecalibration": "gauge-calibration",
    "ratings.lotrating": "lot-rating",
    "ratings.proofpull": "proof-pull",
    "ratings.proposal": "proposal",
    "ratings.pullrecord": "pull-record",
    "ratings.referencecheck": "reference-check",
    "ratings.teststand": "stand",
}
# By label: a page without a key that shows the newest of them.
PAGES_OF_ALL = {
    "inspections.checklist": "checklists",
    "inspections.ownkind": "kinds",
    "inspections.serviceschedule": "schedule",
    "ratings.extractionrules": "extraction-rules",
    "ratings.learningrules": "pull-lessons",
    "ratings.pilesection": "pile-sections",
    "ratings.ratingpolicy": "policy",
    "ratings.seal": "record",
    "ratings.soiltemplate": "soil-templates",
    "ratings.transportrules": "transport-rules",
    "ratings.verification": "record",
}
# What a record is called by, where it has it.
CALLED = ("mark", "name", "title", "site", "number", "sequence", "username")
# Told beside the line, or of no use to a reader.
UNTOLD = frozenset(
    {"id", "submission_id", "recorded_at", "recorded_by", "hash", "previous_hash", "password"}
)
MOST_TOLD = 6
LONGEST_TOLD = 120


@dataclass(frozen=True)
class Told:
    """One column of a record: what it is called, what it said before, what it says."""

    name: str
    before: str
    now: str


@dataclass(frozen=True)
class Doing:
    """A line of the journal in words.

    what: the sentence. page: of the record, "" where none shows it.
    """

    leaf: Leaf
    who: str
    kind: str
    what: str
    page: str


def with_before(lines: QuerySet[Leaf]) -> QuerySet[Leaf]:
    """Return lines each with the text of the line before it of the same record."""
    before = Leaf.objects.filter(
        model=OuterRef("model"), row_key=OuterRef("row_key"), pk__lt=OuterRef("pk")
    ).order_by("-pk")
    return lines.annotate(document_before=Subquery(before.values("document")[:1]))


def model_of(label: str) -> type[Model] | None:
    """Return the model of a line; None of a table the program no longer has."""
    try:
        return apps.get_model(label)
    except (LookupError, ValueError):
        return None


def kind_words(label: str) -> str:
    """Return what records of a table are called."""
    model = model_of(label)
    return str(model._meta.verbose_name) if model else label


class Telling:
    """Tells lines in words; what they name is looked up for all of them at once."""

    def __init__(self, system: str, names: Names | None = None) -> None:
        self.system = system
        self.names = names or Names()
        self.called: dict[tuple[str, Any], str] = {}

    def tell(self, lines: Collection[Leaf]) -> list[Doing]:
        """Return lines in words, with one query for each kind of record that they name."""
        rows = [told_by(leaf) for leaf in lines]
        self._look_up(rows)
        return [self._doing(leaf, told) for leaf, told in zip(lines, rows, strict=True)]

    def _look_up(self, rows: Collection[Mapping[str, Any]]) -> None:
        wanted: dict[type[Model], set[Any]] = {}
        for told in rows:
            model = model_of(told["model"])
            for field in _references(model):
                key = (told.get("row") or {}).get(field.attname)
                if key is not None and field.related_model is not User:
                    wanted.setdefault(field.related_model, set()).add(key)
        for model, keys in wanted.items():
            name = next((each for each in CALLED if _has(model, each)), None)
            if name is not None:
                label = model._meta.label_lower
                new = [key for key in keys if (label, key) not in self.called]
                found = model._base_manager.filter(pk__in=new).values_list("pk", name)
                self.called |= {(label, key): str(mark) for key, mark in found}

    def _doing(self, leaf: Leaf, told: Mapping[str, Any]) -> Doing:
        row = told.get("row") or {}
        if leaf.model == SIGN_IN:
            who = self._person(row, leaf, told)
            what = dict(SignIn.What.choices).get(str(row.get("what")), "")
            return Doing(leaf, who, "sign-in", _more(f"{who} {what}", row), "")
        if leaf.model == REFUSAL:
            who = self._person(row, leaf, told)
            return Doing(leaf, who, "refusal", _more(_refused(row), row), "")
        return Doing(
            leaf,
            self._signer(told, row, leaf),
            kind_words(leaf.model),
            self._written(leaf, told, row),
            page_of(leaf, row),
        )

    def _signer(self, told: Mapping[str, Any], row: Mapping[str, Any], leaf: Leaf) -> str:
        """Return who was signed in, and whose signature the record bears where that is another."""
        by, signed = told.get("by"), row.get("recorded_by_id")
        if signed is None or signed == by or leaf.what != Leaf.What.RECORDED:
            return self.names.then(by, leaf.recorded_at)
        name = self.names.then(signed, leaf.recorded_at)
        if by is None:
            return f"{name}, by a command"
        return f"{self.names.then(by, leaf.recorded_at)}, signed as {name}"

    def _person(self, row: Mapping[str, Any], leaf: Leaf, told: Mapping[str, Any]) -> str:
        key = row.get("person_id")
        return "a visitor" if key is None else self.names.then(key, leaf.recorded_at)

    def _written(self, leaf: Leaf, told: Mapping[str, Any], row: Mapping[str, Any]) -> str:
        model = model_of(leaf.model)
        did = DID.get(Leaf.What(leaf.what), leaf.what) if leaf.what in DID else leaf.what
        called = next((f" {row[each]}" for each in CALLED if row.get(each) not in (None, "")), "")
        owners = [
            f"{field.verbose_name} {self.called[key]}"
            for field in _references(model)
            if (key := (field.related_model._meta.label_lower, row.get(field.attname)))
            in self.called
        ]
        of = f" of {', '.join(owners[:3])}" if owners else ""
        words = f"{kind_words(leaf.model).capitalize()}{called}{of} {did}"
        if leaf.what == Leaf.What.CHANGED:
            told_columns = self.columns(leaf, only_changed=True)
            changes = [
                f"{each.name} {each.before or 'none'} → {each.now or 'none'}"
                for each in told_columns
            ]
        else:
            changes = [f"{each.name} {each.now}" for each in self.columns(leaf) if each.now]
        rest = len(changes) - MOST_TOLD
        told_words = "; ".join(changes[:MOST_TOLD]) + (f"; {rest} more" if rest > 0 else "")
        return f"{words}: {told_words}" if told_words else words

    def columns(self, leaf: Leaf, *, only_changed: bool = False, whole: bool = False) -> list[Told]:
        """Return what a line says of its record's own columns, and what the line before said.

        whole: all of them, and texts uncut.
        """
        model = model_of(leaf.model)
        told = told_by(leaf)
        row = told.get("row") or {}
        before = _before(leaf)
        found = []
        for name, value in row.items():
            field = _field(model, name)
            own = field.name if field is not None else name
            is_changed = before is not None and before.get(name) != value
            if (only_changed and not is_changed) or (not whole and own in UNTOLD):
                continue
            if not whole and not only_changed and (own in CALLED or _is_reference(field)):
                continue
            # What a new record says no to is mostly what nobody thought of.
            is_plain_no = value is False and not only_changed
            if not whole and (is_plain_no or _is_unreadable(value)):
                continue
            then = "" if before is None else self._words(field, before.get(name), whole)
            label = str(field.verbose_name) if field is not None else name
            found.append(Told(label, then, self._words(field, value, whole)))
        return found

    def _words(self, field: Any, value: Any, whole: bool) -> str:
        if value is None:
            return ""
        if _is_reference(field):
            if field.related_model is User:
                return str(self.names.now.get(value, f"person {value}"))
            label = field.related_model._meta.label_lower
            return self.called.get((label, value), f"number {value}")
        if isinstance(value, dict) and "sha256" in value:
            words = f"{value.get('name', '')} SHA-256 {value['sha256']}".strip()
        elif isinstance(value, dict | list):
            words = f"{len(value)} values"
        else:
            try:
                plain = field.to_python(value) if field is not None else value
                words = field_words(field, plain, self.system, None)
            except (ValidationError, ValueError, TypeError):
                words = str(value)
        words = " ".join(words.split())
        is_long = len(words) > LONGEST_TOLD and not whole
        return f"{words[:LONGEST_TOLD]}…" if is_long else words


def _before(leaf: Leaf) -> dict[str, Any] | None:
    document = getattr(leaf, "document_before", None)
    if not document:
        return None
    row: dict[str, Any] | None = told_by(Leaf(document=document)).get("row")
    return row


def _refused(row: Mapping[str, Any]) -> str:
    why = dict(Refusal.Why.choices).get(str(row.get("why")), "")
    words = f"Refused, {why}: {row.get('page') or 'a page'} ({row.get('path')})"
    if row.get("fields"):
        words += f"; {row['fields']}"
    return f"{words}. {row['words']}" if row.get("words") else words


def _more(words: str, row: Mapping[str, Any]) -> str:
    left_out = row.get("left_out") or 0
    return f"{words} ({left_out} more like it just before, counted only)" if left_out else words


def _is_unreadable(value: Any) -> bool:
    """Whether a value is a document, a list or a hash, which its line shows whole."""
    if isinstance(value, str):
        return value.startswith(("{", "["))
    return isinstance(value, list) or (isinstance(value, dict) and not value.get("name"))


def _has(model: type[Model], name: str) -> bool:
    return any(field.name == name for field in model._meta.concrete_fields)


def _is_reference(field: Any) -> bool:
    return field is not None and bool(field.is_relation)


def _field(model: type[Model] | None, attname: str) -> Field[Any, Any] | None:
    if model is None:
        return None
    return next((each for each in model._meta.concrete_fields if each.attname == attname), None)


def _references(model: type[Model] | None) -> Iterator[Any]:
    """Yield the columns of a record that name other records: whose it is, not who signed it."""
    for field in model._meta.concrete_fields if model else ():
        if field.is_relation and not (field.related_model is User and field.name != "user"):
            yield field


def page_of(leaf: Leaf, row: Mapping[str, Any]) -> str:
    """Return the page of a record, or of the nearest record it is of; "" where there is none."""
    if leaf.what == Leaf.What.REMOVED:
        return ""
    key = _key(leaf.row_key)
    own = _page(leaf.model, key)
    if own:
        return own
    if leaf.model in PAGES_OF_ALL:
        return reverse(PAGES_OF_ALL[leaf.model])
    if leaf.model == "ratings.ledgerentry" and row.get("housing_id"):
        ledger = reverse("unit-records", args=[row["housing_id"], "ledger"])
        return f"{ledger}?entry={row.get('sequence')}#entry-{row.get('sequence')}"
    for field in _references(model_of(leaf.model)):
        page = _page(field.related_model._meta.label_lower, row.get(field.attname))
        if page:
            return page
    return ""


def _page(label: str, key: Any) -> str:
    if not isinstance(key, int):
        return ""
    if label == "fleet.hammer":
        return reverse("machine-page", args=[MachineSort.HAMMER.slug, key])
    return reverse(PAGES[label], args=[key]) if label in PAGES else ""


def _key(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= 18 else None
