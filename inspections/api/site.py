"""The interface for programs, under /api/v1/: its document, its addresses, and what all obey."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import wraps
from typing import Any, NoReturn

from django.conf import settings
from django.core.exceptions import RequestDataTooBig
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import path
from django.utils.cache import (
    get_conditional_response,
    patch_cache_control,
    patch_vary_headers,
    set_response_etag,
)
from ninja import NinjaAPI
from ninja.errors import HttpError
from ninja.errors import ValidationError as NotAsked
from ninja.openapi.schema import OpenAPISchema
from ninja.parser import Parser

from fleet.fields import LARGEST_KEY, note_refusal
from fleet.refusals import token_of
from fleet.whole_requests import TIMED_OUT, BrokenOff
from inspections.api.problems import (
    Refused,
    Wrong,
    at_path,
    document_problems,
    problem_response,
)
from inspections.api.writing import router

NO_REFUSAL = {404, TIMED_OUT, 503}
DEEPEST = 12
LONGEST_NUMBER = 40
ABOUT = """Reads every record, and takes inspections, bench tests, hours and pulls.

All figures are in US customary units as they are stored, with the unit in the name; times are
ISO 8601 with their zone. Each request carries a token; a session of the site opens nothing here.
How it is used, with examples that run, stands on the page /how/api/ of the site."""


class BoundedParser(Parser):
    """Reads a JSON body that is no deeper, and holds no longer number, than any record does."""

    def parse_body(self, request: HttpRequest) -> Any:
        """Return what was sent. Raises Refused for what is not JSON, or not of such a shape."""
        kind = request.content_type or ""
        if kind != "application/json":
            raise Refused(415, f"The body came as “{kind[:80]}”: send it as application/json.")
        try:
            text = request.body.decode()
        except UnicodeDecodeError:
            raise Refused(400, "The body is not UTF-8 text: send it as JSON.") from None
        if _depth(text) > DEEPEST:
            raise Refused(400, f"The body is nested deeper than {DEEPEST}: no record is.")
        try:
            sent = json.loads(
                text,
                object_pairs_hook=_each_once,
                parse_int=_whole,
                parse_float=_number,
                parse_constant=_no_number,
            )
            json.dumps(sent, ensure_ascii=False).encode()
        except json.JSONDecodeError as error:
            raise Refused(
                400, f"The body is not JSON: line {error.lineno}, column {error.colno}."
            ) from None
        except UnicodeEncodeError:
            raise Refused(400, "The body holds half a character: send it as UTF-8.") from None
        return sent


def _each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Return an object of JSON in which no name stands twice: nobody knows which of them counts."""
    found = dict(pairs)
    if len(found) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)[:40]
        # It may hold half a character, which nobody can be told.
        twice = twice.encode(errors="replace").decode()
        raise Refused(400, f"“{twice}” is given twice in one object: give it once.")
    return found


def _depth(text: str) -> int:
    """Return how deep brackets are nested in a text of JSON, those within its strings left out."""
    depth = deepest = 0
    is_text = is_escaped = False
    for character in text:
        if is_text:
            if is_escaped:
                is_escaped = False
            elif character == "\\":
                is_escaped = True
            elif character == '"':
                is_text = False
        elif character == '"':
            is_text = True
        elif character in "[{":
            depth += 1
            deepest = max(deepest, depth)
        elif character in "]}":
            depth -= 1
    return deepest


def _whole(digits: str) -> int:
    if len(digits) > LONGEST_NUMBER or abs(int(digits)) > LARGEST_KEY:
        raise Refused(400, f"The number {digits[:20]}… is beyond any that is kept here.")
    return int(digits)


def _number(digits: str) -> float | int:
    """Return a number with a point: 4.0 is as whole as 4, as JSON Schema has it."""
    number = float(digits)
    if number - number != 0.0:
        raise Refused(400, f"The number {digits[:20]} is beyond any that is kept here.")
    return int(number) if number.is_integer() and abs(number) < 2**53 else number


def _no_number(word: str) -> NoReturn:
    raise Refused(400, f"{word} is no number of JSON: leave it out where it is not known.")


class Api(NinjaAPI):
    """The interface, with what the library’s document of it leaves unsaid."""

    _document: OpenAPISchema | None = None

    def get_openapi_schema(self, **given: Any) -> OpenAPISchema:
        """Return the document: problems by their own media type, and the headers that count.

        Made once: nothing in it changes while the site runs.
        """
        if self._document is None:
            document = super().get_openapi_schema(**given)
            for methods in document["paths"].values():
                for method, operation in methods.items():
                    _complete(method, operation, document["components"])
            self._document = document
        return self._document


IF_NONE_MATCH = {
    "in": "header",
    "name": "If-None-Match",
    "required": False,
    "schema": {"type": "string"},
    "description": "The ETag of what is known already: 304 where it still stands.",
}
ETAG = {"description": "Changes with what is told.", "schema": {"type": "string"}}


