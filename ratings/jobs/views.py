"""The pages of jobs: entered, answered, and one unit's answer."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from fleet.context import system_of
from fleet.dates import days_words
from fleet.fields import note_refusal, whole_number
from fleet.roles import PLAN, planner_required, signed_in
from fleet.tables import records_page, table_of
from ratings.jobs.ahead import (
    Plan,
    as_planned,
    beyond_plans,
    cares_of,
    first_choice,
    offered_plans,
    why_not,
)
from ratings.jobs.answer import (
    Answer,
    Only,
    Row,
    UnitAnswer,
    answer_for,
    answer_for_unit,
    question_of,
)
from ratings.jobs.answer_page import RowWords, describe, describe_row, doubts_of, pile_name
from ratings.jobs.changes import Seen, change_words, news, read, seen_now, written
from ratings.jobs.commitment_forms import (
    CommitForm,
    ConfirmForm,
    MeetForm,
    PlanForm,
    ReleaseForm,
)
from ratings.jobs.commitments import (
    CannotCommit,
    commit_unit,
    confirm_commitment,
    days_trouble,
    meet_condition,
    release_unit,
)
from ratings.jobs.forms import REDRAWS, JobEntry
from ratings.jobs.history_table import HistoryTable
from ratings.jobs.job_table import JobFilter, JobTable
from ratings.jobs.on_the_way import in_the_way
from ratings.jobs.recording import JobChangedMeanwhile
from ratings.jobs.scan import columns, scan_row
from ratings.jobs.validity import commitment_now, commitments_fallen, commitments_of_job
from ratings.mechanics.extraction.check import check_piles
from ratings.mechanics.extraction.outcomes import UnitVerdict
from ratings.models import Commitment, CommitmentCondition, ConditionKind, ExtractionJob

# A job is saved without them, and no unit can be judged for it.
NEEDED_FOR_A_VERDICT = ("capacity_lbf", "rigging_limit_lbf", "yield_strength_ksi")


def jobs(request: HttpRequest) -> HttpResponse:
    """Show every job, the latest first, with the units it holds."""
    filters = JobFilter(request.GET, queryset=ExtractionJob.objects.with_deepest())
    table = table_of(request, JobTable, filters.qs)
    context = {"section": "jobs", "fallen": commitments_fallen()}
    return records_page(request, "jobs/jobs.html", table, filters, context)


@planner_required
def new_job(request: HttpRequest) -> HttpResponse:
    """Enter a job; the answer shows beside it as it is filled in."""
    return _page(request, None)


def job(request: HttpRequest, job_id: int) -> HttpResponse:
    """Show a job and which units suit it; who plans may change it."""
    found = get_object_or_404(ExtractionJob, pk=job_id)
    if request.method == "POST" and not signed_in(request).has_perm(PLAN):
        raise PermissionDenied
    return _page(request, found)


@require_POST
def job_layers(request: HttpRequest) -> HttpResponse:
    """The layers of a form as a button of it asks for them; nothing is kept."""
    entry = JobEntry.redrawn(request.POST, job=None, system=system_of(request))
    response = render(request, "jobs/layers.html", {"entry": entry, "form": entry.form})
    # The answer beside the form is asked for again once they stand in it.
    response["HX-Trigger-After-Settle"] = "layersredrawn"
    return response


@require_POST
def job_piles(request: HttpRequest) -> HttpResponse:
    """The piles of a form as a button of it asks for them; nothing is kept."""
    return _redrawn(request, "jobs/pile_groups.html")


@require_POST
def job_holds(request: HttpRequest) -> HttpResponse:
    """The other holds of a form as a button of it asks for them; nothing is kept."""
    response = _redrawn(request, "jobs/hold_rows.html")
    if "add_toe_suction" in request.POST:
        # The answer beside the form is asked for again with it.
        response["HX-Trigger-After-Settle"] = "layersredrawn"
    return response


@require_POST
def job_set_up(request: HttpRequest) -> HttpResponse:
    """A set-up suggested, or taken, as a button of the form asks; nothing is kept."""
    response = _redrawn(request, "jobs/set_up.html")
    response["HX-Trigger-After-Settle"] = "layersredrawn"
    return response


def _redrawn(request: HttpRequest, template: str) -> HttpResponse:
    entry = JobEntry.redrawn(request.POST, job=_job(request), system=system_of(request))
    context = {
        "entry": entry,
        "form": entry.form,
        "needed_for_a_verdict": NEEDED_FOR_A_VERDICT,
    }
    return render(request, template, context)


def _page(request: HttpRequest, found: ExtractionJob | None) -> HttpResponse:
    system = system_of(request)
    if any(name in request.POST for name in REDRAWS):
        entry = JobEntry.redrawn(request.POST, job=found, system=system)
    else:
        sent = request.POST if request.method == "POST" else None
        entry = JobEntry(sent, job=found, system=system)
    if request.method == "POST" and entry.form.is_bound and entry.is_valid():
        seen = whole_number(request.POST.get("on_top", ""))
        if seen is not None:
            entry.save_over(seen)
        try:
            saved = entry.saved_by(signed_in(request))
        except JobChangedMeanwhile as changed:
            entry.refuse_for(changed)
        except ValidationError as refused:
            entry.refuse(refused)
        else:
            messages.success(request, f"The job at {saved.site} is saved.")
            return redirect("job", saved.pk)
    context: dict[str, Any] = {
        "section": "jobs",
        "job": found,
        "entry": entry,
        "form": entry.form,
        "needed_for_a_verdict": NEEDED_FOR_A_VERDICT,
    }
    if found is not None:
        context["commitments"] = commitments_of_job(found)
        context["committed"] = sum(
            row.commitment.is_in_force and not row.is_void for row in context["commitments"]
        )
    return render(request, "jobs/job.html", context)


def job_history(request: HttpRequest, job_id: int) -> HttpResponse:
    """Show every version of a job, the newest first, with what each changed."""
    found = get_object_or_404(ExtractionJob, pk=job_id)
    table = table_of(request, HistoryTable, found.versions.select_related("recorded_by"))
    return records_page(
        request, "jobs/history.html", table, None, {"section": "jobs", "job": found}
    )


MOST_OPEN = 25
ONLY = {
    Only.ALL: "every unit",
    Only.GOING: "only what may go as it stands",
    Only.PROMISED: "what may go, now or once things are put right",
}


@dataclass(frozen=True)
class RankedUnit:
    """A row of the ranking. change: how it stood when last seen, "" if no different.

    commitment: this job's own, of the unit. is_open: its details stood open.
    """

    row: Row
    words: RowWords
    change: str
    commitment: Commitment | None
    is_open: bool


@require_POST
def job_answer(request: HttpRequest) -> HttpResponse:
    """The ranking for a job as it stands in the form, with what changed marked. Saves nothing."""
    job = _job(request)
    entry = JobEntry(request.POST, job=job, system=system_of(request))
    if not entry.is_valid():
        return _no_answer(request, entry)
    asked = entry.question
    page = request.POST.get("to_page") or request.POST.get("page", "")
    only = request.POST.get("only", "")
    answer = answer_for(
        asked, whole_number(page) or 1, Only(only) if only in tuple(Only) else Only.ALL
    )
    scanned = columns([each.verdict for each in answer.rows])
    most, held = answer.held_most
    before, now = read(request.POST.get("shown", "")), seen_now(answer.rows)
    changed = [
        (row.candidate.housing.mark, before[key], now[key])
        for row in answer.rows
        if (key := row.candidate.housing.pk) in before and before[key] != now[key]
    ]
    ranked = _ranked(request, answer, before, now, job)
    context = {
        "entry": entry,
        "answer": answer,
        "rows": ranked,
        "columns": scanned,
        "scan": [
            (row, scan_row(row.verdict, row.candidate.unit, scanned, each.words.may_go))
            for each in ranked
            for row in (each.row,)
        ],
        "doubts": doubts_of(answer.job, answer.policy, system_of(request)),
        "held": held,
        "held_in": pile_name(most) if len(answer.piles) > 1 else "",
        "days_trouble": days_trouble(asked.first_day, asked.last_day, answer.policy),
        "only_choices": ONLY,
        "news": news(changed, bool(before)),
        "shown": written(before, now),
        "job": job,
        "is_as_saved": job is not None and question_of(job) == asked,
    }
    return render(request, "jobs/answer.html", context)


@require_POST
def job_answer_unit(request: HttpRequest, housing_id: int) -> HttpResponse:
    """All there is to say of one unit for a job as it stands in the form. Saves nothing."""
    job = _job(request)
    entry = JobEntry(request.POST, job=job, system=system_of(request))
    if not entry.is_valid():
        return _no_answer(request, entry)
    pile = whole_number(request.POST.get("pile", ""))
    answer = answer_for_unit(entry.question, housing_id, pile)
    if answer is None:
        raise Http404("This housing is on no hammer.")
    context = {"page": describe(answer, system_of(request)), "is_row": True}
    return render(request, "jobs/answer_unit.html", context)


def _no_answer(request: HttpRequest, entry: JobEntry) -> HttpResponse:
    # What was shown last is kept, and what stood open, for the answer that comes next.
    context = {
        "entry": entry,
        "answer": None,
        "shown": request.POST.get("shown", ""),
        "opened": request.POST.getlist("open")[:MOST_OPEN],
    }
    return render(request, "jobs/answer.html", context)


def _job(request: HttpRequest) -> ExtractionJob | None:
    """The job on record that the form changes, if it does one."""
    key = whole_number(request.POST.get("job", ""))
    if key is None:
        return None
    return (
        ExtractionJob.objects.prefetch_related("pile_groups", "layers", "holds", "distances")
        .filter(pk=key)
        .first()
    )


def _ranked(
    request: HttpRequest,
    answer: Answer,
    before: dict[int, Seen],
    now: dict[int, Seen],
    job: ExtractionJob | None,
) -> list[RankedUnit]:
    """Return the rows of an answer in words, beside what was shown before."""
    system = system_of(request)
    in_force = job.commitments.in_force() if job else ()
    committed = {each.housing_id: each for each in in_force}
    opened = {whole_number(each) for each in request.POST.getlist("open")}
    return [
        RankedUnit(
            row=row,
            words=describe_row(row, answer, system),
            change=change_words(before.get(key), now[key]),
            commitment=committed.get(key),
            is_open=key in opened,
        )
        for row in answer.rows
        for key in [row.candidate.housing.pk]
    ]


def job_unit(request: HttpRequest, job_id: int, housing_id: int) -> HttpResponse:
    """Show one unit's answer for a job on record; who plans may commit it, now or ahead of time."""
    job = get_object_or_404(
        ExtractionJob.objects.prefetch_related("pile_groups", "layers", "holds"), pk=job_id
    )
    pile = whole_number(request.GET.get("pile", ""))
    answer = answer_for_unit(question_of(job), housing_id, pile)
    if answer is None:
        raise Http404("This housing is on no hammer.")
    # It is committed for every pile, whichever is looked at.
    whole = answer.whole or answer.verdict
    is_ahead = "ahead" in request.POST
    sent = request.POST if request.method == "POST" else None
    ways = in_the_way(job, answer.candidate)
    form = CommitForm(None if is_ahead else sent, cares=(*cares_of(whole), *ways))
    offer = AheadOffer.of(job, replace(answer, verdict=whole), ways)
    plan_form = offer.form(sent if is_ahead else None)
    used = plan_form if is_ahead else form
    if request.method == "POST":
        if not signed_in(request).has_perm(PLAN):
            raise PermissionDenied
        if used.is_valid():
            try:
                made = commit_unit(
                    submission_id=used.cleaned_data["submission_id"],
                    job=job,
                    housing=answer.candidate.housing,
                    by=signed_in(request),
                    plans=plan_form.plans if is_ahead else (),
                    is_care_known=used.is_care_known,
                    watched_by=used.cleaned_data["watched_by"],
                )
            except ValidationError as refusal:
                used.refuse(refusal)
            else:
                messages.success(request, f"{made.housing} is committed to {job.site}.")
                return redirect("commitment", made.pk)
    in_force = Commitment.objects.in_force().filter(job=job, housing=housing_id).first()
    trouble = days_trouble(job.first_day, job.last_day, answer.policy)
    return render(
        request,
        "jobs/unit.html",
        {
            "section": "jobs",
            "job": job,
            "page": describe(answer, system_of(request)),
            "form": form,
            "plan_form": plan_form,
            "planned_why_not": offer.why_not,
            "is_ahead": is_ahead,
            "days": days_words(job.first_day, job.last_day),
            "may_go": whole.may_go and not trouble,
            "days_trouble": trouble,
            "blocked": offer.blocked,
            "commitment": in_force,
            "committed_now": commitment_now(in_force.pk) if in_force else None,
        },
    )


