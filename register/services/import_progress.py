"""How far the writing of a file has come, for everybody else to read while it goes on.

What a transaction writes is seen by nobody until it ends, so the progress is told in
the name of the connection, which the database shows to all connections of the same
role at once. It needs no table and is gone with the connection.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from django.db import connection

from register.models import FileImport
from register.services.import_writing import Say

_NAME: Final = "register import {}: {} of {}"


@contextmanager
def progress_told(kept: FileImport, say: Say | None = None) -> Iterator[Say]:
    """Give the writer somebody to tell; the connection has its usual name again afterwards."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_setting('application_name')")
        usual = cursor.fetchone()[0]

    def tell(done: int, total: int) -> None:
        _rename(_NAME.format(kept.pk, done, total))
        if say and total:
            say(done, total)

    try:
        yield tell
    finally:
        if connection.is_usable():
            _rename(usual)


def _rename(name: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT set_config('application_name', %s, false)", [name])
