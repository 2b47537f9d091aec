"""What programs and phones send: each operation of the interface, and what a phone talks to."""

from __future__ import annotations

import copy
import json
import uuid
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import quote, quote_from_bytes

from django.contrib.auth.models import User
from django.urls import reverse
from hypothesis import strategies as st

from inspections.api.site import api
from tests.builders import picture, rated_unit
from tests.fuzz.forms import Text, _bytes
from tests.fuzz.held import Held, names_a_field, says_why
from tests.fuzz.values import json_values, values
from tests.inspections.api import test_writing as sent
from tests.inspections.api.asking import token_of
from tests.inspections.field.sent import finding_sent, payload
from tests.inspections.field.test_receiving_pulls import pull_sent
from tests.job_builders import commit, figured_unit

API = "/api/v1/"


@dataclass
class Operation:
    """Something a program may do. asked: names in its address; body: what it sends, whole."""

    name: str
    method: str
    path: str
    asked: list[str] = field(default_factory=list)
    body: Any = None
    secret: str = ""

    def __str__(self) -> str:
        return f"{self.method} {self.path}"


def documented() -> dict[tuple[str, str], dict[str, Any]]:
    """Every operation of the interface, by its method and path, as its own document has it."""
    document = api.get_openapi_schema(path_prefix=API)
    return {
        (method, path): operation
        for path, methods in document["paths"].items()
        for method, operation in methods.items()
    }


def bodies(by: User) -> dict[str, Any]:
    """A whole body of each operation that records, by its path."""
    unit, made = rated_unit(), commit(figured_unit())
    finding = finding_sent()
    answer = {"key": "guards-on", "part": "Guards", "text": "On", "state": "done", "reason": ""}
    return {
        "inspections": sent.inspection(
            unit, hours=100.0, note="Seen", findings=[finding], answers=[answer]
        ),
        "bench-tests": sent.bench_test(unit, note="Cold", rubber_temperature_f=68.0),
        "hour-readings": sent.hours(unit),
        "pulls": sent.pull(made),
    }


def operations(by: User) -> list[Operation]:
    """Every operation of the interface, and every address of phones, with what is whole there."""
    secret, whole = token_of(by).secret, bodies(by)
    found = [
        Operation(
            f"{method} {path.removeprefix(API)}",
            method,
            path,
            [each["name"] for each in told["parameters"] if each.get("in") == "query"],
            whole[path.removeprefix(API)] if method == "post" else None,
            secret,
        )
        for (method, path), told in documented().items()
    ]
    unit, made = rated_unit(), commit(figured_unit())
    inspected = payload(
        unit,
        signed_by=by.pk,
        hours=100,
        findings=[finding_sent()],
        photos=[{"id": str(uuid.uuid4()), "caption": "Side A", "finding": 1}],
    )
    phone = {
        "field-inspections": inspected,
        "field-pulls": pull_sent(made, by),
    }
    found += [Operation(name, "post", reverse(name), [], body) for name, body in phone.items()]
    found.append(Operation("field-photo", "put", reverse("field-photo", args=[uuid.uuid4()])))
    return found


