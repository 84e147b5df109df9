"""Who put a value where it stands: a person, or a file that was sent in.

The history knows: each change carries its reason, and what a confirmed file writes
has a reason of its own form.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any, Final

from django.db import connection, models

from register.history.reading import exact
from register.models import FileImport

IMPORTED: Final = "Imported with file "
UNDONE: Final = "Import undone: file "
_BY_FILE: Final = (f"{IMPORTED}%", f"{UNDONE}%")
_TOUCHED: Final = """
SELECT DISTINCT row_key FROM audit.change_log
WHERE table_name = %s AND row_key = ANY(%s) AND NOT reason LIKE ANY(%s)
"""
_MADE: Final = """
SELECT reason FROM audit.change_log
WHERE table_name = %s AND row_key = %s AND operation = 'INSERT' ORDER BY id LIMIT 1
"""
_HISTORY: Final = """
SELECT row_key, reason LIKE ANY(%s), old_row, new_row FROM audit.change_log
WHERE table_name = %s AND row_key = ANY(%s) ORDER BY id
"""


def fields_by_hand(model: type[models.Model], keys: Iterable[int]) -> Mapping[int, frozenset[str]]:
    """Return the fields of each row that a person filled, changed or emptied, and no file since.

    Two queries however many rows there are. Rows that only files wrote are left out.
    """
    table, wanted = model._meta.db_table, [str(key) for key in keys]
    if not wanted:
        return {}
    found: dict[int, set[str]] = defaultdict(set)
    with connection.cursor() as cursor:
        cursor.execute(_TOUCHED, [table, wanted, list(_BY_FILE)])
        touched = [key for (key,) in cursor.fetchall()]
        cursor.execute(_HISTORY, [list(_BY_FILE), table, touched])
        for key, by_file, old, new in cursor.fetchall():
            names = _fields_set(exact(old), exact(new) or {})
            if by_file:
                found[int(key)] -= names
            else:
                found[int(key)] |= names
    return {key: frozenset(names) for key, names in found.items()}


def file_that_brought(record: models.Model) -> FileImport | None:
    """Return the file that made a record, without its bytes; None when a person made it."""
    with connection.cursor() as cursor:
        cursor.execute(_MADE, [record._meta.db_table, str(record.pk)])
        [reason] = cursor.fetchone() or [""]
    number = reason.removeprefix(IMPORTED)
    if number == reason or not number.isdecimal():
        return None
    return FileImport.objects.defer("content").select_related("confirmed_by").get(pk=number)


def _fields_set(old: dict[str, Any] | None, new: dict[str, Any]) -> set[str]:
    """Return the fields that one change filled, changed or emptied, by value or by reason."""
    reasons, before = new.get("absent") or {}, (old or {}).get("absent") or {}
    names = {n for n in reasons.keys() | before.keys() if reasons.get(n) != before.get(n)}
    if old is None:
        return names | {name for name, value in new.items() if value not in (None, "", [])}
    return names | {name for name, value in new.items() if value != old.get(name)}
