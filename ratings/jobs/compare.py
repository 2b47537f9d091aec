"""Two answers side by side: two units on one job, or one unit on two jobs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from fleet.context import system_of
from fleet.dates import days_words
from fleet.fields import whole_number
from fleet.models import Mounting, SuppressorHousing
from ratings.jobs.answer import UnitAnswer, answer_for_unit, question_of
from ratings.jobs.answer_page import UnitPage, describe
from ratings.jobs.words import NONE, UNKNOWN, amount_words, margin_words
from ratings.jobs.workings import HOLD_LINE
from ratings.mechanics.extraction.outcomes import CheckKey, ConditionKey, Outcome
from ratings.models import ExtractionJob


def mounted_housings() -> QuerySet[SuppressorHousing]:
    """Return the housings that hang from a hammer: only these can be asked."""
    on_hammer = Mounting.objects.current().values("housing")
    return SuppressorHousing.objects.filter(pk__in=on_hammer).order_by("mark")


MOST_LISTED = 60


def _label(each: ExtractionJob | SuppressorHousing) -> str:
    if isinstance(each, ExtractionJob):
        return f"{each.site}, {days_words(each.first_day, each.last_day)}"
    return each.mark


class CompareForm(forms.Form):
    """Which two answers: a unit and a job, and another of either or of both."""

    job = forms.ModelChoiceField(ExtractionJob.objects.none(), label="Job")
    unit = forms.ModelChoiceField(SuppressorHousing.objects.none(), label="Unit")
    other_job = forms.ModelChoiceField(
        ExtractionJob.objects.none(), label="Beside it, job", required=False, empty_label="the same"
    )
    other_unit = forms.ModelChoiceField(
        SuppressorHousing.objects.none(),
        label="Beside it, unit",
        required=False,
        empty_label="the same",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            assert isinstance(field, forms.ModelChoiceField)
            is_job = name.endswith("job")
            every: Any = ExtractionJob.objects.all() if is_job else mounted_housings()
            field.queryset = every
            # Every one may be asked for; of many only so many are listed.
            listed = list(every[:MOST_LISTED])
            chosen = every.filter(pk=whole_number(str(self[name].value() or "")))
            listed += [each for each in chosen if each not in listed]
            blank = [] if field.required else [("", "the same")]
            field.choices = [*blank, *((each.pk, _label(each)) for each in listed)]
            if len(listed) >= MOST_LISTED:
                field.help_text = (
                    f"The first {MOST_LISTED} are listed: for another follow “compare” from its "
                    "own answer."
                )
            field.error_messages["invalid_choice"] = (
                "There is no such job: choose one of the list."
                if is_job
                else "No such unit hangs from a hammer: choose one of the list."
            )

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if self.errors:
            return given
        if given["other_job"] in (None, given["job"]) and given["other_unit"] in (
            None,
            given["unit"],
        ):
            raise forms.ValidationError(
                "Both sides are the same answer: choose another unit, another job, or both."
            )
        return given

    def sides(self) -> tuple[tuple[ExtractionJob, SuppressorHousing], ...]:
        """Return job and unit of either side; the form must be valid."""
        given = self.cleaned_data
        return (
            (given["job"], given["unit"]),
            (given["other_job"] or given["job"], given["other_unit"] or given["unit"]),
        )


@dataclass(frozen=True)
class Line:
    """One figure of both sides. differs: in a word how, "" where they are the same.

    states: which state each side has, for its shape; "" where it has none.
    """

    name: str
    sides: tuple[str, str]
    differs: str
    states: tuple[str, str] = ("", "")


def lines(
    one: UnitPage, other: UnitPage, names: tuple[str, str] = ("the first", "the second")
) -> Iterator[Line]:
    """Yield the figures of two answers line by line, the verdicts first.

    names: what either side is called.
    """
    pages = (one, other)
    states = (str(one.may_go.state), str(other.may_go.state))
    reasons = (
        "; ".join(one.may_go.reasons) or states[0],
        "; ".join(other.may_go.reasons) or states[1],
    )
    differs = one.may_go != other.may_go
    yield Line("May it go", reasons, "differs" if differs else "", states)
    wholes = [each.answer.whole or each.answer.verdict for each in pages]
    verdicts = (str(wholes[0].verdict), str(wholes[1].verdict))
    yield _line("By its forces", verdicts, verdicts)
    governing = tuple(f"{each.governing} {margin_words(each.margin)}" for each in wholes)
    yield _line("Governed by", (governing[0], governing[1]))
    for name, read in (
        ("The ground holds with", _holds),
        ("Stretch of this pull", _stretch),
    ):
        yield _line(name, (read(one), read(other)))
    for key in CheckKey:
        found = [each.answer.verdict.check(key) for each in pages]
        if any(found):
            yield _check_line(key, one, other, names)
    for condition in ConditionKey:
        told = [next((c for c in each.conditions if c.name == condition), None) for each in pages]
        if any(told):
            first, second = (each.sentence if each else NONE for each in told)
            outcomes = [str(each.outcome) if each else "" for each in told]
            yield _line(str(condition), (first, second), (outcomes[0], outcomes[1]))


def _check_line(key: CheckKey, one: UnitPage, other: UnitPage, names: tuple[str, str]) -> Line:
    words: list[str] = []
    states: list[str] = []
    margins: list[float | None] = []
    for page in (one, other):
        check = page.answer.verdict.check(key)
        if check is None:
            words.append("not asked")
            states.append("")
            margins.append(None)
            continue
        asked, given = (
            amount_words(check, each, page.system) for each in (check.demand, check.supply)
        )
        margin = UNKNOWN if check.outcome is Outcome.UNKNOWN else margin_words(check.margin)
        words.append(f"{margin}: asks {asked}, has {given}")
        states.append(str(check.outcome))
        margins.append(check.margin)
    differs = "" if words[0] == words[1] else "differs"
    first, second = margins
    if first is not None and second is not None and margin_words(first) != margin_words(second):
        differs = f"{names[0] if first > second else names[1]} has more to spare"
    return Line(str(key), (words[0], words[1]), differs, (states[0], states[1]))


def _line(name: str, sides: tuple[str, str], states: tuple[str, str] = ("", "")) -> Line:
    return Line(name, sides, "" if sides[0] == sides[1] else "differs", states)


def _holds(page: UnitPage) -> str:
    return next(line.result for line in page.workings if line.name == HOLD_LINE)


def _stretch(page: UnitPage) -> str:
    found = [line.result for line in page.workings if line.name == "Stretch of this pull"]
    return found[0] if found else UNKNOWN


@dataclass(frozen=True)
class Side:
    """One of two answers: its job and unit, and the answer in words.

    name: by what it is told from the other: the unit, the job, or both.
    """

    job: ExtractionJob
    days: str
    page: UnitPage
    name: str

    @property
    def answer(self) -> UnitAnswer:
        """The answer itself."""
        return self.page.answer


def side_names(
    sides: Sequence[tuple[ExtractionJob, SuppressorHousing]],
) -> list[str]:
    """Return by what each of two answers is told from the other: unit, site and days as needed."""
    (one_job, one), (other_job, other) = sides
    if one != other and one_job == other_job:
        return [one.mark, other.mark]
    names = [job.site for job, _ in sides]
    if names[0] == names[1] and one_job != other_job:
        names = [_label(job) for job, _ in sides]
    if one == other:
        return names
    return [f"{housing.mark} for {name}" for (_, housing), name in zip(sides, names, strict=True)]


def compare(request: HttpRequest) -> HttpResponse:
    """Show two answers side by side, with what differs marked by a word."""
    # A link that names one side asks for the other first.
    form = CompareForm(
        request.GET if "other_job" in request.GET or "other_unit" in request.GET else None,
        initial={name: request.GET.get(name) for name in ("job", "unit")},
    )
    context: dict[str, Any] = {"section": "jobs", "form": form}
    if form.is_bound and form.is_valid():
        system, sides = system_of(request), []
        asked = form.sides()
        for (job, housing), name in zip(asked, side_names(asked), strict=True):
            answer = answer_for_unit(question_of(job), housing.pk)
            assert answer is not None, "only units on a hammer can be chosen"
            days = days_words(job.first_day, job.last_day)
            sides.append(Side(job, days, describe(answer, system), name))
        first, second = sides
        told = lines(first.page, second.page, (first.name, second.name))
        context |= {"sides": sides, "lines": tuple(told)}
    return render(request, "jobs/compare.html", context)
