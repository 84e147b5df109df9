"""Rows given other values as a list that can be read back: what stood there, what stands there now.

For acts that change many rows at once and are undone from that list.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import F

from register.selectors.relations import all_models
from register.selectors.rows_in_words import row_words


@dataclass(frozen=True, slots=True)
class Change:
    """A row as it was read, and the columns that get another value."""

    row: Any
    now: Mapping[str, Any]


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

    def given_back(self, row: Any, names: Iterable[str]) -> Change:
        """Return the change that gives the columns their former values."""
        return Change(row, {name: self.value(self.was, name) for name in names})


def together(changes: Iterable[Change]) -> list[Change]:
    """Return one change for each row, in the order in which the rows first come."""
    found: dict[tuple[type, int], Change] = {}
    for change in changes:
        key = (type(change.row), change.row.pk)
        before = found[key].now if key in found else {}
        found[key] = Change(change.row, {**before, **change.now})
    return list(found.values())


def change_write(change: Change) -> dict[str, Any]:
    """Write one change, raise the version, and return the entry to keep.

    Call it inside `acting`. Raises ValidationError when the row has moved on.
    """
    row = change.row
    was = {name: getattr(row, name) for name in change.now}
    rows = type(row)._base_manager.filter(pk=row.pk, version=row.version)
    if not rows.update(**change.now, version=F("version") + 1):
        raise ValidationError(
            f"{row_words(row)}: somebody changed it at this moment. Nothing was done; look again."
        )
    row.version += 1
    for name, value in change.now.items():
        setattr(row, name, value)
    return {
        "table": row._meta.db_table,
        "key": row.pk,
        "version": row.version,
        "was": {name: _plain(value) for name, value in was.items()},
        "now": {name: _plain(value) for name, value in change.now.items()},
    }


def entries_of(rows: Iterable[Mapping[str, Any]]) -> list[Entry]:
    """Read a kept list."""
    return [Entry(**row) for row in rows]


def _plain(value: Any) -> Any:
    """Return a date or a moment as text; all else is JSON already."""
    return value.isoformat() if hasattr(value, "isoformat") else value


def _field(model: Any, name: str) -> Any:
    field = model._meta.get_field(name)
    return field.target_field if field.is_relation else field


def _model(table: str) -> Any:
    return next(model for model in all_models() if model._meta.db_table == table)
