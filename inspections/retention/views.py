from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from fleet.context import system_of
from fleet.fields import FactForm, NumberField, SubmissionForm, field_of, show_refusal
from fleet.models import FileLetGo, LettingGo, RetentionRule
from fleet.models.retention import LEAST_YEARS, MOST_YEARS
from fleet.roles import RECORD, manager_required, signed_in
from fleet.signers import signer_words
from fleet.tables import Column, MomentColumn, PersonColumn, RecordsTable, table_of
from inspections.retention.kinds import BY_KEY, KINDS, Kind, past, rule_of, rules_by_kind
from inspections.retention.recording import let_go, set_rule
from ratings.models import What
from ratings.proposals.acts import SecondPersonNeeded
from ratings.proposals.recording import confirmers
from ratings.proposals.views import may_propose

SECTION = {"section": "record"}
# On the page at once, the oldest: what is let go comes off, and the next come up.
SHOWN = 100


class RuleForm(FactForm):
    """For how long files of a kind are kept, and why."""

    class Meta:
        model = RetentionRule
        fields = ("needs_second_person", "reason")

    years = NumberField(
        label="Years to keep",
        least=LEAST_YEARS,
        most=MOST_YEARS,
        whole=True,
        example="10",
        required=False,
        help_text="Counted from the day each was recorded. Blank: for ever.",
    )
    field_order = ("years", "needs_second_person", "reason", "submission_id")


class LetGoForm(SubmissionForm):
    """Which files may go, and why."""

    reason = field_of(LettingGo, "reason")
    reason.help_text = "It stays on record, and stands wherever the file did."


class RuleTable(RecordsTable):
    """Every rule there was of a kind, the newest first."""

    caption = "Rules"
    anchor = "rules"
    own_prefix = "rules-"
    empty_words = "None: they are kept for ever."
    dated_by = ("recorded_at",)

    recorded_at = MomentColumn("When")
    years = Column("Years", empty_values=(), css="number")
    second = Column("Second person", empty_values=(), orderable=False)
    by = PersonColumn("By")
    reason = Column("Why", orderable=False)

    def render_years(self, record: RetentionRule) -> str:
        return "for ever" if record.years is None else str(record.years)

    def render_second(self, record: RetentionRule) -> str:
        return "confirms" if record.needs_second_person else "not asked for"


class LetGoTable(RecordsTable):
    """Files let go, the newest first."""

    caption = "Let go"
    anchor = "gone"
    own_prefix = "gone-"
    empty_words = "None yet."
    dated_by = ("letting_go__recorded_at",)

    recorded_at = MomentColumn("When", accessor="letting_go__recorded_at", orderable=False)
    by = Column("By", empty_values=(), orderable=False)
    words = Column("What", orderable=False)
    reason = Column("Why", accessor="letting_go__reason", orderable=False)
    sha256 = Column("SHA-256", css="mono", orderable=False)

    def load_page(self, records: list[FileLetGo]) -> None:
        keys = {each.letting_go_id for each in records}
        self.confirmed = confirmers(What.LETTING_GO.value, keys)

    def render_by(self, record: FileLetGo) -> str:
        second = self.confirmed.get(record.letting_go_id)
        by = signer_words(record.letting_go)
        return f"{by}, confirmed by {signer_words(second)}" if second else by


def retention(request: HttpRequest) -> HttpResponse:
    """Show of each kind of file how long it is kept, and how many are past their time."""
    rules = rules_by_kind()
    rows = [
        {
            "kind": kind,
            "rule": rules.get(kind.key),
            "many": kind.past_its_time(rules.get(kind.key)).count() if kind.key in rules else 0,
        }
        for kind in KINDS
    ]
    return render(request, "retention/retention.html", SECTION | {"rows": rows})


@may_propose
def files(request: HttpRequest, kind: str) -> HttpResponse:
    """List files past their time, and let go of those that are ticked."""
    of = _kind(kind)
    form = LetGoForm(request.POST if request.method == "POST" else None)
    ticked = request.POST.getlist("keys")
    if request.method == "POST":
        if not request.user.has_perm(RECORD):
            raise PermissionDenied
        if form.is_valid():
            try:
                made = let_go(
                    submission_id=form.cleaned_data["submission_id"],
                    kind=of.key,
                    keys=sorted(set(ticked)),
                    reason=form.cleaned_data["reason"],
                    by=signed_in(request),
                )
            except SecondPersonNeeded:
                raise
            except ValidationError as refusal:
                show_refusal(form, refusal, system_of(request))
            else:
                many = made.files.count()
                messages.success(request, f"{many} let go; what they were stays on record.")
                return redirect("retention-kind", of.key)
    in_force = rule_of(of)
    gone = FileLetGo.objects.filter(letting_go__kind=of.key)
    shown = past(of, in_force, SHOWN)
    return render(
        request,
        "retention/files.html",
        SECTION
        | {
            "kind": of,
            "rule": in_force,
            "form": form,
            "ticked": ticked,
            "files": shown,
            "many": of.past_its_time(in_force).count(),
            "may_go": any(not each.held for each in shown),
            "rules": table_of(request, RuleTable, _rules(of)),
            "gone": table_of(request, LetGoTable, gone.select_related("letting_go__recorded_by")),
        },
    )


def _rules(kind: Kind) -> Any:
    return RetentionRule.objects.filter(kind=kind.key).select_related("recorded_by")


@manager_required
def rule(request: HttpRequest, kind: str) -> HttpResponse:
    """Change for how long files of a kind are kept."""
    of = _kind(kind)
    before = rule_of(of)
    form = RuleForm(
        request.POST if request.method == "POST" else None,
        initial={
            "years": before.years if before else None,
            "needs_second_person": before.needs_second_person if before else True,
        },
    )
    if request.method == "POST" and form.is_valid():
        try:
            set_rule(kind=of, by=signed_in(request), **form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(form, refusal, system_of(request))
        else:
            messages.success(request, "The rule is changed. Nothing was let go by that.")
            return redirect("retention-kind", of.key)
    return render(request, "retention/rule.html", SECTION | {"kind": of, "form": form})


def _kind(key: str) -> Kind:
    if key not in BY_KEY:
        raise Http404("There is no such kind of file.")
    return BY_KEY[key]
