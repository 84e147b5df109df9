"""Migration operations for the history. All can be reversed.

operations = [
    CreateAuditSchema(),                     # once, before the first trigger
    CreateHistoryChain(),                    # once: what `seal_history` writes
    IndexHistoryByPatient(),                 # once: what the pages read by
    migrations.CreateModel(name="Patient", ...),
    HistoryTrigger("register_patient"),      # beside each CreateModel
]
"""

from typing import Any

from django.db.migrations.operations.base import Operation, OperationCategory

from register.history import sql


class DatabaseOnly(Operation):
    """An operation that changes the database and not Django's picture of the models."""

    reversible = True
    reduces_to_sql = True
    atomic = True
    elidable = False
    category = OperationCategory.SQL

    def forwards_sql(self) -> list[str]:
        raise NotImplementedError

    def backwards_sql(self) -> list[str]:
        raise NotImplementedError

    def state_forwards(self, app_label: str, state: Any) -> None:
        """Nothing to tell: no model changes."""

    def database_forwards(
        self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any
    ) -> None:
        for statement in self.forwards_sql():
            schema_editor.execute(statement, params=None)

    def database_backwards(
        self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any
    ) -> None:
        for statement in self.backwards_sql():
            schema_editor.execute(statement, params=None)


class CreateAuditSchema(DatabaseOnly):
    """Make the `audit` schema: the change log, its trigger functions, its own guard.

    Going back keeps nothing: the schema is dropped with all history, and so only
    an owner who means it may migrate to zero.
    """

    def forwards_sql(self) -> list[str]:
        return sql.CREATE_SCHEMA

    def backwards_sql(self) -> list[str]:
        return sql.DROP_SCHEMA

    def describe(self) -> str:
        return "Create the audit schema"


class CreateHistoryChain(DatabaseOnly):
    """Make the table of the hash chain. Going back drops it; the anchors outside stay."""

    def forwards_sql(self) -> list[str]:
        return sql.CREATE_CHAIN

    def backwards_sql(self) -> list[str]:
        return sql.DROP_CHAIN

    def describe(self) -> str:
        return "Create the hash chain over the history"


class IndexHistoryByPatient(DatabaseOnly):
    """Let the history of one patient be found, whatever happened to its rows."""

    def forwards_sql(self) -> list[str]:
        return sql.INDEX_PATIENTS

    def backwards_sql(self) -> list[str]:
        return sql.DROP_INDEX_PATIENTS

    def describe(self) -> str:
        return "Index the history by patient"


class HistoryTrigger(DatabaseOnly):
    """Record each change of a table in `audit.change_log`.

    `table` is the table's name, `key` its primary key column. The columns in
    `redact` never reach the history; only the fact that they changed does.
    """

    def __init__(self, table: str, *, redact: tuple[str, ...] = (), key: str = "id") -> None:
        self.table, self.redact, self.key = table, tuple(redact), key

    def deconstruct(self) -> tuple[str, list[Any], dict[str, Any]]:
        options: dict[str, Any] = {}
        if self.redact:
            options["redact"] = self.redact
        if self.key != "id":
            options["key"] = self.key
        return type(self).__qualname__, [self.table], options

    def forwards_sql(self) -> list[str]:
        return sql.create_trigger(self.table, key=self.key, redact=self.redact)

    def backwards_sql(self) -> list[str]:
        return sql.drop_trigger(self.table)

    def describe(self) -> str:
        return f"Record changes of {self.table}"
