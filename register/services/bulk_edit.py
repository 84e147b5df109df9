"""Changing many rows of one table in one statement, each only in the version that was seen."""

import json
from collections.abc import Sequence
from typing import Final

from django.db import connection
from django.db.models import Field
from psycopg import sql

from register.imports.verdicts import Edit
from register.models.base import Record
from register.services.bulk_copy import column_of

# A column that an edit does not name keeps what the row holds.
_SET: Final = ", {0} = CASE WHEN {1} = ANY(new.named) THEN new.{0} ELSE old.{0} END"
_UPDATE: Final = (
    "UPDATE {} old SET version = old.version + 1{} FROM jsonb_to_recordset(%s::jsonb)"
    " AS new (row_key bigint, seen integer, named text[]{})"
    " WHERE old.{} = new.row_key AND old.version = new.seen"
)


def rows_edit(kind: type[Record], edits: Sequence[Edit]) -> bool:
    """Set the named values of recorded rows and raise their versions.

    Call it inside `acting`. False when a row is no longer in the version that an edit
    names: then the transaction must not be kept. Raises IntegrityError.
    """
    fields = [_field(kind, name) for name in sorted({n for edit in edits for n in edit.values})]
    statement = sql.SQL(_UPDATE).format(
        sql.Identifier(kind._meta.db_table),
        sql.Composed([sql.SQL(_SET).format(column_of(f), sql.Literal(f.name)) for f in fields]),
        sql.Composed([sql.SQL(", {} {}").format(column_of(f), _type_of(f)) for f in fields]),
        column_of(kind._meta.pk),
    )
    with connection.cursor() as cursor:
        cursor.execute(statement, [_as_json(kind, edits)])
        return bool(cursor.rowcount == len(edits))


def _field(kind: type[Record], name: str) -> Field:
    field = kind._meta.get_field(name)
    assert isinstance(field, Field)
    return field


def _type_of(field: Field) -> sql.Composable:
    words = field.db_type(connection)
    assert words  # a concrete field has a type
    return sql.SQL(words)  # from the model, not from a person


def _as_json(kind: type[Record], edits: Sequence[Edit]) -> str:
    """Return the edits as the database reads them; what is no JSON goes as its own text."""
    rows = [
        {
            "row_key": edit.pk,
            "seen": edit.version,
            "named": [_field(kind, name).name for name in edit.values],
        }
        | {
            str(field.column): field.get_prep_value(value)
            for field, value in ((_field(kind, name), value) for name, value in edit.values.items())
        }
        for edit in edits
    ]
    return json.dumps(rows, default=str)
