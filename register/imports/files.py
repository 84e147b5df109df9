"""The files that go out: the empty one, and the refused rows with their reasons.

A spreadsheet runs a cell that begins like a formula, so such a cell gets an
apostrophe in front, which is taken off again when the file comes back. The mark at the beginning
tells a spreadsheet that the letters are UTF-8.
"""

import csv
import io
from collections.abc import Iterable, Sequence

from register.imports.decoding import UTF8_MARK
from register.imports.reading import FileKind, ReadFile
from register.imports.table import REASON, guarded
from register.imports.verdicts import LEFT_OUT, Verdict


def empty_file(kind: FileKind) -> bytes:
    """Return the head of a file of a kind, without rows."""
    return _written([[column.name for column in kind.columns]])


def refused_file(
    file: ReadFile,
    verdicts: Iterable[Verdict],
    *,
    told: Sequence[Sequence[object]] | None = None,
) -> bytes:
    """Return the refused rows as they came, the reasons in a column in front.

    `told` are row numbers with the reasons given when the file was confirmed;
    they go before what would be said today.
    """
    if told is None:
        refused = [(v.number, v.reasons) for v in verdicts if v.kind in LEFT_OUT]
    else:
        refused = [(int(str(number)), tuple(map(str, why))) for number, *why in told]
    cells = {line.number: line.cells for line in file.lines}
    rows = [[" ".join(why), *cells[number]] for number, why in refused]
    return _written([[REASON, *file.names], *rows])


def _written(rows: Iterable[Sequence[str]]) -> bytes:
    text = io.StringIO(newline="")
    csv.writer(text).writerows([guarded(cell) for cell in row] for row in rows)
    return UTF8_MARK + text.getvalue().encode()
