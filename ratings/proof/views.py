from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from fleet.context import system_of
from fleet.fields import open_to_correction, whole_number
from fleet.models import ClampFitting, Mounting, SuppressorHousing
from fleet.roles import manager_required, signed_in
from ratings.drawing.proof_graph import ProofGraphFigures
from ratings.ledger.posting import Cause
from ratings.mechanics.proof_pull import Comparison, Verdict, doubtful_reason
from ratings.models import LedgerEntry, ProofPull
from ratings.pictures import proof_graphs
from ratings.proof.forms import (
    MOST_READINGS,
    ProofPullForm,
    ProofReadingForm,
    ProofReadingFormSet,
    SetAsideForm,
)
from ratings.proof.recording import compare_with, entry_at, record_proof_pull, set_proof_pull_aside
from ratings.proposals.acts import SecondPersonNeeded
from ratings.proposals.recording import confirmers
from ratings.proposals.views import may_propose


@manager_required
@may_propose
def new_proof_pull(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Enter a proof pull; on save the unit is held to it at once."""
    housing = get_object_or_404(SuppressorHousing, pk=housing_id)
    corrects = _corrected_pull(request, housing)
    head = LedgerEntry.objects.filter(housing=housing).order_by("sequence").last()
    system = system_of(request)
    form, readings = _bound_or_fresh(request, housing, head, corrects, system)
    shown: Comparison | None = None
    if request.method == "POST" and "more_rows" in request.POST:
        readings = ProofReadingFormSet(
            initial=_typed(request), prefix="r", form_kwargs={"system": system}
        )
        form = ProofPullForm(initial=request.POST.dict(), system=system)
    elif request.method == "POST" and all([form.is_valid(), readings.is_valid()]):
        try:
            if "show" in request.POST:
                held = entry_at(housing, form.cleaned_data["pulled_at"])
                shown, _ = compare_with(held.entry, form.set_up(), readings.given())
            else:
                return _save(request, housing, form, readings, corrects)
        except SecondPersonNeeded:
            raise
        except ValidationError as refusal:
            form.take(refusal)
        except ValueError as trouble:
            readings.take(trouble)
    return render(
        request,
        "proof/pull_form.html",
        {
            "section": "board",
            "housing": housing,
            "head": head,
            "pads": _pads_words(head) if head else [],
            "form": form,
            "readings": readings,
            "corrects": corrects,
            "shown": shown,
            "doubtful_reason": doubtful_reason(shown.ratio) if shown else "",
            "graphs": _graphs_of(shown, housing.mark, system) if shown else None,
        },
    )


def _save(
    request: HttpRequest,
    housing: SuppressorHousing,
    form: ProofPullForm,
    readings: Any,
    corrects: ProofPull | None,
) -> HttpResponse:
    recorded = record_proof_pull(
        submission_id=form.cleaned_data["submission_id"],
        housing=housing,
        set_up=form.set_up(),
        readings=readings.given(),
        based_on=form.cleaned_data["based_on"],
        by=signed_in(request),
        corrects=corrects,
    )
    pull = recorded.pull
    words = f"Proof pull {pull.pk} is recorded: the unit is {pull.verdict}."
    if not pull.is_for_rating:
        messages.warning(
            request,
            f"Proof pull {pull.pk} is recorded and decides nothing: its load indicator was not in "
            "calibration that day.",
        )
    elif pull.verdict is Verdict.AGREES:
        messages.success(request, words)
    else:
        messages.warning(request, words)
    return redirect("proof-pull", pull.pk)


def _corrected_pull(request: HttpRequest, housing: SuppressorHousing) -> ProofPull | None:
    key = whole_number(request.GET.get("corrects", ""))
    if key is None:
        return None
    is_open = open_to_correction(request.POST.get("submission_id", ""))
    return get_object_or_404(ProofPull, is_open, pk=key, housing=housing)


def _bound_or_fresh(
    request: HttpRequest,
    housing: SuppressorHousing,
    head: LedgerEntry | None,
    corrects: ProofPull | None,
    system: str,
) -> tuple[ProofPullForm, Any]:
    data = request.POST if request.method == "POST" else None
    initial: dict[str, Any] = {"based_on": head.sequence if head else 0}
    rows: list[Any] = []
    if corrects is not None:
        copied = {*ProofPullForm.Meta.fields, "indicator", "tape", "pulled_at"}
        initial |= {name: getattr(corrects, name) for name in copied}
        rows = list(corrects.readings.values("load_lbf", "stretch_in", "branch"))
    else:
        initial["weight_below_lb"] = _weight_below_lb(housing)
    form = ProofPullForm(data, initial=initial, system=system)
    readings = ProofReadingFormSet(data, initial=rows, prefix="r", form_kwargs={"system": system})
    return form, readings


def _weight_below_lb(housing: SuppressorHousing) -> float | None:
    """Return the weight of the exciter and clamp that hang from a housing, where both are known."""
    mounted = Mounting.objects.current().filter(housing=housing).select_related("hammer").first()
    if mounted is None:
        return None
    clamps = ClampFitting.objects.current().clamps_by_hammer([mounted.hammer_id])
    clamp = clamps.get(mounted.hammer_id)
    weights = (mounted.hammer.exciter_weight_lb, clamp.weight_lb if clamp else None)
    return None if None in weights else sum(each or 0.0 for each in weights)


def _typed(request: HttpRequest) -> list[dict[str, str]]:
    """Return the rows as typed and not yet judged."""
    given = whole_number(request.POST.get("r-TOTAL_FORMS", "")) or 0
    return [
        {name: request.POST.get(f"r-{row}-{name}", "") for name in ProofReadingForm.base_fields}
        for row in range(min(given, MOST_READINGS))
    ]


def _pads_words(entry: LedgerEntry) -> list[str]:
    """Return how many pads there are of each condition and lot, as an entry has them."""
    counts = Counter(
        (pad["condition"] or "never counted", pad["lot"] or "") for pad in entry.inputs["positions"]
    )
    return [
        f"{count} {condition}{f' of lot {lot}' if lot else ''}"
        for (condition, lot), count in sorted(counts.items(), key=lambda each: -each[1])
    ]


def proof_pull(request: HttpRequest, pull_id: int) -> HttpResponse:
    """Show a proof pull on record: readings, what they came to, and what became of it."""
    return _page(request, _found(pull_id), SetAsideForm())


@manager_required
@require_POST
def set_aside(request: HttpRequest, pull_id: int) -> HttpResponse:
    """Let a softness found count no more; the unit is rated without it at once."""
    pull = _found(pull_id)
    form = SetAsideForm(request.POST)
    if form.is_valid():
        try:
            set_proof_pull_aside(
                submission_id=form.cleaned_data["submission_id"],
                pull=pull,
                reason=form.cleaned_data["reason"],
                by=signed_in(request),
            )
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            messages.warning(request, f"Proof pull {pull.pk} is set aside.")
            return redirect("proof-pull", pull.pk)
    return _page(request, pull, form)


def _found(pull_id: int) -> ProofPull:
    pulls = ProofPull.objects.select_related(
        "housing",
        "entry",
        "indicator",
        "tape",
        "recorded_by",
        "corrects",
        "corrected_by",
        "decision__recorded_by",
    )
    return get_object_or_404(pulls.prefetch_related("readings"), pk=pull_id)


def _page(request: HttpRequest, pull: ProofPull, form: SetAsideForm) -> HttpResponse:
    system = system_of(request)
    readings = list(pull.readings.all())
    held = ProofPull.objects.softness_by_housing([pull.housing_id]).get(pull.housing_id)
    figures = _figures(
        [(each.stretch_in, each.measured_lbf, each.expected_lbf) for each in readings],
        pull.half_width,
        pull.ratio,
        system,
    )
    is_open = pull.is_softer and not hasattr(pull, "corrected_by") and not hasattr(pull, "decision")
    return render(
        request,
        "proof/pull.html",
        {
            "section": "board",
            "pull": pull,
            "confirmed_by": confirmers(Cause.PROOF_PULL, [pull.pk]).get(pull.pk),
            "readings": readings,
            "graphs": proof_graphs(figures, f"Proof pull of {pull.housing.mark}"),
            "held": held,
            "is_telling": _is_telling(pull),
            "entry_url": f"{reverse('unit-records', args=[pull.housing_id, 'ledger'])}"
            f"?entry={pull.entry.sequence}",
            "form": form,
            "may_be_set_aside": is_open and pull.is_for_rating,
            "may_decide": pull.recorded_by_id != signed_in(request).pk,
        },
    )


def _is_telling(pull: ProofPull) -> bool:
    """Whether the unit's last ledger entry is held to this pull."""
    head = LedgerEntry.objects.filter(housing=pull.housing_id).order_by("sequence").last()
    told = head.contents["provenance"].get("proof_pull") if head else None
    return told is not None and told["record"] == pull.pk


def _graphs_of(comparison: Comparison, mark: str, system: str) -> dict[str, Any]:
    rows = [(each.stretch_in, each.measured_lbf, each.expected_lbf) for each in comparison.readings]
    figures = _figures(rows, comparison.half_width, comparison.ratio, system)
    return proof_graphs(figures, f"Proof pull of {mark}")


def _figures(
    rows: Iterable[tuple[float, float, float | None]],
    half_width: float,
    ratio: float,
    system: str,
) -> ProofGraphFigures:
    kept = list(rows)
    known = sorted({(stretch, expected) for stretch, _, expected in kept if expected is not None})
    return ProofGraphFigures(
        points=tuple((stretch, measured) for stretch, measured, _ in kept),
        expected=((0.0, 0.0), *known),
        half_width=half_width,
        ratio=ratio,
        units=system,
    )
