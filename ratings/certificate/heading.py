"""The first section: what this paper is, whether it holds, and what it found."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.platypus import Flowable

from fleet.dates import day_words, moment_words
from ratings.certificate.facts import LEVEL, Certificate
from ratings.certificate.layout import FLAG, RESULT, SECTION, Fact, facts_in_pairs
from ratings.certificate.units import freedom_words, stated
from ratings.models import BenchTest
from ratings.paper.style import BODY, SMALL, TITLE, paragraph
from ratings.paper.words import who_words


def heading_section(certificate: Certificate) -> Iterator[Flowable]:
    rating = certificate.rating
    yield paragraph("Certificate of spring rate", TITLE)
    yield paragraph(f"Of rating {rating.pk} · lot {rating.lot.mark}", BODY, bold=True)
    yield from _state(certificate)
    yield from _result(certificate)
    yield paragraph("What was tested", SECTION)
    yield facts_in_pairs(_item(certificate))


def _state(certificate: Certificate) -> Iterator[Flowable]:
    rating = certificate.rating
    if certificate.state == "draft":
        yield paragraph("DRAFT", FLAG)
        yield paragraph(
            f"Drafted by {who_words(rating.recorded_by)}, {moment_words(rating.recorded_at)}. No "
            "second person has approved it: it rates no unit.",
            bold=True,
        )
    if certificate.state == "withdrawn":
        withdrawal = rating.withdrawal
        yield paragraph("WITHDRAWN", FLAG)
        yield paragraph(
            f"By {who_words(withdrawal.recorded_by)}, {moment_words(withdrawal.recorded_at)}: "
            f"{withdrawal.reason.rstrip('.')}. It rates no unit.",
            bold=True,
        )
    if certificate.state == "approved":
        approval = rating.approval
        yield paragraph(
            f"Approved by {who_words(approval.recorded_by)}, {moment_words(approval.recorded_at)}.",
            bold=True,
        )
    if certificate.superseded_by is not None:
        later = certificate.superseded_by.pk
        yield paragraph(f"Superseded: rating {later} of this lot was approved after it.", bold=True)


def _result(certificate: Certificate) -> Iterator[Flowable]:
    rating, units = certificate.rating, certificate.units
    value, expanded = stated(
        units.rate(rating.rate_lbf_in), units.rate(certificate.expanded_lbf_in)
    )
    tested = units.length_words(rating.tested_stretch_in)
    yield paragraph(f"Spring rate of one pad: {value} ± {expanded} {units.rate_symbol}", RESULT)
    yield paragraph(
        f"Expanded uncertainty with coverage factor {certificate.coverage_factor:.4g} (Student’s "
        f"t, {_many_words(certificate.degrees_of_freedom)} degrees of freedom), level of "
        f"confidence {100 * LEVEL:g} %. Unrounded: {units.rate_words(rating.rate_lbf_in)} with "
        f"shared standard uncertainty {units.rate_words(certificate.shared_lbf_in)}, which all "
        f"pads of the lot have in common. {_spread_words(certificate)}",
        SMALL,
    )
    yield paragraph(f"Tested stretch {tested}: rated no further.", bold=True)
    if not certificate.is_linear:
        yield paragraph(
            f"Not linear: departs from the line by {rating.linearity_error_pct:.1f} % of full "
            f"scale, limit {certificate.policy.linearity_limit_pct:g} %. Units are rated by the "
            "load curve below, not by rate × stretch.",
            bold=True,
        )


def _many_words(degrees_of_freedom: float) -> str:
    return "over 1,000" if degrees_of_freedom > 1000 else freedom_words(degrees_of_freedom)


def _spread_words(certificate: Certificate) -> str:
    rating, units = certificate.rating, certificate.units
    spread = units.rate_words(certificate.spread_lbf_in, 3)
    if rating.spread_lbf_in is None:
        return (
            f"Pad-to-pad standard deviation {spread}: assumed spread, "
            f"{certificate.policy.pad_spread_pct:g} % of the rate by policy."
        )
    freedom = freedom_words(rating.spread_degrees_of_freedom or float("inf"))
    return (
        f"Pad-to-pad standard deviation {spread}, measured on "
        f"{certificate.pooled.rate.single_pad_tests} pads tested singly ({freedom} degrees of "
        "freedom)."
    )


def _item(certificate: Certificate) -> list[Fact]:
    lot = certificate.rating.lot
    tests = certificate.pooled.tests
    hardness = lot.hardness_shore_a
    return [
        ("Lot", lot.mark),
        ("Supplier", lot.supplier or "not on record"),
        ("Hardness", "not on record" if hardness is None else f"{hardness:g} Shore A"),
        ("Pads tested", _pads_words(tests)),
        ("Tests", ", ".join(f"test {each.pk}" for each in tests)),
        ("Picked from the lot", "as the tests’ notes say, else not on record"),
        ("Tested for", ", ".join(sorted({each.stand.yard.name for each in tests}))),
        ("Tested", _days_words(tests)),
    ]


def _pads_words(tests: tuple[BenchTest, ...]) -> str:
    many = sum(test.pads_in_test for test in tests)
    return f"{many} in {len(tests)} {'test' if len(tests) == 1 else 'tests'}"


def _days_words(tests: tuple[BenchTest, ...]) -> str:
    days = [f"{day_words(test.tested_at)}" for test in tests]
    return ", ".join(dict.fromkeys(days))
