"""Theatre logs as a kind of file."""

from typing import Final

from register.imports.reading import FileKind
from register.imports.theatre_log.columns import COLUMNS
from register.imports.theatre_log.rows import contradictions, row_of

THEATRE_LOG: Final = FileKind(
    "theatre_log", "line of the theatre log", COLUMNS, row_of, contradictions
)
