"""Every way to write × every table with history: did the log keep the row before and after?"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

from django.apps import apps
from django.db import DatabaseError, connection, transaction

from register.database.grants import DELETE_ALLOWED
from register.drills._rows import Rows
from register.history import acting
from register.history.exempt import EXEMPT
from register.history.sql import quoted

JOB: Final = "drill"
# The column that a change is made in; that of all other tables is the reason of setting aside.
_CHANGED: Final = {
    "register_site": "urgent_instruction",
    "register_user": "job_title",
    "register_user_groups": "user_id",
    "register_user_user_permissions": "user_id",
    "register_technique_operators": "user_id",
    "planning_ruleresult": "sentence",
    "account_emailaddress": "email",
    "mfa_authenticator": "type",
}
_VALUES: Final = {"mfa_authenticator": "recovery_codes"}
_WITHHELD: Final = """
SELECT encode(tgargs, 'hex') FROM pg_trigger
WHERE tgrelid = %s::regclass AND tgname = 'history'
"""


def tables_with_history() -> list[Any]:
    """Return the model of every table that has the history's trigger."""
    found = apps.get_models(include_auto_created=True)
    return [model for model in found if model._meta.db_table not in EXEMPT]


@dataclass(slots=True)
class Cell:
    """One way of writing into one table."""

    way: str
    table: str
    trouble: str = ""


class Matrix:
    """Writes into every table in every way, as the application role, and reads the log after."""

    def __init__(self) -> None:
        self.rows, self.cells = Rows(), list[Cell]()

    def run(self) -> list[Cell]:
        """Return all cells; those with trouble say which."""
        for model in tables_with_history():
            with acting(JOB):
                for name, make in _MAKING.items():
                    self._try(name, model, partial(self._made, model, make))
                for name, change in _CHANGING.items():
                    self._try(name, model, partial(self._changed, model, change))
                self._try("delete", model, partial(self._deleted, model))
        return self.cells

    def _try(self, way: str, model: Any, write: Callable[[], str]) -> None:
        cell = Cell(way, model._meta.db_table)
        try:
            with transaction.atomic():
                cell.trouble = write()
        except DatabaseError as error:
            cell.trouble = str(error).split("\n")[0]
        self.cells.append(cell)

    def _made(self, model: Any, way: Callable[[Any], int]) -> str:
        row, mark = self.rows.unsaved(model), newest()
        key = way(row)
        return compare(model, key, mark, "INSERT", None, stored(model, key))

    def _changed(self, model: Any, way: Callable[[Any, str, Any], None]) -> str:
        row = self.rows.saved(model)
        column, value = self._change_of(model)
        before, mark = stored(model, row.pk), newest()
        setattr(row, column, value)
        way(row, column, value)
        return compare(model, row.pk, mark, "UPDATE", before, stored(model, row.pk))

    def _change_of(self, model: Any) -> tuple[str, Any]:
        column = _CHANGED.get(model._meta.db_table, "void_reason")
        if column == "user_id":
            return column, self.rows.saved(apps.get_model("register.User")).pk
        return column, _VALUES.get(model._meta.db_table, "changed")

    def _deleted(self, model: Any) -> str:
        row = self.rows.saved(model)
        before, mark = stored(model, row.pk), newest()
        try:
            with transaction.atomic():
                run(f"DELETE FROM {quoted(model._meta.db_table)} WHERE id = %s", row.pk)
        except DatabaseError as error:
            refused = "permission denied" in str(error) and newest() == mark
            allowed = model._meta.db_table in DELETE_ALLOWED
            return "" if refused and not allowed else str(error)
        return compare(model, row.pk, mark, "DELETE", before, None)


def run(statement: str, *values: Any) -> list[Any]:
    with connection.cursor() as cursor:
        cursor.execute(statement, values or None)
        return cursor.fetchall() if cursor.description else []


def newest() -> int:
    """Return the number of the newest row of the log."""
    number: int = run("SELECT coalesce(max(id), 0) FROM audit.change_log")[0][0]
    return number


def stored(model: Any, key: Any) -> Any:
    """Return a row as the database holds it, as JSON text without withheld columns."""
    table = model._meta.db_table
    found = run(
        f"SELECT (to_jsonb(t) - %s::text[])::text FROM {quoted(table)} t WHERE id = %s",
        withheld(table), key,
    )  # fmt: skip
    return found[0][0] if found else None