def _complete(method: str, operation: dict[str, Any], components: dict[str, Any]) -> None:
    """Say once what many operations share: problems by their own media type, and headers."""
    document_problems(operation, components)
    responses = operation["responses"]
    if method == "get":
        components.setdefault("parameters", {})["IfNoneMatch"] = IF_NONE_MATCH
        operation["parameters"].append({"$ref": "#/components/parameters/IfNoneMatch"})
        responses[200]["headers"] = {"ETag": ETAG}
        responses[304] = {"description": "It stands as it was."}


api = Api(
    title="Line-Pull Ledger",
    version="1",
    description=ABOUT,
    docs_url=None,
    urls_namespace="api",
    parser=BoundedParser(),
)
api.add_router("", router)


def _problem(request: HttpRequest, refused: Refused) -> HttpResponse:
    """Answer with a problem, and note it for whoever asks who was refused what.

    Not of what is not there, or not yet: that is no refusal, as on pages.
    """
    if refused.status not in NO_REFUSAL:
        token = token_of(request)
        by = [] if token is None else [f"By token “{token}”."]
        messages = [each.message for each in refused.errors]
        note_refusal(
            *by,
            refused.detail,
            *messages,
            fields=[each.field for each in refused.errors if each.field],
        )
    return problem_response(refused)


@api.exception_handler(Refused)
def _refused(request: HttpRequest, refused: Any) -> HttpResponse:
    return _problem(request, refused)


@api.exception_handler(NotAsked)
def _not_asked(request: HttpRequest, trouble: Any) -> HttpResponse:
    """Tell by field what is not as the document has it."""
    wrong = []
    for error in trouble.errors:
        source, *place = error["loc"]
        parts = [str(part) for part in (place[1:] if source == "body" else place[-1:])]
        field = ".".join(parts)
        message = WORDS.get(error["type"]) or error["msg"].removeprefix("Value error, ")
        wrong.append(Wrong(field, _given(request, source, field), message))
    return _problem(request, Refused(400, "Nothing was recorded, and nothing is read.", wrong))


# Of the library’s own messages, those that say too little.
WORDS = {
    "missing": "This is missing: give it.",
    "extra_forbidden": "Nothing is taken by this name: leave it out.",
    "string_pattern_mismatch": "This is not written as the document has it.",
}


def _given(request: HttpRequest, source: str, field: str) -> Any:
    """Return what was given in a field, of which the library tells only what is wrong."""
    match = request.resolver_match
    if source == "path":
        return None if match is None else match.kwargs.get(field)
    if source == "query":
        return request.GET.get(field)
    if source == "header":
        return request.headers.get(field)
    # It was read before, or there would be nothing to say of a field in it.
    return at_path(json.loads(request.body or "null"), field)


@api.exception_handler(HttpError)
def _http_error(request: HttpRequest, error: Any) -> HttpResponse:
    # What the parser refused comes wrapped by the library.
    if isinstance(error.__cause__, Refused):
        return _problem(request, error.__cause__)
    if isinstance(error.__cause__, BrokenOff):
        return _problem(request, Refused(TIMED_OUT, str(error.__cause__)))
    return _problem(request, Refused(error.status_code, str(error)))


@api.exception_handler(RequestDataTooBig)
def _too_long(request: HttpRequest, error: Any) -> HttpResponse:
    most = settings.DATA_UPLOAD_MAX_MEMORY_SIZE
    return _problem(request, Refused(413, f"The body is longer than {most:,} bytes: send less."))


View = Callable[..., HttpResponse]


def for_programs(view: View) -> View:
    """Answer a program: problems as problems, and an ETag."""

    @wraps(view)
    def answered(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        try:
            response = view(request, *args, **kwargs)
        except Http404:
            response = problem_response(Refused(404, f"Nothing is at {request.path[:200]}."))
        if response.status_code == 405:
            allowed = response["Allow"]
            words = f"{request.method} does nothing here: this address takes {allowed}."
            response = problem_response(Refused(405, words, headers={"Allow": allowed}))
        if request.method == "GET" and response.status_code == 200:
            set_response_etag(response)
            known = get_conditional_response(request, etag=response["ETag"], response=response)
            assert known is not None
            response = known
        patch_cache_control(response, private=True, no_cache=True)
        patch_vary_headers(response, ["Authorization"])
        return response

    return answered


def _nothing(request: HttpRequest, rest: str) -> NoReturn:
    raise Http404


def _addresses() -> list[Any]:
    found: list[Any] = api.urls[0]
    found.append(path("<path:rest>", _nothing))
    for each in found:
        each.callback = for_programs(each.callback)
    return found


urlpatterns = _addresses()
