"""Pages of proposals: what may be proposed, what waits, and a second person's word on it."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from functools import wraps
from typing import Any

import django_filters
from django import forms
from django.contrib import messages
from django.core import signing
from django.core.exceptions import BadRequest, ValidationError
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from fleet.context import system_of
from fleet.fields import FactForm, SubmissionForm, field_of
from fleet.models import LongWork
from fleet.roles import RECORD, manager_required, managers_but, signed_in, who_words
from fleet.signers import signer_words
from fleet.tables import (
    Column,
    DatedFilter,
    MomentColumn,
    PersonColumn,
    RecordsTable,
    records_page,
    table_of,
)
from ratings.models import Proposal, ProposalAnswer, What
from ratings.payload import CannotBeKept, CannotBeRead, read, written
from ratings.proposals.acts import ACTS, SecondPersonNeeded, name_of
from ratings.proposals.recording import (
    about_of,
    arguments_of,
    changes_since,
    confirm_proposal,
    details_of,
    propose,
    rates_many,
    turn_down,
)
from ratings.rerating.long_work import record_or_begin

SALT = "proposal"
View = Callable[..., HttpResponse]


def may_propose(view: View) -> View:
    """Let a page that records something offer to propose it, where the policy wants two people."""

    @wraps(view)
    def offered(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        try:
            return view(request, *args, **kwargs)
        except SecondPersonNeeded as needed:
            return _offer(request, needed)

    return offered


class ProposalForm(FactForm):
    """Why something should be recorded, for whoever is to confirm it."""

    class Meta:
        model = Proposal
        fields = ("why",)
        error_messages = {
            "why": {"required": "This is blank: say to whoever confirms it why it is right."}
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["why"].label = "Why it is right"


class TurnDownForm(SubmissionForm):
    """Why a proposal is not to be recorded."""

    reason = field_of(ProposalAnswer, "reason", label="Why it is turned down", required=True)


class TakeBackForm(TurnDownForm):
    """Why whoever proposed something takes it back."""

    reason = field_of(ProposalAnswer, "reason", label="Why it is taken back", required=True)


def _offer(request: HttpRequest, needed: SecondPersonNeeded) -> HttpResponse:
    """Show what was entered, that it is not recorded yet, and the button that proposes it."""
    context: dict[str, Any] = {"back": request.get_full_path()}
    if not signed_in(request).has_perm(RECORD):
        context |= {"title": needed.act.title(needed.arguments), "what": needed.act.what.label}
        return render(request, "proposals/propose.html", context | {"may_not_propose": True})
    try:
        sealed = signing.dumps(
            {
                "what": needed.act.what.value,
                "payload": written(needed.arguments),
                "by": signed_in(request).pk,
                "back": request.get_full_path(),
            },
            salt=SALT,
            compress=True,
        )
    except CannotBeKept:
        context |= {"title": needed.act.title(needed.arguments), "cannot_be_kept": True}
        return render(request, "proposals/propose.html", context)
    return _propose_page(request, ProposalForm(), sealed)


def _propose_page(request: HttpRequest, form: forms.BaseForm, sealed: str) -> HttpResponse:
    held = _unsealed(request, sealed)
    act = ACTS[held["what"]].act
    try:
        arguments = read(held["payload"])
    except CannotBeRead:
        raise BadRequest("What this is of has changed: open its page again.") from None
    others = Proposal.objects.open().filter(about=name_of(act.about(arguments)))
    context = {
        "title": act.title(arguments),
        "what": act.what.label,
        "details": act.details(arguments, system_of(request)),
        "others": others.select_related("recorded_by"),
        "confirmers": [who_words(each) for each in managers_but(signed_in(request))],
        "form": form,
        "sealed": sealed,
        "back": held["back"],
    }
    return render(request, "proposals/propose.html", context)


def _unsealed(request: HttpRequest, sealed: str) -> dict[str, Any]:
    """Return what the page before held, which nobody but whoever it was shown to may send."""
    try:
        held: dict[str, Any] = signing.loads(sealed, salt=SALT)
    except signing.BadSignature:
        raise BadRequest("This is no proposal of this site: open the page again.") from None
    if held["by"] != signed_in(request).pk:
        raise BadRequest("Somebody else entered this: open the page again and enter it yourself.")
    return held


@manager_required
@require_POST
def new_proposal(request: HttpRequest) -> HttpResponse:
    """Put what was entered on record as a proposal."""
    sealed = request.POST.get("sealed", "")
    held, form = _unsealed(request, sealed), ProposalForm(request.POST)
    if form.is_valid():
        try:
            made = propose(
                submission_id=form.cleaned_data["submission_id"],
                what=held["what"],
                payload=held["payload"],
                why=form.cleaned_data["why"],
                by=signed_in(request),
            )
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            messages.success(
                request, "It is proposed. Nothing is recorded until another manager confirms it."
            )
            return redirect("proposal", made.pk)
    return _propose_page(request, form, sealed)


class ProposalTable(RecordsTable):
    """What was proposed, and what came of it."""

    caption = "Proposals"
    empty_words = "Nothing was ever proposed: the policy says for what a second person is asked."
    nothing_found = "No proposal matches: clear the filters."

    title = Column("What it would record")
    recorded_at = MomentColumn("Proposed")
    by = PersonColumn("By")
    state = Column("What came of it", empty_values=(), orderable=False)

    def render_title(self, record: Proposal) -> SafeString:
        return format_html(
            '<a href="{}">{}</a>', reverse("proposal", args=[record.pk]), record.title
        )

    def render_state(self, record: Proposal) -> SafeString | str:
        if not hasattr(record, "answer"):
            return format_html("<strong>{}</strong>", "waits for a second person")
        who = signer_words(record.answer)
        if record.answer.is_confirmed:
            return f"confirmed by {who}"
        return f"turned down by {who}: {record.answer.reason}"


class ProposalFilter(DatedFilter):
    """Narrow the proposals by a word, what they are of, and what came of them."""

    hint = "what it would record, or why"
    searched = ("title", "why")
    begins = "recorded_at"

    what = django_filters.ChoiceFilter(label="Of", empty_label="anything", choices=What.choices)
    state = django_filters.ChoiceFilter(
        label="State",
        empty_label="any",
        choices=[("waits", "waits"), ("confirmed", "confirmed"), ("down", "turned down")],
        method="filter_state",
    )

    def filter_state(self, found: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        if value == "waits":
            return found.filter(answer__isnull=True)
        return found.filter(answer__is_confirmed=value == "confirmed")


def proposals(request: HttpRequest) -> HttpResponse:
    """List everything that was proposed, the newest first."""
    found = Proposal.objects.select_related("recorded_by", "answer__recorded_by")
    filters = ProposalFilter(request.GET, queryset=found)
    table = table_of(request, ProposalTable, filters.qs)
    return records_page(request, "proposals/proposals.html", table, filters, {"section": "policy"})


@never_cache
def proposal(request: HttpRequest, proposal_id: int) -> HttpResponse:
    """Show what is proposed, by whom and why; another person confirms it or turns it down."""
    return _page(request, _found(proposal_id))


@manager_required
@require_POST
def confirm(request: HttpRequest, proposal_id: int) -> HttpResponse:
    """Record what was proposed, on this second person's word."""
    found = _found(proposal_id)
    form = SubmissionForm(request.POST)
    if form.is_valid():
        try:
            done = _confirm(request, found, form)
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            if isinstance(done, LongWork):
                return redirect("rerating", done.pk)
            messages.success(request, "Confirmed, and recorded as it was proposed.")
            return redirect("proposal", found.pk)
    return _page(request, _found(proposal_id), refused=form)


