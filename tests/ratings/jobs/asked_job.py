"""A job's form sent for an answer, as htmx sends it."""

from __future__ import annotations

import html
import re
from typing import Any

from django.test import Client
from django.urls import reverse

from fleet.models import SuppressorHousing
from ratings.models import ExtractionJob
from tests.ratings.jobs.job_form import at_pile
from tests.site.html_form import Fields, opened


def form_of(client: Client, job: ExtractionJob) -> Fields:
    """What the form of a job on record sends as it stands."""
    return opened(client, reverse("job", args=[job.pk]))


def answer(client: Client, fields: Fields, **changes: Any) -> Any:
    response = client.post(
        reverse("job-answer"), fields | at_pile(changes), headers={"HX-Request": "true"}
    )
    assert response.status_code == 200
    return response


def details(client: Client, fields: Fields, housing: SuppressorHousing, **changes: Any) -> Any:
    return client.post(
        reverse("job-answer-unit", args=[housing.pk]),
        fields | at_pile(changes),
        headers={"HX-Request": "true"},
    )


def carried(response: Any, name: str) -> str:
    """The value of a hidden field that the answer carries for the next one."""
    found = re.search(
        rf'<input type="hidden" name="{name}" form="job-form" value="([^"]*)">',
        response.content.decode(),
    )
    assert found is not None
    return html.unescape(found[1])


def rows(response: Any) -> list[str]:
    """The text of each row of the ranking."""
    found = re.findall(r"<li value=.*?</details>\s*</li>", response.content.decode(), re.S)
    return [
        re.sub(r"\s+", " ", html.unescape(re.sub(r"<svg.*?</svg>|<[^>]+>", " ", row, flags=re.S)))
        for row in found
    ]
