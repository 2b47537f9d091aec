"""What a program is told where something can't be: problem details (RFC 9457)."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any

from django.core.exceptions import NON_FIELD_ERRORS
from django.http import HttpResponse
from ninja import Schema
from pydantic import Field

MEDIA_TYPE = "application/problem+json"
LONGEST_GIVEN = 80
# What each status means here, whatever it was that was asked.
TITLES = {
    400: "The request is not what the document of this interface asks for",
    401: "A token that works is needed",
    403: "The token may not do this",
    404: "There is no such record",
    405: "This address does not take that method",
    409: "This was recorded otherwise already",
    413: "The request is too long",
    415: "The body is not JSON",
    422: "It can’t be taken as it is",
    429: "Too many tokens that do not work were tried",
    503: "It can’t be read at this moment",
}


class FieldError(Schema):
    """What is wrong with one field of what was sent."""

    field: str = Field(description="Its path, such as pads.3.lot; empty for the whole.")
    given: str | int | float | bool | None = Field(
        description="What was given there, cut short where it is long; null for none, or many."
    )
    message: str = Field(description="What is wrong, and what would do.")


class Problem(Schema):
    """Problem details of RFC 9457."""

    type: str = Field(description="about:blank: the status says what kind of problem it is.")
    title: str
    status: int
    detail: str
    errors: list[FieldError] = Field(description="By field, where fields are to blame.")


# In what is said of an operation, until its document is made: the library would make models of a
# problem anew for each status of each operation.
MAY_REFUSE = "x-may-refuse"


def may_refuse(*statuses: int) -> dict[str, Any]:
    """Return what says of an operation by which statuses it may refuse."""
    return {MAY_REFUSE: statuses}


def document_problems(operation: dict[str, Any], components: dict[str, Any]) -> None:
    """Write into the document by which problems an operation may refuse, each of them said once."""
    kept, schemas = components.setdefault("responses", {}), components["schemas"]
    if "Problem" not in schemas:
        made = Problem.model_json_schema(ref_template="#/components/schemas/{model}")
        schemas.update(made.pop("$defs"))
        schemas["Problem"] = made
    content = {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}
    for status in operation.pop(MAY_REFUSE):
        kept.setdefault(str(status), {"description": TITLES[status], "content": content})
        operation["responses"][status] = {"$ref": f"#/components/responses/{status}"}


@dataclass(frozen=True)
class Wrong:
    """What is wrong with one field: its path, what was given, and in words what would do."""

    field: str
    given: Any
    message: str


class Refused(Exception):
    """A request that is answered with a problem, and changes nothing."""

    def __init__(
        self,
        status: int,
        detail: str,
        errors: Iterable[Wrong] = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        self.status, self.detail, self.errors = status, detail, list(errors)
        self.headers = dict(headers or {})
        super().__init__(detail)


def problem_response(refused: Refused) -> HttpResponse:
    """Return a refusal as a program reads it."""
    problem = {
        "type": "about:blank",
        "title": TITLES.get(refused.status) or HTTPStatus(refused.status).phrase,
        "status": refused.status,
        "detail": refused.detail,
        "errors": [
            {"field": each.field, "given": _told(each.given), "message": each.message}
            for each in refused.errors
        ],
    }
    return HttpResponse(
        json.dumps(problem, ensure_ascii=False),
        status=refused.status,
        content_type=MEDIA_TYPE,
        headers=refused.headers,
    )


def _told(given: Any) -> str | int | float | bool | None:
    """Return what was given as a problem tells it: one value, and no more than can be read."""
    if given is None or isinstance(given, bool):
        return given
    if isinstance(given, str):
        return given if len(given) <= LONGEST_GIVEN else f"{given[:LONGEST_GIVEN]}…"
    if isinstance(given, int) and abs(given) < 10**LONGEST_GIVEN:
        return given
    if isinstance(given, float) and given - given == 0.0:
        return given
    return None


def refused_fields(
    errors: Mapping[str, Sequence[str]], sent: Any, status: int = 422, detail: str = ""
) -> Refused:
    """Return the refusal of what was sent, by the words of its forms or recording functions."""
    wrong = [
        Wrong("" if path == NON_FIELD_ERRORS else path, at_path(sent, path), message)
        for path, messages in errors.items()
        for message in messages
    ]
    return Refused(status, detail or "Nothing was recorded.", wrong)


def at_path(sent: Any, path: str) -> Any:
    """Return what stands at a path of what was sent, such as pads.3.lot; None for nothing."""
    found = sent
    for part in path.split("."):
        if isinstance(found, dict):
            found = found.get(part)
        elif isinstance(found, list) and part.isdecimal() and int(part) < len(found):
            found = found[int(part)]
        else:
            return None
    return found
