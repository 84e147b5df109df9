"""New rows by COPY: many rows of one table in one statement.

Checks, triggers and history of the table hold as for any other row. What COPY saves is
the work on each value, which an INSERT looks at, quotes and sends as a parameter of its own.
"""

import json
import re
from collections.abc import Hashable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, Final, Self

from django.db import IntegrityError, connection, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Field, ForeignKey, JSONField, Model
from psycopg import Connection, sql

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
    rows_numbered(kind, rows)
    with Copying() as copying:
        copying.send(rows_ready(kind, rows))


def rows_numbered(kind: type[Model], rows: Sequence[Model]) -> None:
    """Draw the numbers of new rows from the sequence of their table, and see to their links.

    Rows they link to have their numbers before.
    """
    key = kind._meta.pk
    with connection.cursor() as cursor:
        table = sql.Identifier(kind._meta.db_table).as_string(cursor.connection)
        cursor.execute(_NUMBERS, [table, key.column, len(rows)])
        drawn = [number for (number,) in cursor.fetchall()]
    links = [field for field in kind._meta.concrete_fields if isinstance(field, ForeignKey)]
    for row, number in zip(rows, drawn, strict=True):
        setattr(row, key.attname, number)
        for link in links:
            if row.__dict__[link.attname] is None and link.is_cached(row):
                linked: Any = link.get_cached_value(row)
                row.__dict__[link.attname] = linked and linked.pk


@dataclass(frozen=True, slots=True)
class Ready:
    """Numbered rows of one kind as the database takes them, column by column."""

    statement: sql.Composed
    columns: list[list[object]]


def rows_ready(kind: type[Model], rows: Sequence[Model]) -> Ready:
    """Make numbered rows ready to be sent; asks the database nothing."""
    fields = [field for field in kind._meta.concrete_fields if not field.generated]
    statement = sql.SQL("COPY {} ({}) FROM STDIN").format(
        sql.Identifier(kind._meta.db_table),
        sql.SQL(", ").join([column_of(field) for field in fields]),
    )
    ready = Ready(statement, [_column(field, rows) for field in fields])
    for row in rows:
        row._state.adding, row._state.db = False, connection.alias
    return ready


class Copying:
    """Sends rows from a second thread: the database checks some while the next are made ready.

    Between `send` and `wait` nothing else may be asked of the connection.
    """

    def __enter__(self) -> Self:
        connection.ensure_connection()
        self._thread = ThreadPoolExecutor(1)
        self._sent: Future[None] | None = None
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        try:
            if kind is None:
                self.wait()
        finally:
            self._thread.shutdown()

    def send(self, ready: Ready) -> None:
        """Send rows when those sent before are written. Raises IntegrityError about those."""
        self.wait()
        self._sent = self._thread.submit(_copied, connection.connection, ready)

    def wait(self) -> None:
        """Wait until all is written that was sent. Raises IntegrityError."""
        sent, self._sent = self._sent, None
        if sent is not None:
            with connection.wrap_database_errors:
                sent.result()


def _copied(database: Connection, ready: Ready) -> None:
    with database.cursor() as cursor, cursor.copy(ready.statement) as copy:
        for line in zip(*ready.columns, strict=True):
            copy.write_row(line)


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


def _column(field: Field, rows: Sequence[Model]) -> list[object]:
    """Return what rows hold in one column, as the database takes it.

    Equal values are worked out once.
    """
    database = connections[connection.alias]  # itself, not the proxy in front of it
    name = field.attname if type(field).pre_save is Field.pre_save else ""
    known: dict[Hashable, object] = {}
    found: list[object] = []
    last: object = known  # no value is this
    for row in rows:
        value = row.__dict__[name] if name else field.pre_save(row, add=True)
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
