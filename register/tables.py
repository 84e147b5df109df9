"""A table of figures for components/data_table.html: what a chart shows, as numbers."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Column:
    """A column's head. `figures` aligns its cells to the right."""

    name: str
    unit: str = ""
    figures: bool = False


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell; never empty, a missing value says why it is missing."""

    words: str
    figures: bool = False
    is_head: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """A whole table."""

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    note: str = ""
    empty_words: str = "Nothing recorded."

    @classmethod
    def of(
        cls,
        caption: str,
        columns: Sequence[Column],
        rows: Iterable[Sequence[object]],
        *,
        note: str = "",
        empty_words: str = "Nothing recorded.",
    ) -> "Table":
        """Return a table from plain values; the first of each row is its head.

        Raises ValueError for a row of the wrong length or an empty cell.
        """
        made = tuple(_row(columns, row) for row in rows)
        return cls(caption, tuple(columns), made, note, empty_words)


def _row(columns: Sequence[Column], values: Sequence[object]) -> tuple[Cell, ...]:
    if any(value is None or value == "" for value in values):
        raise ValueError(f"An empty cell in {list(values)!r}; write why it is empty.")
    return tuple(
        Cell(str(value), column.figures, is_head=place == 0)
        for place, (column, value) in enumerate(zip(columns, values, strict=True))
    )
