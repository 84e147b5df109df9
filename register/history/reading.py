"""Read the history. The application role may read it and do nothing else with it."""

import json
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import DEFAULT_DB_ALIAS, connections
from django.db.models import Model

QUESTION = """
SELECT id, at, actor, actor_id, reason, operation, old_row, new_row
FROM audit.change_log WHERE table_name = %s AND row_key = %s ORDER BY id
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

    @property
    def fields(self) -> dict[str, tuple[Any, Any]]:
        """The columns that changed, as (before, after); None where there was no row."""
        old, new = self.old or {}, self.new or {}
        names = sorted(old.keys() | new.keys())
        return {n: (old.get(n), new.get(n)) for n in names if old.get(n) != new.get(n)}


def changes_of(table: str, key: object, *, using: str = DEFAULT_DB_ALIAS) -> list[Change]:
    """Return all changes of a row, oldest first. One query."""
    with connections[using].cursor() as cursor:
        cursor.execute(QUESTION, [table, str(key)])
        rows = cursor.fetchall()
    return [
        Change(number, at, actor, actor_id, reason, operation, exact(old), exact(new))
        for number, at, actor, actor_id, reason, operation, old, new in rows
    ]


def exact(text: str | None) -> dict[str, Any] | None:
    """Read a stored row; its numbers stay exact. Dates and times stay text."""
    return None if text is None else json.loads(text, parse_float=Decimal)


def changes_of_row(row: Model, *, using: str = DEFAULT_DB_ALIAS) -> list[Change]:
    """Return all changes of a model's row, oldest first."""
    return changes_of(row._meta.db_table, row.pk, using=using)