@dataclass(frozen=True)
class AheadOffer:
    """What would let a unit go by the first day of a job, and the verdict on it then."""

    job: ExtractionJob
    plans: tuple[Plan, ...]
    verdict: UnitVerdict
    ways: tuple[str, ...] = ()

    @classmethod
    def of(cls, job: ExtractionJob, answer: UnitAnswer, ways: tuple[str, ...]) -> AheadOffer:
        """Offer what an answer finds wanting. ways: what its days on the way run into."""
        days, today = (job.first_day, job.last_day), timezone.localdate()
        plans, candidate = offered_plans(answer, *days, today), answer.candidate
        chosen = first_choice(plans)
        unit = as_planned(candidate, chosen, candidate.counted_on, *days)
        return cls(job, plans, check_piles(unit, answer.piles, answer.policy), ways)

    @property
    def why_not(self) -> str:
        """Why it may not go even then, "" where it may."""
        return "" if self.verdict.may_go else why_not(self.verdict)

    @property
    def blocked(self) -> str:
        """Why nothing that can be planned would let it go, "" where something might."""
        return beyond_plans(self.verdict)

    def form(self, sent: Any) -> PlanForm:
        """Return the form that plans it."""
        return PlanForm(
            sent,
            offered=self.plans,
            first_day=self.job.first_day,
            last_day=self.job.last_day,
            cares=(*cares_of(self.verdict), *self.ways),
        )


