"""The lines of a preview, in words, dates with the month as a word. For every kind of file."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from register.domain.names import similar_names
from register.domain.nhs_number import formatted
from register.forms.dates import KnownDate
from register.imports.column import Column
from register.imports.reading import ReadFile, ReadLine, date_words, is_blank
from register.imports.verdicts import Kind, Verdict

# Mark and tone of each verdict, for the tag `state`.
_MARKS: Final = {
    Kind.NEW: ("full", "action"),
    Kind.KNOWN: ("half", "action"),
    Kind.CHANGED: ("half", "action"),
    Kind.SAME: ("open", "quiet"),
}
_LEFT_OUT: Final = ("triangle", "attention")
_NAMES: Final = ("family_name", "given_name")
_WHO: Final = ("date_of_birth", "hospital_number", "nhs_number")


@dataclass(frozen=True, slots=True)
class PreviewLine:
    """One row of the preview. `who` is '' when the row names nobody.

    `identity`, `facts` (what every row must have, and dates) and `more` are (name of the
    column, value) as they would be written; a value that could not be read is not there.
    """

    number: int
    kind: str
    words: str
    mark: str
    tone: str
    who: str
    identity: tuple[tuple[str, str], ...]
    facts: tuple[tuple[str, str], ...]
    more: tuple[tuple[str, str], ...]
    reasons: tuple[str, ...]
    notes: tuple[str, ...]
    patient_id: int | None
    is_similar: bool  # whether another row names somebody else with a similar name


def lines_of(file: ReadFile, verdicts: Iterable[Verdict]) -> list[PreviewLine]:
    """Return the lines of a preview in the order of the file."""
    verdicts = list(verdicts)
    told = {verdict.number: list(_told(file, verdict.line)) for verdict in verdicts}
    similar = _similar(told)
    return [_line(verdict, told[verdict.number], verdict.number in similar) for verdict in verdicts]


def _similar(told: Mapping[int, list[tuple[Column, str]]]) -> set[int]:
    """Return the numbers of rows whose names can be mistaken; one person's rows are one."""
    people: dict[tuple[str, ...], tuple[str, str]] = {}
    rows: dict[int, tuple[str, ...]] = {}
    for number, values in told.items():
        words = {column.field: text for column, text in values}
        family, given = (words.get(name, "") for name in _NAMES)
        if family:
            rows[number] = tuple(words.get(name, "") for name in (*_NAMES, *_WHO))
            people[rows[number]] = family, given
    alike = similar_names((who, *names) for who, names in people.items())
    return {number for number, who in rows.items() if who in alike}


def _line(verdict: Verdict, told: list[tuple[Column, str]], is_similar: bool) -> PreviewLine:
    mark, tone = _MARKS.get(verdict.kind, _LEFT_OUT)
    by_field = {column.field: words for column, words in told}
    return PreviewLine(
        number=verdict.number,
        kind=verdict.kind.value,
        words=verdict.kind.words,
        mark=mark,
        tone=tone,
        who=_who(by_field),
        identity=tuple((c.name, words) for c, words in told if c.field in _WHO),
        facts=tuple((c.name, words) for c, words, main in _rest(told) if main),
        more=tuple((c.name, words) for c, words, main in _rest(told) if not main),
        reasons=verdict.reasons,
        notes=verdict.notes,
        patient_id=verdict.patient_id,
        is_similar=is_similar,
    )


def _told(file: ReadFile, line: ReadLine) -> Iterator[tuple[Column, str]]:
    """Yield each column that could be read, with its value in words, in our order."""
    values = line.values or {}
    cells = {
        column: cell
        for column, cell in zip(file.head.places, line.cells, strict=False)
        if column is not None and not is_blank(cell)
    }
    for column in file.kind.columns:
        value = values.get(column.key)
        if value is not None and column in cells:
            yield column, _said(column, value, cells[column])


def _said(column: Column, value: Any, cell: str) -> str:
    """Return a value as pages print it: a date in words, anything else as the file says it."""
    if isinstance(value, date | KnownDate):
        return date_words(value)
    return formatted(value) if column.field == "nhs_number" and isinstance(value, str) else cell


def _rest(told: list[tuple[Column, str]]) -> Iterator[tuple[Column, str, bool]]:
    """Yield what does not say who it is, and whether it belongs in the first rank."""
    for column, words in told:
        if column.field not in (*_NAMES, *_WHO):
            yield column, words, column.needed or column.is_date


def _who(words: dict[str, str]) -> str:
    family, given = (words.get(name, "") for name in _NAMES)
    return ", ".join(part for part in (family.upper(), given) if part)
