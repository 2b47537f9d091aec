"""What a reader finds on a printed certificate."""

from __future__ import annotations

import re
from io import BytesIO

from pypdf import PdfReader

from ratings.certificate.paper import certificate_pdf
from ratings.models import LotRating

NUMBER = r"(-?[\d,]+(?:\.\d+)?)"


def pages(rating: LotRating, system: str = "us") -> list[str]:
    """The text of each page, its lines run together."""
    reader = PdfReader(BytesIO(certificate_pdf(rating, system)))
    # The paper's fonts have a dash for a minus.
    texts = [page.extract_text().replace("–", "−") for page in reader.pages]
    return [re.sub(r"\s+", " ", each) for each in texts]


def text(rating: LotRating, system: str = "us") -> str:
    return " ".join(pages(rating, system))


def number_after(words: str, found: str) -> float:
    """The number that follows some words."""
    match = re.search(re.escape(words) + r"\s*" + NUMBER, found)
    assert match is not None, f"no number after {words!r}"
    return float(match.group(1).replace(",", ""))
