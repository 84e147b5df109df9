"""Rows given other values as a list that can be read back: what stood there, what stands there now.

For acts that change many rows at once and are undone from that list.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import F

from register.selectors.rows_in_words import row_words


@dataclass(frozen=True, slots=True)
class Change:
    """A row as it was read, and the columns that get another value."""

    row: Any
    now: Mapping[str, Any]


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


def _plain(value: Any) -> Any:
    """Return a date or a moment as text; all else is JSON already."""
    return value.isoformat() if hasattr(value, "isoformat") else value
