"""Files of follow-up scores as a kind of file."""

from typing import Final

from register.imports.reading import FileKind
from register.imports.scores.columns import COLUMNS
from register.imports.scores.rows import contradictions, row_of

SCORES: Final = FileKind("scores", "follow-up contact", COLUMNS, row_of, contradictions)
