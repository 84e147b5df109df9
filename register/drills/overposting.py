"""Every column of every table added to every form: nothing of it may be saved."""

import json
from collections.abc import Callable
from typing import Any, Final

from django.apps import apps

from register.drills import _entries
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
# Of all forms (about 0.4 save): searches, questions and what needs a choice first save nothing.
LEAST: Final = 0.25
# What a form asks beside what stands in its boxes.
_ANSWERED: Final = {
    "review": {
        "mode": "telephone", "informant": "patient", "red_flag_check": "none",
        "all_absent": "declined",
    },
}  # fmt: skip
_FREE: Final = 900_000  # numbers that no other drill's entries have
# Differ between two saves of the same by nature, as does whatever ends in "_at".
_OF_THE_MOMENT: Final = {"id", "at", "key", "went_to", "transaction_id", "date_joined"}


def run(*, runs: int, seed: int, say: Callable[[str], None]) -> bool:
    """Send each form filled, or as it stands, then with all columns added; compare what is saved.

    A form that saves nothing shows nothing: every kind that is filled here has to save, and of
    all forms at least the share LEAST.
    """
    ready(say)
    clients = {role: client_of(user) for role, user in people().items()}
    forms = walk(clients)[1]
    accepted, saving = [], []
    with quiet():
        for number, found in enumerate(forms):
            typed = _typed(found, number)
            plain = _saved_by(clients[found.role], found, typed)
            laden = _saved_by(clients[found.role], found, typed | _extras(found))
            saving += [found.name] if plain else []
            if plain != laden:
                accepted.append(f"{found.name} ({found.role})")
    filled = {one.name for one in forms if _typed(one, 0)}
    idle = sorted(filled - set(saving))
    say(
        f"{len(forms)} forms, {len(saving)} of which save{f', but not {idle}' if idle else ''}: "
        f"{len(accepted)} took something that is not on them {accepted or ''}."
    )
    return not (accepted or idle) and len(saving) >= LEAST * len(forms)


def _typed(found: Found, number: int) -> dict[str, Any]:
    """Return what somebody types into a form for an entry; {} for a form that holds its own."""
    if found.name not in _entries.TYPED:
        return _ANSWERED.get(found.name, {})
    return _entries.typing_of(found.name, list(found.form.kinds), _FREE + number)


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
