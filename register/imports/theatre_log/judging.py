"""What becomes of each line of a theatre log.

A line is known again by its reference, or by day, patient and procedure where either side
has none. What it says otherwise is weighed as in every file, with two limits: a reference
never passes to another patient, and what a person said about a line stands until that
person, or another, takes it back. No patient is made: the log is there to show who is missing.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final

from register.domain.days import NOT_RECORDED, day_words
from register.domain.nhs_number import formatted
from register.imports.reading import ReadFile, ReadLine
from register.imports.theatre_log.columns import NAMES
from register.imports.theatre_log.matching import LogLine, Match, RegisterSide, match_all
from register.imports.theatre_log.rows import WHO, LogRow, key_of, reference_of
from register.imports.verdicts import Addition, Edit, Kind, Verdict
from register.imports.weighing import Recorded, Weighed, weigh

MODEL: Final = "theatrelogentry"
# What leads to a procedure: a line is looked for again when one of these changes.
_LEADS: Final = ("performed_on", *WHO)
# What a person looked at before saying which procedure a line is, or that it is none.
_STANDS_ON: Final = (*_LEADS, "procedure_words", "procedure_code")


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownLine(Recorded):
    """A recorded line; `is_settled` when a person said what it is."""

    procedure_id: int | None = None
    is_settled: bool = False


@dataclass(slots=True)
class _Judged:
    """A row with the recorded line that it is, and what it does to that line."""

    line: ReadLine
    there: KnownLine | None = None
    weighed: Weighed = field(default_factory=Weighed)

    @property
    def to_match(self) -> LogLine | None:
        """What is to be looked for; None when the row does not touch whose or when it was."""
        row: LogRow = self.line.row
        if self.there is None:
            return _line(row.values, None)
        if self.there.is_settled or self.weighed.values.keys().isdisjoint(_LEADS):
            return None
        return _line(dict(self.there.values) | self.weighed.values, self.there.pk)


def judge(
    site_id: int, file: ReadFile, recorded: Iterable[KnownLine], register: RegisterSide
) -> tuple[Verdict, ...]:
    """Return a verdict for each row, in the order of the file."""
    told: dict[int, Verdict] = {}
    rows = _readable(file, told)
    judged = _compared(rows, _Known(recorded), told)
    wanted = {number: line for number, one in judged.items() if (line := one.to_match)}
    found = match_all(wanted, register)
    for number, one in judged.items():
        told[number] = _verdict(site_id, one, found.get(number))
    return tuple(told[line.number] for line in file.lines)


def _readable(file: ReadFile, told: dict[int, Verdict]) -> list[ReadLine]:
    """Return the rows to compare; those that cannot be read, quarrel or repeat are told."""
    quarrels = _quarrels(file.rows)
    earlier: dict[tuple[Any, ...], int] = {}
    rest = []
    for line in file.lines:
        if line.row is None:
            told[line.number] = Verdict(line, Kind.REFUSED, line.reasons)
            continue
        said = tuple(sorted((name, str(value)) for name, value in line.row.values.items()))
        if line.number in quarrels:
            told[line.number] = Verdict(line, Kind.CONFLICT, (quarrels[line.number],))
        elif said in earlier:
            words = f"The same as row {earlier[said]} of this file."
            told[line.number] = Verdict(line, Kind.SAME, (words,))
        else:
            earlier[said] = line.number
            rest.append(line)
    return rest


def _compared(
    lines: Sequence[ReadLine], known: "_Known", told: dict[int, Verdict]
) -> dict[int, _Judged]:
    """Weigh each row against the line it is; one that a person must decide is told.

    Rows with a reference choose first: without it, a row may be any line of that day.
    """
    judged: dict[int, _Judged] = {}
    for line in sorted(lines, key=lambda line: not line.row.reference):
        there = known.take(line.row)
        one = _Judged(line, there)
        if there is not None:
            one.weighed = weigh(there, line.row.values, names=NAMES, said=said)
            conflicts = _other_patient(line.row, there) or one.weighed.conflicts
            conflicts = conflicts or _settled(there, one.weighed.values)
            if conflicts:
                told[line.number] = Verdict(line, Kind.CONFLICT, tuple(conflicts))
                continue
        judged[line.number] = one
    return judged


def _verdict(site_id: int, one: _Judged, match: Match | None) -> Verdict:
    if one.there is None:
        assert match is not None
        values = {"site_id": site_id, **one.line.row.values, "procedure_id": match.procedure_id}
        return Verdict(
            one.line,
            Kind.NEW if match.patient_id is None else Kind.KNOWN,
            notes=(match.words,),
            patient_id=match.patient_id,
            additions=(Addition(MODEL, values),),
        )
    if not one.weighed.values:
        return Verdict(one.line, Kind.SAME)
    values, notes = dict(one.weighed.values), list(one.weighed.changes)
    if match is not None and match.procedure_id != one.there.procedure_id:
        values |= {"procedure_id": match.procedure_id, "settled_by_id": None}
        notes.append(match.words)
    edit = Edit(MODEL, one.there.pk, one.there.version, values)
    return Verdict(one.line, Kind.CHANGED, notes=tuple(notes), edits=(edit,))


class _Known:
    """The recorded lines, by everything by which a row may mean one; each is taken once."""

    def __init__(self, recorded: Iterable[KnownLine]) -> None:
        self._by_reference: dict[str, KnownLine] = {}
        self._by_key: dict[tuple[str, ...], list[KnownLine]] = defaultdict(list)
        self._taken: set[int] = set()
        for line in recorded:
            self._by_key[key_of(line.values)].append(line)
            if reference := reference_of(line.values):
                self._by_reference[reference] = line

    def take(self, row: LogRow) -> KnownLine | None:
        """Return the line that a row is, by its reference or else by day, patient and procedure.

        A row with a reference is never a line that has another one.
        """
        there = self._by_reference.get(row.reference) if row.reference else None
        alike = [there] if there else self._by_key[row.key]
        free = [
            line
            for line in alike
            if line.pk not in self._taken
            and (line is there or not (row.reference and reference_of(line.values)))
        ]
        self._taken |= {line.pk for line in free[:1]}
        return free[0] if free else None


def _other_patient(row: LogRow, there: KnownLine) -> list[str]:
    """Return why a reference cannot pass to another patient, or to one who may be another."""
    numbers = ("hospital_number", "nhs_number")
    given = {name: row.values[name] for name in numbers if row.values.get(name)}
    recorded = {name: there.values[name] for name in numbers if there.values[name]}
    differing = [
        f"{NAMES[name]}: the file says {said(name, value)}, recorded for this "
        f"reference is {said(name, recorded[name])}. Correct the number. If the log begins "
        "its numbers anew each year, put the year in front of the reference."
        for name, value in given.items()
        if name in recorded and str(value).casefold() != str(recorded[name]).casefold()
    ]
    if differing or given.keys() & recorded.keys():
        return differing
    return [
        f"The file gives {_numbers_said(given)} for this reference, and {_numbers_said(recorded)} "
        "is recorded: that may be another patient. Give the recorded number in the row, too."
    ]


def _numbers_said(numbers: Mapping[str, Any]) -> str:
    return " and ".join(f"{NAMES[name]} {said(name, value)}" for name, value in numbers.items())


def _settled(there: KnownLine, values: Mapping[str, Any]) -> list[str]:
    """Return why a line that a person settled is not changed under that person's hands."""
    names = [NAMES[name] for name in _STANDS_ON if name in values]
    if not (there.is_settled and names):
        return []
    what = "is a recorded procedure" if there.procedure_id else "is none of this register"
    return [
        f"The file changes {', '.join(names)}, and a person said that this line {what}. Take "
        "that back where the log is compared with the register, then send the row again."
    ]


