"""A column of a file that is sent in: its name, how a cell is read, where the value goes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
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

    @property
    def plain(self) -> str:
        """The name as it is compared with the head of a file."""
        return plain_name(self.name)


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


def head_of(names: Sequence[str], columns: Sequence[Column]) -> Head:
    """Match the head of a file with the columns of its kind.

    Raises FileRefused when a needed column is missing or a known one stands twice.
    """
    by_name = {column.plain: column for column in columns}
    plain = [plain_name(name) for name in names]
    if twice := [name for name in repeated(plain) if name in by_name]:
        doubled = ", ".join(by_name[name].name for name in twice)
        raise FileRefused(f"A column stands twice: {doubled}. Remove one of the two.")
    missing = [c.name for c in columns if c.needed and c.plain not in plain]
    known = by_name.keys() | {plain_name(REASON)}
    unknown = [name for name in names if name and plain_name(name) not in known]
    if missing:
        raise FileRefused(f"{_missing(missing)} {_not_known(unknown)}".strip())
    return Head(
        places=tuple(by_name.get(name) for name in plain),
        unknown=tuple(_unknown(name, plain, by_name) for name in unknown),
        not_given=tuple(c.name for c in columns if c.plain not in plain),
    )


def _missing(names: Sequence[str]) -> str:
    if len(names) == 1:
        return f"The column “{names[0]}” is missing. Add it, spelt like this."
    return f"These columns are missing: {', '.join(names)}. Add them, spelt like this."


def _not_known(names: Sequence[str]) -> str:
    return f"Not known here: {', '.join(names)}." if names else ""


def _unknown(name: str, given: Sequence[str], by_name: Mapping[str, Column]) -> str:
    """Return the unknown name, with the column that may have been meant."""
    free = [plain for plain in by_name if plain not in given]
    near = get_close_matches(plain_name(name), free, n=1, cutoff=0.75)
    return f"{name} (perhaps “{by_name[near[0]].name}” is meant)" if near else name