@planner_required
@require_POST
def confirm(request: HttpRequest, commitment_id: int) -> HttpResponse:
    """Confirm a commitment on an answer of now, of which its sheet then is."""
    made = get_object_or_404(Commitment.objects.select_related("housing"), pk=commitment_id)
    form = ConfirmForm(request.POST)
    if form.is_valid():
        try:
            confirm_commitment(
                submission_id=form.cleaned_data["submission_id"],
                commitment=made,
                by=signed_in(request),
                is_care_known=form.cleaned_data["with_care"],
                watched_by=form.cleaned_data["watched_by"],
            )
        except CannotCommit as refusal:
            note_refusal(*refusal.messages)
            messages.error(request, f"Not confirmed. {' '.join(refusal.messages)}")
        else:
            messages.success(request, f"{made.housing} is confirmed; its sheet is of this answer.")
    else:
        said = " ".join(str(words) for words in form.errors.get("watched_by", ()))
        trouble = f". Who watches the pull: {said}" if said else ": load this page again, then"
        note_refusal(said or "The form was not whole.")
        messages.error(request, f"Not confirmed{trouble}" + ("" if said else " press the button."))
    return redirect("commitment", made.pk)


@planner_required
def meet(request: HttpRequest, condition_id: int) -> HttpResponse:
    """Say that something is done which no record can show, and how it is known."""
    condition = get_object_or_404(
        CommitmentCondition.objects.select_related("commitment__job", "commitment__housing"),
        pk=condition_id,
        kind=ConditionKind.OTHER,
    )
    form = MeetForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            meet_condition(condition=condition, by=signed_in(request), **form.cleaned_data)
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            messages.success(request, "It is on record as done.")
            return redirect("commitment", condition.commitment_id)
    return render(
        request,
        "jobs/meet_condition.html",
        {"section": "jobs", "condition": condition, "form": form},
    )


@planner_required
def release_commitment(request: HttpRequest, commitment_id: int) -> HttpResponse:
    """Release a unit from a job, for a reason."""
    commitment = get_object_or_404(
        Commitment.objects.select_related("job", "housing", "hammer"), pk=commitment_id
    )
    form = ReleaseForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        release_unit(
            commitment=commitment, reason=form.cleaned_data["reason"], by=signed_in(request)
        )
        messages.success(request, f"{commitment.housing} is released; its pull sheet is void.")
        return redirect("job", commitment.job_id)
    return render(
        request,
        "jobs/release_commitment.html",
        {"section": "jobs", "commitment": commitment, "form": form},
    )