def _confirm(
    request: HttpRequest, found: Proposal, form: SubmissionForm
) -> ProposalAnswer | LongWork:
    """Confirm a proposal, or begin to where it may rate many units again."""
    by = signed_in(request)
    given = {"submission_id": form.cleaned_data["submission_id"], "proposal": found}
    if not rates_many(found):
        return confirm_proposal(**given, by=by)
    return record_or_begin(
        confirm_proposal,
        given,
        by=by,
        title=f"Confirmed: {found.title}",
        about=about_of(found),
        page=reverse("proposal", args=[found.pk]),
        form=form,
        system=system_of(request),
    )


@manager_required
@require_POST
def turn_proposal_down(request: HttpRequest, proposal_id: int) -> HttpResponse:
    """Say that what was proposed is not recorded, and why."""
    found, form = _found(proposal_id), TurnDownForm(request.POST)
    if form.is_valid():
        try:
            turn_down(proposal=found, by=signed_in(request), **form.cleaned_data)
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            messages.success(request, "Turned down: nothing is recorded of it.")
            return redirect("proposal", found.pk)
    return _page(request, _found(proposal_id), form=form, refused=form)


def _found(proposal_id: int) -> Proposal:
    found = Proposal.objects.select_related("recorded_by", "answer__recorded_by")
    return get_object_or_404(found, pk=proposal_id)


def _page(
    request: HttpRequest,
    found: Proposal,
    *,
    form: TurnDownForm | None = None,
    refused: forms.BaseForm | None = None,
) -> HttpResponse:
    act, answer = ACTS[found.what].act, getattr(found, "answer", None)
    arguments = arguments_of(found)
    # Of one that is answered they have, by what it recorded itself.
    changes = changes_since(found) if answer is None else []
    is_own = found.recorded_by_id == signed_in(request).pk
    context = {
        "section": "policy",
        "proposal": found,
        "about": about_of(found),
        "answer": answer,
        "details": details_of(found, system_of(request)),
        "page": "" if arguments is None else act.page(arguments),
        "changes": changes,
        "is_own": is_own,
        "confirmers": [who_words(each) for each in managers_but(found.recorded_by)],
        "form": form or (TakeBackForm() if is_own else TurnDownForm()),
        "refused": refused,
        "confirmation_id": uuid.uuid4(),
    }
    return render(request, "proposals/proposal.html", context)
