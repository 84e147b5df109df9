"""Every column of every table added to every form: nothing of it may be saved."""

import json
from collections.abc import Callable
from typing import Any, Final

from django.apps import apps

from register.drills._walk import (
    Found,
    changes_after,
    client_of,
    people,
    quiet,
    ready,
    taken_back,
    walk,
)
from register.services.receipts import newest_change

RUNS = 1
# Differ between two saves of the same by nature, as does whatever ends in "_at".
_OF_THE_MOMENT: Final = {"id", "at", "key", "went_to", "transaction_id"}


def run(*, runs: int, seed: int, say: Callable[[str], None]) -> bool:
    """Send each form as it stands, then with all columns added; compare what was saved."""
    ready(say)
    clients = {role: client_of(user) for role, user in people().items()}
    forms = walk(clients)[1]
    accepted, saved = [], 0
    with quiet():
        for found in forms:
            plain = _saved_by(clients[found.role], found, {})
            laden = _saved_by(clients[found.role], found, _extras(found))
            saved += bool(plain)
            if plain != laden:
                accepted.append(f"{found.name} ({found.role})")
    say(
        f"{len(forms)} forms, {saved} of which save as they stand: "
        f"{len(accepted)} took something that is not on them {accepted or ''}."
    )
    return not accepted and saved > 0


def _extras(found: Found) -> dict[str, str]:
    """Return a value for every column that is no box of the form."""
    columns = {
        column.name
        for model in apps.get_models()
        for column in model._meta.concrete_fields
        if model._meta.app_label in ("register", "planning", "reports")
    }
    boxes = {name.rpartition("-")[2] for name in found.form.kinds} | set(found.form.data)
    return {name: "1" for name in columns - boxes - set(found.form.buttons)}


def _saved_by(client: Any, found: Found, extras: dict[str, str]) -> list[Any]:
    """Return what a post would save, without what differs each time; then take it back."""
    with taken_back():
        before = newest_change()
        client.post(found.form.action, found.form.typed(**extras))
        rows = [
            (table, operation, json.loads(new) if isinstance(new, str) else new or {})
            for _, table, operation, _, _, new in changes_after(before)
        ]
    born = {(table, row.get("id")) for table, operation, row in rows if operation == "INSERT"}
    return [(table, operation, _lasting(table, row, born)) for table, operation, row in rows]


def _lasting(table: str, row: dict[str, Any], born: set[tuple[str, Any]]) -> dict[str, Any]:
    """Return a row without what differs each time; links to rows of this save are "new"."""
    lasting = {
        name: value
        for name, value in row.items()
        if name not in _OF_THE_MOMENT and not name.endswith("_at")
    }
    model = next(one for one in apps.get_models() if one._meta.db_table == table)
    for column in model._meta.concrete_fields:
        to = column.related_model
        if isinstance(to, type) and (to._meta.db_table, row.get(str(column.column))) in born:
            lasting[str(column.column)] = "new"
    return lasting
