"""A column of a file that is sent in: its name, how a cell is read, where the value goes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from dataclasses import field as made
from typing import Any, Final

from django.db import models

from register.domain import vocabulary as v
from register.forms.base import strict_field
from register.imports import cells
from register.imports.decoding import FileRefused
from register.imports.table import REASON, plain_name, repeated


@dataclass(frozen=True, slots=True)
class Column:
    """One column. `part` and `field` say where a value goes; `needed` cells are never blank.

    `may_be_absent`: the cell may hold one of the four reasons instead of a value.
    """

    name: str
    part: str
    field: str
    read: cells.Reader
    asks: str
    example: str = ""
    needed: bool = False
    may_be_absent: bool = False
    key: tuple[str, str] = made(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "key", (self.part, self.field))  # one for all lines of a file

    @property
    def plain(self) -> str:
        """The name as it is compared with the head of a file."""
        return plain_name(self.name)

    @property
    def is_date(self) -> bool:
        """Whether its values are days."""
        return self.read in cells.OF_DATES


def taken(model: type[models.Model], field: str, name: str, asks: str, **more: Any) -> Column:
    """Return the column of a model's field, read by the field's kind and limits."""
    column = model._meta.get_field(field)
    part = model._meta.model_name or ""
    if "read" not in more:
        more["read"] = _reader(column, name)
    return Column(
        name, part, field, asks=asks,
        may_be_absent=field in getattr(model, "MAY_BE_ABSENT", ()), **more,
    )  # fmt: skip


def _reader(column: Any, name: str) -> cells.Reader:
    match column:
        case models.BooleanField():
            return cells.yes_or_no
        case models.IntegerField() | models.DecimalField():
            field = strict_field(column, label=name)
            assert field is not None
            return cells.number(field)
        case models.DateField():
            return cells.a_date
        case models.CharField() if column.choices:
            return cells.one_of(tuple((str(code), str(said)) for code, said in column.choices))
        case models.CharField():
            return cells.words(column.max_length or 200)
    raise TypeError(f"{name}: say how to read it.")


def answers(vocabulary: v.Words) -> str:
    return "One of: " + "; ".join(words for _, words in vocabulary) + "."


def some(vocabulary: v.Words) -> str:
    return "Any of these, with a semicolon between: " + "; ".join(w for _, w in vocabulary) + "."


DAY: Final = "04 Mar 2027, or 2027-03-04, or in figures in the order you declare."
YES_NO: Final = "Yes or no."


@dataclass(frozen=True, slots=True)
class Head:
    """The head of one file: the column at each place (None is not read), and what is not read."""

    places: tuple[Column | None, ...]
    unknown: tuple[str, ...]
    not_given: tuple[str, ...]


class ColumnsUnclear(FileRefused):
    """The columns of the file cannot be told from its head; a person says what they hold."""


def head_of(
    names: Sequence[str], columns: Sequence[Column], mapping: Mapping[str, str] | None = None
) -> Head:
    """Match the head of a file with the columns of its kind, by name or as a person said.

    `mapping` maps each label of `labels_of` to the name of a column, '' for one that is
    not read. Raises ColumnsUnclear when a needed column is missing, one stands twice, or
    the mapping belongs to another head.
    """
    labels = labels_of(names)
    if mapping is None:
        said = list(names)
    else:
        said = [mapping.get(label, "") for label in labels]
        if set(mapping) != {label for label in labels if label != REASON}:
            raise ColumnsUnclear("The columns are not those that were chosen. Choose them again.")
    by_name = {column.plain: column for column in columns}
    plain = [plain_name(name) for name in said]
    if twice := [name for name in repeated(plain) if name in by_name]:
        doubled = ", ".join(by_name[name].name for name in twice)
        raise ColumnsUnclear(f"A column stands twice: {doubled}. Choose one of the two.")
    if missing := [c.name for c in columns if c.needed and c.plain not in plain]:
        raise ColumnsUnclear(_missing(missing))
    known = by_name.keys() | {plain_name(REASON)}
    unknown = [
        label
        for label, name, here in zip(labels, names, plain, strict=True)
        if name and here not in known and label != REASON
    ]
    return Head(
        places=tuple(by_name.get(name) for name in plain),
        unknown=tuple(unknown),
        not_given=tuple(c.name for c in columns if c.plain not in plain),
    )


def labels_of(names: Sequence[str]) -> tuple[str, ...]:
    """Return the names of a head, each once: with the letter of its place where that is needed."""
    plain = [plain_name(name) for name in names]
    labels = []
    for place, name in enumerate(names):
        if plain[place] == plain_name(REASON):
            labels.append(REASON)
        elif not name or plain.count(plain[place]) > 1:
            labels.append(f"{name or 'no name'} (column {letter_of(place)})")
        else:
            labels.append(name)
    return tuple(labels)


def letter_of(place: int) -> str:
    """Return the letters by which a spreadsheet names the column at a place, 0 for A."""
    more, here = divmod(place, 26)
    return (letter_of(more - 1) if more else "") + chr(ord("A") + here)


def _missing(names: Sequence[str]) -> str:
    if len(names) == 1:
        return f"The column “{names[0]}” is missing. Say which column of the file holds it."
    return f"These columns are missing: {', '.join(names)}. Say which columns hold them."