def withheld(table: str) -> list[str]:
    """Return the columns whose values the history does not keep."""
    arguments = bytes.fromhex(run(_WITHHELD, table)[0][0])  # zero bytes between, the key first
    return [name.decode() for name in arguments.split(b"\0")[1:-1]]


def compare(model: Any, key: Any, mark: int, operation: str, before: Any, after: Any) -> str:
    """Return what is wrong with the log of one write; blank when old and new are right."""
    table = model._meta.db_table
    hidden = withheld(table)
    found = run(
        "SELECT operation, (old_row - %s::text[])::text, (new_row - %s::text[])::text, actor,"
        " coalesce(old_row, '{}') || coalesce(new_row, '{}') FROM audit.change_log"
        " WHERE id > %s AND table_name = %s AND row_key = %s",
        hidden, hidden, mark, table, str(key),
    )  # fmt: skip
    if len(found) != 1:
        return f"{len(found)} rows in the log instead of 1"
    told, old, new, actor, _ = found[0]
    if (told, old, new) != (operation, before, after):
        return f"the log says {told} {old} {new}"
    return "" if actor == JOB else f"the log names {actor}"


def _save(row: Any) -> int:
    row.save(force_insert=True)
    return int(row.pk)


def _bulk_create(row: Any) -> int:
    type(row)._base_manager.bulk_create([row])
    return int(row.pk)


def _raw_insert(row: Any) -> int:
    columns = [c for c in row._meta.concrete_fields if not c.primary_key]
    for column in columns:
        column.pre_save(row, add=True)  # sets the time of making
    values = [c.get_db_prep_save(getattr(row, c.attname), connection) for c in columns]
    names = ", ".join(quoted(column.column) for column in columns)
    places = ", ".join(["%s"] * len(columns))
    table = quoted(row._meta.db_table)
    return int(run(f"INSERT INTO {table} ({names}) VALUES ({places}) RETURNING id", *values)[0][0])


def _update_save(row: Any, column: str, value: Any) -> None:
    row.save()


def _update(row: Any, column: str, value: Any) -> None:
    type(row)._base_manager.filter(pk=row.pk).update(**{column: value})


def _bulk_update(row: Any, column: str, value: Any) -> None:
    type(row)._base_manager.bulk_update([row], [column.removesuffix("_id")])


def _upsert(row: Any, column: str, value: Any) -> None:
    type(row)._base_manager.bulk_create(
        [row], update_conflicts=True, unique_fields=["id"],
        update_fields=[column.removesuffix("_id")],
    )  # fmt: skip


def _raw_update(row: Any, column: str, value: Any) -> None:
    table = quoted(row._meta.db_table)
    run(f"UPDATE {table} SET {quoted(column)} = %s WHERE id = %s", value, row.pk)


def _merge(row: Any, column: str, value: Any) -> None:
    table = quoted(row._meta.db_table)
    run(f"MERGE INTO {table} t USING (VALUES (%s::bigint)) v (id) ON t.id = v.id"
        f" WHEN MATCHED THEN UPDATE SET {quoted(column)} = %s", row.pk, value)  # fmt: skip


_MAKING: Final = {"save": _save, "bulk_create": _bulk_create, "raw INSERT": _raw_insert}
_CHANGING: Final = {
    "save again": _update_save,
    "update()": _update,
    "bulk_update": _bulk_update,
    "upsert": _upsert,
    "raw UPDATE": _raw_update,
    "MERGE": _merge,
}


def untold(tables: set[str]) -> list[str]:
    """Return every row of some tables that differs from the end of its own history, and every
    change whose row before is not the row after of the change before it.
    """
    trouble = []
    for table in sorted(tables):
        hidden = withheld(table)
        trouble += run(
            f"SELECT '{table} ' || t.id FROM {quoted(table)} t LEFT JOIN LATERAL ("
            " SELECT new_row FROM audit.change_log WHERE table_name = %s AND row_key = t.id::text"
            " ORDER BY id DESC LIMIT 1) l ON true"
            " WHERE (to_jsonb(t) - %s::text[]) IS DISTINCT FROM (l.new_row - %s::text[])",
            table, hidden, hidden,
        )  # fmt: skip
        trouble += run(
            "SELECT table_name || ' ' || row_key || ' change ' || id FROM ("
            " SELECT *, lag(new_row) OVER (PARTITION BY row_key ORDER BY id) AS former"
            " FROM audit.change_log WHERE table_name = %s) l"
            " WHERE (old_row - %s::text[]) IS DISTINCT FROM (former - %s::text[])",
            table, hidden, hidden,
        )  # fmt: skip
    return [row[0] for row in trouble]
