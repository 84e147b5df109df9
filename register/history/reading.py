"""Read the history. The application role may read it and do nothing else with it."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, Final

from django.db import DEFAULT_DB_ALIAS, connections
from django.db.models import Model

COLUMNS: Final = (
    "id, at, actor, actor_id, reason, operation, old_row, new_row,"
    " table_name, row_key, transaction_id"
)
OF_ROW: Final = f"""
SELECT {COLUMNS} FROM audit.change_log WHERE table_name = %s AND row_key = %s ORDER BY id
"""
OF_ROWS: Final = f"""
SELECT {COLUMNS} FROM audit.change_log
WHERE (table_name, row_key) IN (SELECT * FROM unnest(%s::text[], %s::text[])) ORDER BY id
"""


@dataclass(frozen=True)
class Change:
    """One change of one row. `old` is None for a new row, `new` for a deleted one."""

    number: int
    at: datetime
    actor: str
    actor_id: int | None
    reason: str
    operation: str
    old: dict[str, Any] | None
    new: dict[str, Any] | None
    table: str = ""
    key: str = ""
    transaction: int = 0

    @property
    def fields(self) -> dict[str, tuple[Any, Any]]:
        """The columns that changed, as (before, after); None where there was no row."""
        old, new = self.old or {}, self.new or {}
        names = sorted(old.keys() | new.keys())
        return {n: (old.get(n), new.get(n)) for n in names if old.get(n) != new.get(n)}

    @property
    def row(self) -> dict[str, Any]:
        """The row after the change, or before it when it was deleted."""
        return self.new or self.old or {}


def changes_of(table: str, key: object, *, using: str = DEFAULT_DB_ALIAS) -> list[Change]:
    """Return all changes of a row, oldest first. One query."""
    with connections[using].cursor() as cursor:
        cursor.execute(OF_ROW, [table, str(key)])
        return [change_from(row) for row in cursor.fetchall()]


def changes_of_rows(
    rows: Iterable[tuple[str, str]], *, using: str = DEFAULT_DB_ALIAS
) -> list[Change]:
    """Return all changes of many rows, given as (table, key), oldest first. One query."""
    pairs = sorted(set(rows))
    with connections[using].cursor() as cursor:
        cursor.execute(OF_ROWS, [[table for table, _ in pairs], [key for _, key in pairs]])
        return [change_from(row) for row in cursor.fetchall()]


def changes_of_row(row: Model, *, using: str = DEFAULT_DB_ALIAS) -> list[Change]:
    """Return all changes of a model's row, oldest first."""
    return changes_of(row._meta.db_table, row.pk, using=using)


def change_from(row: tuple[Any, ...]) -> Change:
    """Return the change of one line of the log, its columns as in COLUMNS."""
    number, at, actor, actor_id, reason, operation, old, new, *which = row
    return Change(number, at, actor, actor_id, reason, operation, exact(old), exact(new), *which)


def exact(text: str | None) -> dict[str, Any] | None:
    """Read a stored row; its numbers stay exact. Dates and times stay text."""
    return None if text is None else json.loads(text, parse_float=Decimal)
