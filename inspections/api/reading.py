"""Reading: a list of each kind of record, page by page, and each record by itself.

A list goes by the key of its records, or by when they came where that is made elsewhere, so that a
page stays the same however many are added. It ends before what may yet have something come behind
it. Its cursor is signed: it holds for this list, narrowed in this way, and can't be made up.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Collection
from typing import Annotated, Any, Literal

from django.core import signing
from django.db import models
from django.http import HttpRequest
from ninja import Router, Schema
from ninja.params.functions import Path, Query
from pydantic import AfterValidator, BeforeValidator, Field, WithJsonSchema, create_model

from fleet.fields import LARGEST_KEY
from fleet.models import ApiScope
from inspections.api.access import Token
from inspections.api.moments import plain_day, zoned_moment
from inspections.api.problems import Refused, Wrong, may_refuse
from inspections.api.resources import RESOURCES, Resource
from inspections.api.settled import has_made_key, settled

SALT = "inspections.api.cursor"
MOST_ROWS = 100
LONGEST_CURSOR = 600

router = Router()


# As JSON Schema has whole numbers, 4.0 is one.
DIGITS = re.compile(r"([0-9]{1,19})(?:\.0+)?", re.ASCII)


def _digits(given: Any) -> Any:
    """Let a whole number of an address through only where it is written plainly."""
    if not isinstance(given, str):
        return given
    read = DIGITS.fullmatch(given)
    if read is None:
        raise ValueError("This is not a whole number.")
    return int(read[1])


# Its bounds stand before, so that the document tells them.
Key = Annotated[int, Field(ge=0, le=LARGEST_KEY), BeforeValidator(_digits)]
AskedMoment = Annotated[
    str, AfterValidator(zoned_moment), WithJsonSchema({"type": "string", "format": "date-time"})
]
AskedDay = Annotated[
    str, AfterValidator(plain_day), WithJsonSchema({"type": "string", "format": "date"})
]
UUID_PATTERN = "^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$"
AskedId = Annotated[str, Field(pattern=UUID_PATTERN)]

PAGING: dict[str, Any] = {
    "limit": (
        Annotated[int, Field(ge=1, le=MOST_ROWS), BeforeValidator(_digits)],
        Field(50, description=f"How many to give: {MOST_ROWS} at the most."),
    ),
    "cursor": (
        Annotated[str, Field(max_length=LONGEST_CURSOR)] | None,
        Field(None, description="The next of the page before; leave the rest as it was there."),
    ),
    "order": (
        Literal["oldest", "newest"],
        Field("oldest", description="Which go first, by when they came on record."),
    ),
}
REFUSALS = (400, 401, 403, 429)


def add_resource(resource: Resource) -> None:
    """Let programs read a list of records, and each by itself."""
    page = create_model(
        f"{resource.title}Page",
        __base__=Schema,
        items=(list[resource.schema], Field()),  # type: ignore[name-defined]
        next=(str | None, Field(description="The cursor of the next page; null on the last.")),
    )
    filters = _filters_of(resource)

    def listed(request: HttpRequest, asked: Any) -> dict[str, Any]:
        refuse_unknown(request, filters.model_fields)
        return _page(resource, asked)

    def one(request: HttpRequest, key: Any) -> dict[str, Any]:
        refuse_unknown(request, ())
        row = resource.records().filter(pk=key).first()
        if row is None:
            raise Refused(404, f"No record of {resource.name} has the id {key}.")
        return resource.told([row])[0]

    sign_view(listed, asked=Annotated[filters, Query()])
    sign_view(one, key=Annotated[AskedId if has_made_key(resource.model) else Key, Path()])
    common: dict[str, Any] = {"auth": Token(ApiScope.READ), "tags": ["read"]}
    router.get(
        f"/{resource.name}",
        response={200: page},
        openapi_extra=may_refuse(*REFUSALS, 422, 503),
        operation_id=f"list-{resource.name}",
        summary=resource.about,
        url_name=f"list-{resource.name}",
        **common,
    )(listed)
    router.get(
        f"/{resource.name}/{{key}}",
        response={200: resource.schema},
        openapi_extra=may_refuse(*REFUSALS, 404),
        operation_id=f"read-{resource.name}",
        summary=f"One of: {resource.about}",
        url_name=f"read-{resource.name}",
        **common,
    )(one)


def refuse_unknown(request: HttpRequest, known: Collection[str]) -> None:
    """Raise Refused for what an address asks that nobody reads, or asks twice.

    A filter misspelled, and so left out, would give records that nobody asked for.
    """
    wrong = []
    for name, given in request.GET.lists():
        if name not in known:
            words = f"Nothing is asked by this name: {', '.join(known) or 'nothing'} would do."
            wrong.append(Wrong(name[:80], given[0], words))
        elif len(given) > 1:
            wrong.append(Wrong(name, None, f"This is given {len(given)} times: give it once."))
    if wrong:
        raise Refused(400, "Nothing is read.", wrong)


def sign_view(view: Callable[..., Any], **annotations: Any) -> None:
    """Say of what type a view's arguments are, which the library reads off its signature."""
    given = {"request": HttpRequest, **annotations}
    view.__signature__ = inspect.Signature(  # type: ignore[attr-defined]
        [
            inspect.Parameter(name, inspect.Parameter.POSITIONAL_OR_KEYWORD, annotation=annotation)
            for name, annotation in given.items()
        ]
    )


