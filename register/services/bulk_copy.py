"""New rows by COPY: many rows of one table in one statement.

Checks, triggers and history of the table hold as for any other row. What COPY saves is
the work on each value, which an INSERT looks at, quotes and sends as a parameter of its own.
"""

import json
import re
from collections.abc import Hashable, Sequence
from typing import Any, Final

from django.db import IntegrityError, connection, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Field, ForeignKey, JSONField, Model
from psycopg import sql

_NUMBERS: Final = (
    "SELECT nextval(pg_get_serial_sequence(%s, %s)) FROM generate_series(1, %s) ORDER BY 1"
)
# "COPY register_fracture, line 7", in the language of the server.
_LINE: Final = re.compile(r"COPY \S+, \S+ ([0-9]+)")


def rows_copy(kind: type[Model], rows: Sequence[Model]) -> None:
    """Insert unsaved rows of one kind; each has its number (pk) afterwards.

    Rows they link to are saved before. Call it inside `acting`. Raises IntegrityError for
    the first row that the table refuses, see `refused_place`; then nothing is written.
    """
    _number(kind, rows)
    fields = [field for field in kind._meta.concrete_fields if not field.generated]
    columns = [_column(field, rows) for field in fields]
    statement = sql.SQL("COPY {} ({}) FROM STDIN").format(
        sql.Identifier(kind._meta.db_table),
        sql.SQL(", ").join([column_of(field) for field in fields]),
    )
    with (
        connection.wrap_database_errors,
        connection.cursor() as cursor,
        cursor.copy(statement) as copy,
    ):
        for line in zip(*columns, strict=True):
            copy.write_row(line)
    for row in rows:
        row._state.adding, row._state.db = False, connection.alias


def refused_place(error: IntegrityError) -> int | None:
    """Return the place, from 0, of the row that made a copy fail; None when nobody says."""
    diagnosis = getattr(error.__cause__, "diag", None)
    found = _LINE.search(getattr(diagnosis, "context", None) or "")
    return int(found[1]) - 1 if found else None


def column_of(field: Field) -> sql.Composable:
    """Return the name of a field's column, quoted."""
    assert field.column  # only a field without a column has none
    return sql.Identifier(field.column)


def comparable(value: Any) -> Hashable:
    """Return something that is equal for values that a column holds alike: 1 and True differ."""
    kind = value.__class__
    return kind, repr(value) if kind is dict or kind is list else value


def _number(kind: type[Model], rows: Sequence[Model]) -> None:
    """Draw the numbers of new rows from the sequence of their table, and see to their links."""
    key = kind._meta.pk
    with connection.cursor() as cursor:
        table = sql.Identifier(kind._meta.db_table).as_string(cursor.connection)
        cursor.execute(_NUMBERS, [table, key.column, len(rows)])
        drawn = [number for (number,) in cursor.fetchall()]
    links = [field for field in kind._meta.concrete_fields if isinstance(field, ForeignKey)]
    for row, number in zip(rows, drawn, strict=True):
        row.pk = number
        for link in links:
            if getattr(row, link.attname) is None and link.is_cached(row):
                setattr(row, link.name, link.get_cached_value(row))


def _column(field: Field, rows: Sequence[Model]) -> list[object]:
    """Return what rows hold in one column, as the database takes it.

    Equal values are worked out once.
    """
    database = connections[connection.alias]  # itself, not the proxy in front of it
    known: dict[Hashable, object] = {}
    found: list[object] = []
    last: object = known  # no value is this
    for row in rows:
        value = field.pre_save(row, add=True)
        if value is not last:
            last, key = value, comparable(value)
            if key not in known:
                known[key] = _prepared(field, value, database)
            stored = known[key]
        found.append(stored)
    return found


def _prepared(field: Field, value: object, database: BaseDatabaseWrapper) -> object:
    if isinstance(field, JSONField) and value is not None:
        return json.dumps(value, cls=field.encoder)
    return field.get_db_prep_save(value, database)