def _places(tree: Any, at: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """The path of every value in a body."""
    found = [at] if at else []
    if isinstance(tree, dict):
        for key, each in tree.items():
            found += _places(each, (*at, key))
    elif isinstance(tree, list):
        for place, each in enumerate(tree[:3]):
            found += _places(each, (*at, place))
    return found


RAW = (
    b"",
    b"null",
    b"[]",
    b"{",
    b'{"a": 1, "a": 2}',
    b"\xff\xfe{}",
    b"\xef\xbb\xbf{}",
    b'{"a": NaN}',
    b'{"a": Infinity}',
    b'{"a": 1e999}',
    b'{"a": ' + b"9" * 5_000 + b"}",
    b"[" * 50_000,
    b"[" * 50_000 + b"]" * 50_000,
    b'{"a":' * 400 + b"1" + b"}" * 400,
    b'"\\ud800"',
    b'{"\\u0000": "\\u0000"}',
    b"x" * 100_000,
    b"\0" * 40,
)
KINDS = ("application/json",) * 9 + (
    "application/json; charset=utf-16",
    "application/json; charset=no-such",
    "text/plain",
    "application/x-www-form-urlencoded",
    "multipart/form-data",
    "multipart/form-data; boundary=x",
    "",
)
IDS = ("", "x", "0" * 32, "not-a-uuid", "\x7f", "é" * 40, "1" * 5_000, str(uuid.UUID(int=0)))


@st.composite
def requests(draw: st.DrawFn, operation: Operation) -> dict[str, Any]:
    """An operation as it may come: whole, or with some of it broken."""
    headers: dict[str, str] = {}
    if operation.secret:
        secret = draw(st.sampled_from([operation.secret] * 20 + ["", "lpl_x", "é", "x" * 5_000]))
        headers["Authorization"] = f"Bearer {secret}"
    if operation.method == "post" and operation.secret:
        key = draw(st.sampled_from([str(uuid.UUID(int=7))] * 12 + [*IDS]))
        if draw(st.integers(0, 9)):
            headers["Idempotency-Key"] = key
    path = operation.path
    if "{key}" in path:
        key = draw(st.one_of(st.integers(0, 40).map(str), values))
        path = path.replace("{key}", quote_from_bytes(_bytes(key)[:2_000]) or "0")
    names = st.sampled_from([*operation.asked, "x"]) if operation.asked else st.just("x")
    rarely = operation.method == "post"
    query: list[tuple[str, Text]] = []
    if not rarely or draw(st.integers(0, 9)) == 0:
        query = draw(st.lists(st.tuples(names, values), max_size=3))
    method = draw(st.sampled_from([operation.method] * 15 + ["put", "patch", "delete", "head"]))
    parts = (f"{quote(n)}={quote_from_bytes(_bytes(v)[:2_000])}" for n, v in query)
    return {
        "method": method,
        "path": path + ("?" + "&".join(parts) if query else ""),
        "headers": headers,
        "kind": draw(st.sampled_from(KINDS)) if operation.body is not None else "",
        "body": draw(_bodies(operation.body)),
    }


@st.composite
def _bodies(draw: st.DrawFn, whole: Any) -> bytes:
    if whole is None:
        return draw(st.sampled_from((b"", b"", b"", *RAW)))
    if draw(st.integers(0, 5)) == 0:
        return draw(st.sampled_from(RAW))
    tree = copy.deepcopy(whole)
    is_doubled = False
    for _ in range(draw(st.integers(0, 3))):
        place = draw(st.sampled_from(_places(tree) or [("x",)]))
        *way, last = place
        at = tree
        for each in way:
            at = at[each]
        act = draw(st.sampled_from(["put"] * 6 + ["drop", "more", "double", "deep"]))
        if act == "drop" and isinstance(at, dict):
            at.pop(last, None)
        elif act == "more" and isinstance(at, dict):
            at[draw(st.sampled_from(["x", "id", "pk", "signed_by", "", "\0", "\ud800"]))] = 1
        elif act == "double":
            is_doubled = True
        elif act == "deep":
            deep: Any = at[last]
            for _ in range(30):
                deep = [deep]
            at[last] = deep
        else:
            at[last] = draw(json_values)
    text = json.dumps(tree)
    if is_doubled and text.startswith("{") and len(text) > 2:
        text = text[:-1] + ', "note": "twice", "note": "twice"}'
    return text.encode()


def shown(request: dict[str, Any]) -> str:
    """A request in words."""
    body: bytes = request["body"]
    return (
        f"{request['method']} {request['path'][:120]} {request['kind']} "
        f"key={request['headers'].get('Idempotency-Key', 'none')[:40]!r} {body[:1_500]!r}"
    )


def hold(held: Held, operation: Operation, request: dict[str, Any]) -> None:
    """Send a request, and hold its answer to what must hold of all. Raises Fault."""
    with held.case(shown(request)) as case:
        client = held.client()
        answer = case.ask(
            lambda: client.generic(
                request["method"].upper(),
                request["path"],
                request["body"],
                content_type=request["kind"],
                headers=request["headers"],
            )
        )
        if answer.status_code < 300 and request["method"] in {"post", "put"}:
            return
        case.nothing_changed()
        if (
            answer.status_code >= 400
            and request["method"] != "head"
            and not says_why(answer, set())
        ):
            raise case.fault(f"answered {answer.status_code} and says not why")
        if (
            answer.status_code >= 400
            and request["method"] != "head"
            and not names_a_field(answer, set())
        ):
            raise case.fault(f"names no field: {answer.text[:300]}")


PHOTO = picture
