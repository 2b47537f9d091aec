"""Questions that are asked again and again: made into SQL once, then asked with other values.

Of most questions that signing asks, Django takes longer to make the SQL than the database takes to
answer. A `Question` is made by a function whose arguments stand for values given each time. It asks
the database anew whenever it is asked; what is kept is its wording, never an answer.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from functools import cache
from typing import Any, Generic, NamedTuple, TypeVar

from django.db.models import Expression, Model, Q, QuerySet
from django.db.models.sql import Query
from django.utils import timezone

Found = TypeVar("Found")
# Of more keys than these at once the SQL is made anew: the database takes its time of those anyway.
MOST_KEYS = 4
# Of a number beyond these no database knows: Django tells by the field what is found.
LEAST_NUMBER, MOST_NUMBER = -(2**63), 2**63 - 1
# Under this a query bears what it is asked with.
ASKED = "asked_with"
# What Django's compiler sets as it makes SQL, and goes by when it reads what the database found.
SET_BY_WORDING = ("select", "klass_info", "annotation_col_map", "col_count", "has_extra_select")


class Later(Expression):
    """Stands for a value that is given each time a question is asked.

    place: which of several, where a list of keys is given. model: of what a record is given.
    """

    def __init__(
        self, name: str, place: int | None = None, model: type[Model] | None = None
    ) -> None:
        super().__init__()
        self.name, self.place = name, place
        if model is not None:
            # By this Django refuses a record where one of another model is asked for.
            self._meta = model._meta

    def __str__(self) -> str:
        return self.name

    def as_sql(self, compiler: Any, connection: Any) -> tuple[str, tuple[Any, ...]]:
        """Leave room for the value."""
        return "%s", (self,)

    def of(self, values: Mapping[str, Any]) -> Any:
        """Return the value it stands for."""
        given = values[self.name]
        return given if self.place is None else given[self.place]


def among(field: str, keys: Sequence[Any]) -> Q:
    """Say that a field is among keys which a question is asked with."""
    if not any(isinstance(each, Later) for each in keys):
        return Q(**{f"{field}__in": keys})
    either = Q()
    for each in keys:
        either |= Q(**{field: each})
    return either


class Question(Generic[Found]):
    """A query, made by a function of nothing but its arguments; a list among them goes by `among`.

    Each value may be a record, its key, words, a moment or an id.
    """

    def __init__(self, make: Callable[..., QuerySet[Any, Found]]) -> None:
        self._make = make
        self._made: dict[tuple[Any, ...], tuple[QuerySet[Any, Found], dict[str, _Worded]]] = {}

    def ask(self, **values: Any) -> list[Found]:
        """Return all that the database finds now."""
        given = {name: _given(value) for name, value in values.items()}
        lists = tuple((name, len(each)) for name, each in given.items() if isinstance(each, list))
        is_long = any(many > MOST_KEYS for _, many in lists)
        if is_long or any(map(_is_unlike_others, given.values())):
            return list(self._make(**given))
        records = {name: each for name, each in given.items() if isinstance(each, Model)}
        models = tuple((name, each._meta.model) for name, each in records.items())
        # A day begins at another moment in another zone.
        shape = (timezone.get_current_timezone_name(), lists, models)
        if shape not in self._made:
            many_of, model_of = dict(lists), dict(models)
            laters = {
                name: [Later(name, place) for place in range(many_of[name])]
                if name in many_of
                else Later(name, model=model_of.get(name))
                for name in given
            }
            self._made[shape] = (self._make(**laters), {})
        made, worded = self._made[shape]
        # Of its own, so that two who ask at once don't mix.
        query = made.all()
        keys = {name: each.pk for name, each in records.items()}
        setattr(query.query, ASKED, _Asked(given | keys, worded))
        return list(query)

    def first(self, **values: Any) -> Found | None:
        """Return the first that the database finds now, None where it finds none."""
        return next(iter(self.ask(**values)), None)


def is_there(model: type[Model], **values: Any) -> bool:
    """Say whether the database has a record of a model with these values."""
    return _with(model, *values).first(**values) is not None


@cache
def _with(model: type[Model], *fields: str) -> Question[Any]:
    rows = model._default_manager
    return Question(lambda **values: rows.filter(**values).order_by().values_list("pk")[:1])


def _given(value: Any) -> Any:
    """Return a value as it is asked with. Raises ValueError for a record that isn't saved."""
    if isinstance(value, Model) and value.pk is None:
        raise ValueError(f"nothing can name a {value._meta.verbose_name} that isn't saved")
    return list(value) if isinstance(value, list | tuple | set | frozenset) else value


