"""The certificate of a lot rating as a PDF."""

from __future__ import annotations

from functools import partial
from io import BytesIO

from reportlab.platypus import Flowable, SimpleDocTemplate

from ratings.certificate.budget import budget_section
from ratings.certificate.curve import curve_section
from ratings.certificate.example import example_section
from ratings.certificate.facts import Certificate, read_certificate
from ratings.certificate.heading import heading_section
from ratings.certificate.limits import limits_section
from ratings.certificate.pages import head_and_foot
from ratings.certificate.people import people_section
from ratings.certificate.pooling import pooling_section
from ratings.certificate.readings import readings_section
from ratings.certificate.reduced import reduced_section
from ratings.certificate.setup import set_up_section
from ratings.models import LotRating
from ratings.paper.numbered import MARGIN, PAGE, numbered_canvas

# reportlab keeps so much inside its margins; the text shall reach them.
FRAME_PADDING = 6.0


def certificate_pdf(rating: LotRating, system: str) -> bytes:
    """Return the certificate's bytes; the same rating gives the same ones on any day."""
    certificate = read_certificate(rating, system)
    buffer = BytesIO()
    document = SimpleDocTemplate(
        buffer,
        pagesize=PAGE,
        leftMargin=MARGIN - FRAME_PADDING,
        rightMargin=MARGIN - FRAME_PADDING,
        topMargin=36,
        bottomMargin=46,
        title=f"Spring rate certificate {rating.pk}, lot {rating.lot.mark}",
        author="Line-Pull Ledger",
        invariant=1,
    )
    document.build(
        list(_story(certificate)), canvasmaker=numbered_canvas(partial(head_and_foot, certificate))
    )
    return buffer.getvalue()


def _story(certificate: Certificate) -> list[Flowable]:
    story = [*heading_section(certificate)]
    for test, reduction in zip(
        certificate.pooled.tests, certificate.pooled.reductions, strict=True
    ):
        story += set_up_section(certificate, test)
        story += readings_section(certificate, test, reduction)
        story += reduced_section(certificate, test, reduction)
        story += budget_section(certificate, reduction)
    return [
        *story,
        *pooling_section(certificate),
        *curve_section(certificate),
        *example_section(certificate),
        *limits_section(certificate),
        *people_section(certificate),
    ]
