"""What a row was at a moment, from its changes. Pure: a list in, a row out."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from register.history.reading import Change


def row_as_of(changes: Iterable[Change], at: datetime) -> dict[str, Any] | None:
    """Return the row as it stood at a moment; None before it was made and after it was deleted.

    `changes` are those of one row, oldest first. A change counts from its own moment on.
    """
    row = None
    for change in changes:
        if change.at <= at:
            row = change.new
    return row
