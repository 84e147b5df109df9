"""What is printed: sentences, tables and figures, finished as text. Templates only place it."""

from dataclasses import dataclass

from reports.figures.description import Figure


@dataclass(frozen=True, slots=True)
class Sentence:
    """A statement that can be read alone: two or three words of lead, then the text."""

    lead: str
    text: str


@dataclass(frozen=True, slots=True)
class Column:
    """A column head; `figure` columns hold numbers and stand right."""

    head: str
    figure: bool = True


@dataclass(frozen=True, slots=True)
class Line:
    """One row of a table. kind: "" a row, "group" a heading over rows, "part" a row inside."""

    cells: tuple[str, ...]
    kind: str = ""


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell as a page places it; figures stand right."""

    text: str
    figure: bool


@dataclass(frozen=True, slots=True)
class PlacedLine:
    """One row as a page places it: its head, then its cells."""

    kind: str
    head: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Group:
    """Rows that belong together under one heading, "" for none; a page does not tear them."""

    head: str
    lines: tuple[PlacedLine, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table with its clock and the unit of its denominators."""

    id: str
    title: str
    about: str
    columns: tuple[Column, ...]
    lines: tuple[Line, ...]
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a row that does not fill the columns. Raises ValueError."""
        for line in self.lines:
            if len(line.cells) != (1 if line.kind == "group" else len(self.columns)):
                raise ValueError(f"{self.id}: {line.cells} does not fill the columns.")

    @property
    def groups(self) -> tuple[Group, ...]:
        """The rows as a page places them, in groups."""
        groups: list[tuple[str, list[PlacedLine]]] = []
        for line in self.lines:
            if line.kind == "group":
                groups.append((line.cells[0], []))
                continue
            if not groups or (line.kind == "" and groups[-1][0]):
                groups.append(("", []))
            groups[-1][1].append(self._placed(line))
        return tuple(Group(head, tuple(lines)) for head, lines in groups)

    def _placed(self, line: Line) -> PlacedLine:
        cells = zip(line.cells[1:], self.columns[1:], strict=True)
        return PlacedLine(
            line.kind, line.cells[0], tuple(Cell(text, column.figure) for text, column in cells)
        )


@dataclass(frozen=True, slots=True)
class Section:
    """One chapter."""

    id: str
    title: str
    sentences: tuple[str, ...]
    tables: tuple[Table, ...]
    figures: tuple[Figure, ...] = ()


@dataclass(frozen=True, slots=True)
class Document:
    """The whole audit, ready to be placed on a page."""

    title: str
    subtitle: str
    facts: tuple[tuple[str, str], ...]
    headline: tuple[Sentence, ...]
    key: Table
    sections: tuple[Section, ...]
