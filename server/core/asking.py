"""Queries that are put into words once, and asked again and again with other values.

To put a query into words costs a process more than to ask it. Those of an upload and of every request with a token are
asked often enough for that to matter; elsewhere a query set is plainer.
"""

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import Any, Final
from uuid import UUID, uuid4

from django.db import connection
from django.db.models import Model, QuerySet, UUIDField

Value = UUID | str
Question = Callable[..., "QuerySet[Any, Any]"]
_IDS: Final = UUIDField()


class Asked:
    """A query about ids and texts. It answers with the rows of `values_list`, or with whole objects of the model.

    `question` makes the query set from the values. It is called with stand-ins, once for each number of values, so what
    it asks may depend on nothing but how many there are; it joins no other object in (`select_related`).
    """

    def __init__(self, question: Question) -> None:
        self._question = question
        self._worded: dict[tuple[str, int], _Worded] = {}

    def __call__(self, *values: Value) -> list[Any]:
        """All that it finds, in the order of the query set."""
        key = connection.vendor, len(values)
        if key not in self._worded:
            self._worded[key] = _Worded(self._question, values)
        return list(self._worded[key].answered(values))

    def first(self, *values: Value) -> Any | None:
        """The first that it finds; the query set is to ask for no more."""
        return next(iter(self(*values)), None)


class _Worded:
    """A query in the words of one database, and where among its parameters the values stand."""

    def __init__(self, question: Question, like: Sequence[Value]) -> None:
        stand_ins = [uuid4() if isinstance(value, UUID) else uuid4().hex for value in like]
        places = {_as_asked(stand_in): place for place, stand_in in enumerate(stand_ins)}
        asked = question(*stand_ins)
        compiler = asked.query.get_compiler(connection=connection)
        self._words, self._parameters = compiler.as_sql()
        self._places = [places.get(parameter) for parameter in self._parameters]
        self._converters = list(compiler.get_converters([column for column, _, _ in compiler.select]).items())
        self._model = asked.model if asked.query.default_cols else None
        self._columns = [field.attname for field in asked.model._meta.concrete_fields]
        self._added = list(asked.query.annotations)

    def answered(self, values: Sequence[Value]) -> Iterator[Any]:
        given = [_as_asked(value) for value in values]
        parameters = [
            fixed if place is None else given[place]
            for fixed, place in zip(self._parameters, self._places, strict=True)
        ]
        with connection.cursor() as cursor:
            cursor.execute(self._words, parameters)
            found = cursor.fetchall()
        rows = map(self._converted, found)
        return map(tuple, rows) if self._model is None else map(partial(self._object, self._model), rows)

    def _converted(self, row: Sequence[Any]) -> Sequence[Any]:
        if not self._converters:
            return row
        values = list(row)
        for place, (converters, column) in self._converters:
            for convert in converters:
                values[place] = convert(values[place], column, connection)
        return values

    def _object(self, model: type[Model], row: Sequence[Any]) -> Any:
        """One of the model's objects, with what the query set annotates it with."""
        n_columns = len(self._columns)
        found = model.from_db(connection.alias, self._columns, row[:n_columns])
        for name, value in zip(self._added, row[n_columns:], strict=True):
            setattr(found, name, value)
        return found


def _as_asked(value: Value) -> Any:
    return _IDS.get_db_prep_value(value, connection) if isinstance(value, UUID) else value
