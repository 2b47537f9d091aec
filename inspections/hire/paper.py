"""The hand-over paper of a hire, and the paper of a hammer that is not ours."""

from __future__ import annotations

from collections.abc import Iterator

from django.utils import timezone
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, KeepTogether, Spacer

from fleet.dates import day_words, moment_words
from fleet.models import Hire
from fleet.models.housing import Condition
from fleet.quantities import (
    Quantity,
    capacity_words,
    listed_words,
    plain_number,
    pull_words,
)
from inspections.hire.differences import Differences
from inspections.hire.hand_overs import CAUTIONS, Handed, HandedBoth, hand_overs_of
from inspections.models import ForeignCheck
from ratings.paper.pages import paper_pdf
from ratings.paper.style import (
    CAUTION,
    HEADING,
    MARGIN,
    MONO,
    SMALL,
    TITLE,
    WIDTH,
    paragraph,
    small_print,
    table,
)
from ratings.record.papers import Stamp

NONE = "–"


def hand_over_pdf(hire: Hire, system: str, stamp: Stamp | None = None) -> bytes:
    """Return the paper of a hire: both hand-overs side by side, what differs, lines to sign on."""
    both = hand_overs_of(hire)
    story: list[Flowable] = [
        paragraph(f"Hand-over of {hire.housing} on {hire.hammer}", TITLE),
        paragraph(
            f"To {hire.hirer} ({hire.contact}), for {hire.place}, from {day_words(hire.from_day)}, "
            f"expected back {day_words(hire.back_due)}. State: {hire.state}."
            + (f" {hire.note}" if hire.note else "")
        ),
        paragraph(CAUTIONS, CAUTION),
        paragraph("As it was handed over", HEADING),
        table(
            ("", "Handed out", "Taken back"),
            list(_sides(both, system)),
            [0.2 * WIDTH, 0.4 * WIDTH, 0.4 * WIDTH],
        ),
    ]
    if both.differs is not None:
        rows = list(_differences(both, both.differs, system))
        differs = table(("", "What differs"), rows, [0.2 * WIDTH, 0.8 * WIDTH])
        story += [paragraph("What differs", HEADING), differs]
    story += _photos(both)
    for title, handed in (("Handed out", both.out), ("Taken back", both.back)):
        story.append(KeepTogether(_signatures(title, handed)))
    return _paper(story, f"hire {hire.pk}: {hire.housing} to {hire.hirer}", stamp)


def foreign_check_pdf(check: ForeignCheck, system: str, stamp: Stamp | None = None) -> bytes:
    """Return the paper of a check of a hammer that is not ours."""
    widths = [0.3 * WIDTH, 0.35 * WIDTH, 0.35 * WIDTH]
    pads = [
        (
            each.label,
            str(getattr(check, f"{each.value}_a")),
            str(getattr(check, f"{each.value}_b")),
        )
        for each in Condition
    ]
    story: list[Flowable] = [
        paragraph(f"{check.mark} of {check.owner}: a hammer that is not ours", TITLE),
        paragraph(
            "Not of the fleet of this yard: it is on no board, in no total and no plan of it."
        ),
    ]
    if check.is_corrected:
        story.append(paragraph("Corrected since: this counts no more.", CAUTION))
    story += [
        paragraph(CAUTIONS, CAUTION),
        paragraph("What it comes to", HEADING),
        table(("", "Figure"), list(_figures(check, system)), [0.3 * WIDTH, 0.7 * WIDTH]),
        paragraph("Pads counted", HEADING),
        table(("Condition", "Side A", "Side B"), pads, widths),
        Spacer(1, 8),
        paragraph(f"SHA-256 of what this rests on: {check.hash}", MONO),
    ]
    if check.rate_from == "measured" and check.rate_error_lbf_in is None:
        words = "What the instruments of the measured rate leave in doubt was not stated."
        story.append(paragraph(words, SMALL))
    signed = "Checked by: ____________________    Owner: ____________________"
    story += [Spacer(1, 24), paragraph(signed, SMALL)]
    return _paper(story, f"check {check.pk}: {check.mark} of {check.owner}, not ours", stamp)


def rate_words(check: ForeignCheck, system: str) -> str:
    """Say what is known of the rate of its pads."""
    if check.rating is not None:
        return f"of our lot {check.rating.lot}, rating {check.rating_id}"
    if check.rate_lbf_in is None or check.tested_stretch_in is None:
        return "not known"
    rate = Quantity.RATE.words(check.rate_lbf_in, system)
    spread = check.spread_lbf_in
    spread_words = "" if spread is None else f", spread {Quantity.RATE.words(spread, system)}"
    stretch = Quantity.LENGTH.words(check.tested_stretch_in, system)
    return (
        f"{rate}{spread_words}, of {check.pads_measured} pads, to {stretch}; {check.measured_where}"
    )


def _figures(check: ForeignCheck, system: str) -> Iterator[tuple[str, str]]:
    results, listed = check.results, check.stated_listed_lbf
    yield "Make and type", check.make_and_type
    yield "Checked", moment_words(check.checked_at)
    if results["pull_lbf"] is None:
        unknown = check.rate_from == "unknown"
        why = "no rate was measured" if unknown else "no sound pad of a known rate is in it"
        yield "Line pull", f"not known: {why}"
        yield "Working capacity", f"not known: {why}"
    else:
        yield "Line pull", pull_words(results["pull_lbf"], system, listed_lbf=listed)
        figure = results["working_capacity_lbf"]
        yield "Working capacity", capacity_words(figure, system, listed_lbf=listed)
        travel = Quantity.LENGTH.words(results["usable_travel_in"], system)
        yield "Usable travel", f"{travel}, limited by {results['limited_by']}"
    yield "Listed, as its owner states it", listed_words(listed, system)
    if listed is not None:
        yield "Against that", results["standing"]
    yield "Travel, taped", Quantity.LENGTH.words(check.travel_in, system)
    guided = check.guided_reason if check.is_guided else "no: twice the weaker side counts"
    yield "Guided", guided
    yield "Rate of its pads", rate_words(check, system)
    if check.note:
        yield "Note", check.note


