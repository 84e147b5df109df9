"""Lists of earlier procedures as a kind of file."""

from typing import Final

from register.imports.procedures.columns import COLUMNS
from register.imports.procedures.rows import contradictions, row_of
from register.imports.reading import FileKind

PROCEDURES: Final = FileKind("procedures", "earlier procedure", COLUMNS, row_of, contradictions)