def _is_unlike_others(value: Any) -> bool:
    """Whether Django words a question otherwise for this value than for others of its sort."""
    if isinstance(value, list):
        return any(map(_is_unlike_others, value))
    if isinstance(value, int):
        return not LEAST_NUMBER <= value <= MOST_NUMBER
    return value is None


class _Worded(NamedTuple):
    """The SQL of a question in one database's dialect, and what else its compiler sets by it."""

    sql: str
    params: tuple[Any, ...]
    set_by_it: dict[str, Any]
    # The places of the columns whose values the database has otherwise than Python.
    converted: list[int]


class _Asked:
    """What a question is asked with, and its wording in each dialect."""

    def __init__(self, values: dict[str, Any], worded: dict[str, _Worded]) -> None:
        self.values, self._worded = values, worded

    def sql(
        self, compiler: Any, make: Callable[[], tuple[str, Any]]
    ) -> tuple[str, tuple[Any, ...]]:
        """Return the SQL, made only where it is the first time, and what it is asked with."""
        connection = compiler.connection
        worded = self._worded.get(connection.vendor)
        # Only whoever makes SQL anew is told that nothing can be locked outside of a transaction.
        is_lock = compiler.query.select_for_update and connection.get_autocommit()
        if worded is None or is_lock:
            sql, params = make()
            set_by_it = {name: getattr(compiler, name) for name in SET_BY_WORDING}
            columns = [each[0] for each in compiler.select[: compiler.col_count]]
            converted = list(compiler.get_converters(columns))
            worded = _Worded(sql, tuple(params), set_by_it, converted)
            self._worded[connection.vendor] = worded
        else:
            vars(compiler).update(worded.set_by_it, _converted=worded.converted)
        return worded.sql, tuple(
            _adapted(each.of(self.values), connection) if isinstance(each, Later) else each
            for each in worded.params
        )


def _adapted(value: Any, connection: Any) -> Any:
    if isinstance(value, datetime):
        return connection.ops.adapt_datetimefield_value(value)
    if isinstance(value, date):
        return connection.ops.adapt_datefield_value(value)
    if isinstance(value, uuid.UUID) and not connection.features.has_native_uuid_field:
        return value.hex
    return value


def asked_with(query: Query) -> dict[str, Any] | None:
    """Return the values that a query is asked with, None where it is none of a question."""
    asked: _Asked | None = getattr(query, ASKED, None)
    return None if asked is None else asked.values


class Worded:
    """Of a compiler of SELECT: words a question once, and knows how its answers are read."""

    query: Any
    connection: Any
    _converted: list[int] | None = None

    def get_converters(self, expressions: Any) -> Any:
        """Return what makes Python's values of a row's, by place."""
        places = self._converted
        if places is None:
            return super().get_converters(expressions)  # type: ignore[misc]
        few = super().get_converters([expressions[place] for place in places])  # type: ignore[misc]
        return {places[number]: how for number, how in few.items()}

    def as_sql(self, *args: Any, **kwargs: Any) -> Any:
        """Return the SQL and its values."""
        asked: _Asked | None = getattr(self.query, ASKED, None)
        if asked is None:
            return super().as_sql(*args, **kwargs)  # type: ignore[misc]
        return asked.sql(self, lambda: super(Worded, self).as_sql(*args, **kwargs))  # type: ignore[misc]