def _filters_of(resource: Resource) -> type[Schema]:
    """Return by what a list may be narrowed: records it names, and times."""
    fields = dict(PAGING)
    for name in resource.keys:
        words = f"Only those of this {name.removesuffix('_id').replace('_', ' ')}."
        fields[name] = (Key | None, Field(None, description=words))
    for name in resource.times:
        is_moment = isinstance(resource.model._meta.get_field(name), models.DateTimeField)
        asked = AskedMoment if is_moment else AskedDay
        words = name.replace("_", " ")
        fields[f"{name}_from"] = (
            asked | None,
            Field(None, description=f"Only those with {words} then or later."),
        )
        fields[f"{name}_before"] = (
            asked | None,
            Field(None, description=f"Only those with {words} before."),
        )
    made: type[Schema] = create_model(f"{resource.title}Asked", __base__=Schema, **fields)
    return made


def _page(resource: Resource, asked: Any) -> dict[str, Any]:
    """Return one page of a list, and the cursor of the next."""
    names = set(type(asked).model_fields) - {"limit", "cursor"}
    given = {name: getattr(asked, name) for name in sorted(names)}
    found, by = settled(resource.records())
    found = found.filter(**_lookups(given))
    is_newest_first = asked.order == "newest"
    # What a cursor holds for: this list and no other, narrowed as it was.
    whose = {"of": resource.name, "by": by, **{name: str(each) for name, each in given.items()}}
    if asked.cursor is not None:
        after = _opened(asked.cursor, whose)
        found = found.filter(**{f"{by}__lt" if is_newest_first else f"{by}__gt": after})
    rows = list(found.order_by(f"-{by}" if is_newest_first else by)[: asked.limit + 1])
    told, is_last = rows[: asked.limit], len(rows) <= asked.limit
    last = str(getattr(told[-1], by)) if told else ""
    return {
        "items": resource.told(told),
        "next": None if is_last else signing.dumps([last, whose], salt=SALT, compress=True),
    }


def _lookups(given: dict[str, Any]) -> dict[str, Any]:
    lookups = {}
    for name, value in given.items():
        if value is None or name == "order":
            continue
        if name.endswith("_from"):
            lookups[f"{name.removesuffix('_from')}__gte"] = value
        elif name.endswith("_before"):
            lookups[f"{name.removesuffix('_before')}__lt"] = value
        else:
            lookups[name] = value
    return lookups


def _opened(cursor: str, whose: dict[str, str]) -> str:
    """Return the key a page ended at. Raises Refused for a cursor that is not of this list."""
    words = "This is no cursor of this list: ask for its first page again, without one."
    try:
        after, held = signing.loads(cursor, salt=SALT)
    except (signing.BadSignature, ValueError):
        raise Refused(422, words, [Wrong("cursor", cursor, words)]) from None
    if held != whose:
        words = "This cursor is of another list, or one narrowed otherwise: leave all as it was."
        raise Refused(422, words, [Wrong("cursor", cursor, words)])
    return str(after)


for each in RESOURCES:
    add_resource(each)
