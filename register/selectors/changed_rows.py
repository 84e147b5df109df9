"""The list that is kept of rows which one act changed: what stood there, what it put there."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from register.selectors.relations import all_models


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of the list that is kept: its columns before and after, and its version then."""

    table: str
    key: int
    version: int
    was: dict[str, Any]
    now: dict[str, Any]

    def row(self) -> Any:
        """Return the row as it stands, None when it is not there."""
        return _model(self.table)._base_manager.filter(pk=self.key).first()

    def value(self, columns: Mapping[str, Any], name: str) -> Any:
        """Return a kept value as the model holds it."""
        return _field(_model(self.table), name).to_python(columns[name])

    def stands(self, row: Any, name: str) -> bool:
        """Whether a column still has the value that this change gave it."""
        return bool(getattr(row, name) == self.value(self.now, name))

    def former(self, names: Iterable[str]) -> dict[str, Any]:
        """Return the former values of some of its columns."""
        return {name: self.value(self.was, name) for name in names}


def entries_of(rows: Iterable[Mapping[str, Any]]) -> list[Entry]:
    """Read a kept list."""
    return [Entry(**row) for row in rows]


def _field(model: Any, name: str) -> Any:
    field = model._meta.get_field(name)
    return field.target_field if field.is_relation else field


def _model(table: str) -> Any:
    return next(model for model in all_models() if model._meta.db_table == table)