def _quarrels(rows: Sequence[LogRow]) -> dict[int, str]:
    """Return rows of the file that are one line and say different things, with the words."""
    found: dict[int, str] = {}
    by_reference: dict[str, list[LogRow]] = defaultdict(list)
    by_key: dict[tuple[str, ...], list[LogRow]] = defaultdict(list)
    for row in rows:
        by_key[row.key].append(row)
        if row.reference:
            by_reference[row.reference].append(row)
    for group in by_reference.values():
        found |= _quarrel(group, "have the same reference and differ. Correct the wrong ones.")
    for group in by_key.values():
        if not all(row.reference for row in group):
            found |= _quarrel(
                group,
                "name the same day, patient and procedure and differ. Keep one of them, or give "
                "each its reference.",
            )
    return found


def _quarrel(group: Sequence[LogRow], words: str) -> dict[int, str]:
    if all(row.values == group[0].values for row in group):
        return {}
    numbers = ", ".join(str(row.number) for row in group)
    return {row.number: f"Rows {numbers} {words}" for row in group}


def _line(values: Mapping[str, Any], id: int | None) -> LogLine:
    who = {name: values[name] for name in WHO if values.get(name)}
    return LogLine(who, values["performed_on"], id)


def said(name: str, value: Any) -> str:
    """Return a value of the log as pages print it."""
    if isinstance(value, date):
        return day_words(value)
    if name == "nhs_number" and value:
        return formatted(value)
    return str(value) or NOT_RECORDED