def _sides(both: HandedBoth, system: str) -> Iterator[tuple[str, str, str]]:
    pairs = [(_facts(both.out, system), _facts(both.back, system))]
    for out, back in pairs:
        for name in out or back:
            yield name, out.get(name, "not yet"), back.get(name, "not yet")


def _facts(handed: Handed | None, system: str) -> dict[str, str]:
    """Return a hand-over in words, by what they say; nothing where it has not been."""
    if handed is None:
        return {}
    made, seen = handed.hand_over, handed.seen
    listed = made.entry.listed_lbf
    pads = "; ".join(
        f"{side}{number} {pad.words}"
        for (side, number), pad in sorted(seen.pads.items())
        if pad.condition != "sound"
    )
    corrected = ", corrected since" if handed.is_corrected else ""
    lots = ", ".join(sorted({pad.lot for pad in seen.pads.values() if pad.lot}))
    return {
        "Signed": moment_words(made.signed_at),
        "Inspection": f"{handed.inspection.pk}, seen {moment_words(handed.inspection.seen_at)}"
        f"{corrected}",
        "Marks read": f"housing {made.housing_mark}, hammer {made.hammer_mark}",
        "Sound pads": f"{handed.sound_pads} of {handed.positions}",
        "Pads not sound": pads or "none",
        "Lots fitted": lots or "not known",
        "Travel": NONE if seen.travel_in is None else Quantity.LENGTH.words(seen.travel_in, system),
        "Hour meter": NONE if seen.hours is None else f"{plain_number(seen.hours, 1)} h",
        "Findings open": "\n".join(seen.findings.values()) or "none",
        "Standing": str(handed.standing),
        "Line pull": pull_words(seen.pull_lbf, system, listed_lbf=listed),
        "Working capacity": capacity_words(seen.working_capacity_lbf, system, listed_lbf=listed),
        "Listed": listed_words(listed, system),
        "Remarks": made.remarks or NONE,
    }


def _differences(both: HandedBoth, differs: Differences, system: str) -> Iterator[tuple[str, str]]:
    assert both.out is not None
    assert both.back is not None
    out, back = both.out.seen, both.back.seen
    yield "Pads", "\n".join(each.words for each in differs.pads) or "none differs"
    if differs.travel_in and out.travel_in is not None and back.travel_in is not None:
        first = Quantity.LENGTH.words(out.travel_in, system)
        yield "Travel", f"{first}, now {Quantity.LENGTH.words(back.travel_in, system)}"
    else:
        yield "Travel", "the same"
    run = "not known" if differs.hours_run is None else f"{plain_number(differs.hours_run, 1)} h"
    if differs.is_meter_changed:
        run += ", over a change of the meter"
    if differs.runs_backward:
        run += ": fewer than at leaving, and no change of the meter is on record"
    yield "Hours run", run
    yield "Found since", "\n".join(differs.new_findings) or "nothing"
    yield "Closed since", "\n".join(differs.closed_findings) or "nothing"
    pulls = [pull_words(each.pull_lbf, system) for each in (out, back)]
    yield "Line pull", ", now ".join(pulls)
    capacities = [capacity_words(each.working_capacity_lbf, system) for each in (out, back)]
    yield "Working capacity", ", now ".join(capacities)


def _photos(both: HandedBoth) -> list[Flowable]:
    found: list[Flowable] = [paragraph("Photos", HEADING)]
    for handed in both.sides:
        for photo in handed.photos:
            way = handed.hand_over.get_way_display()
            found.append(paragraph(f"{way.capitalize()}: {photo.caption or 'no caption'}", SMALL))
            kept = f"SHA-256 {photo.sha256}" if photo.sha256 else "its file has not come yet"
            found.append(paragraph(kept, MONO))
            if photo.absence:
                found.append(paragraph(photo.absence, SMALL))
    return found if len(found) > 1 else [*found, paragraph("None was taken.", SMALL)]


def _signatures(title: str, handed: Handed | None) -> list[Flowable]:
    made = handed.hand_over if handed else None
    line = "______________________________"
    rows = [
        ("Handed over by", made.given_by if made else "", line),
        ("Taken over by", made.taken_by if made else "", line),
    ]
    when = f", {moment_words(made.signed_at)}" if made else ""
    widths = [0.2 * WIDTH, 0.4 * WIDTH, 0.4 * WIDTH]
    return [
        paragraph(f"{title}{when}", HEADING),
        table(("", "Name, as signed", "Signature"), rows, widths),
    ]


def _paper(story: list[Flowable], head: str, stamp: Stamp | None) -> bytes:
    printed = timezone.localtime()

    def draw_foot(canvas: Canvas) -> None:
        small_print(canvas, 30, f"printed {moment_words(printed)} {printed:%Z}")

    return paper_pdf(
        story,
        title=head.capitalize(),
        head=head,
        draw_foot=draw_foot,
        side=MARGIN,
        top=46,
        bottom=54,
        stamp=stamp,
    )
