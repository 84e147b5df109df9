"""Changes told in sentences: what was changed from what to what, by whom, and why."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any, Final

from register.domain.days import NOT_RECORDED
from register.domain.vocabulary import ROLE
from register.history import act_and_reason
from register.history.kinds import FieldWords, Kind, listed, lower_first, moment_words, upper_first
from register.history.names import Names
from register.history.reading import Change

# An entry with more records than this is told by counts first.
MOST_LINES: Final = 6
_ROLES: Final = dict(ROLE)
_DONE: Final = ("entered", "changed", "set aside", "brought back", "removed")

# Says of a change what it amends ("signed", "held", or blank for nothing that was closed), and
# the reason that was given for that.
Amends = Callable[[Kind, Change], tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Line:
    """One record in one save. `values` are what a new record was entered with."""

    kind: Kind
    key: int
    title: str
    done: str
    parts: tuple[str, ...]
    values: tuple[tuple[str, str], ...] = ()
    because: str = ""
    amends: str = ""

    @property
    def words(self) -> str:
        """What happened to the record: "contact at 6 weeks: pain now changed from 7 to 5"."""
        if self.done == "changed":
            return f"{self.title}: {'; '.join(self.parts)}"
        return f"{self.title} {self.done}"


@dataclass(frozen=True, slots=True)
class Entry:
    """What one person saved at once, the newest first. `note` is the act, or the reason given."""

    at: datetime
    who: str
    note: str
    lines: tuple[Line, ...]

    @property
    def when(self) -> str:
        return moment_words(self.at)

    @property
    def amends(self) -> str:
        """What closed thing was changed: "signed" for a procedure, "held" for a contact."""
        return max((line.amends for line in self.lines), default="")

    @property
    def because(self) -> str:
        """The reason that was asked for; blank where none is."""
        reasons = dict.fromkeys(line.because for line in self.lines if line.because)
        return "; ".join(reasons)

    @property
    def act(self) -> str:
        """The note, unless the sentence says it already as the reason."""
        return "" if self.because and self.note == upper_first(self.because) else self.note

    @property
    def is_long(self) -> bool:
        return len(self.lines) > MOST_LINES

    @property
    def sentence(self) -> str:
        """The whole entry in one sentence, without its moment."""
        what = self.counted if len(self.lines) > 1 else self.lines[0].words
        reason = f", because {lower_first(self.because).rstrip('.')}" if self.because else ""
        return f"{what} by {self.who}{reason}."

    @property
    def counted(self) -> str:
        """How many records of each kind: "1 referral and 2 fractures entered"."""
        told = []
        for done in _DONE:
            kinds = [line.kind for line in self.lines if line.done == done]
            counts = {kind.code: sum(k.code == kind.code for k in kinds) for kind in kinds}
            words = {kind.code: kind for kind in kinds}
            if counts:
                told.append(f"{listed(words[c].counted(n) for c, n in counts.items())} {done}")
        return "; ".join(told)


def entries_of(
    changes: Iterable[Change],
    kinds: Mapping[str, Kind],
    names: Names,
    roles: Mapping[int, str],
    amended: Amends,
) -> list[Entry]:
    """Return the changes, given newest first, as entries: one for each person and save.

    `kinds` are by table, `roles` by number of the person.
    """
    entries = []
    for _, group in groupby(changes, key=lambda change: (change.transaction, change.actor)):
        saved = list(group)[::-1]
        lines = [_line(change, kinds[change.table], names, amended) for change in saved]
        who = who_words(saved[0], names, roles)
        entries.append(Entry(saved[-1].at, who, _note(saved), tuple(_merged(lines))))
    return entries


def who_words(change: Change, names: Names, roles: Mapping[int, str]) -> str:
    """Return who made a change: "the specialist nurse Ann Example", "the job “reminders”"."""
    if change.actor_id is None:
        return f"the job “{change.actor}”"
    person = names.person(change.actor_id)
    role = _ROLES.get(roles.get(change.actor_id, ""), "")
    name = str(person) if person else change.actor
    return f"the {role} {name}" if role else name


def _note(saved: list[Change]) -> str:
    """What was being done: the first reason of a save names the act as a whole."""
    stored = next((change.reason for change in saved if change.reason), "")
    return upper_first(act_and_reason(stored)[0])


def _line(change: Change, kind: Kind, names: Names, amended: Amends) -> Line:
    row, done = change.row, _done(change)
    amends, because = amended(kind, change)
    because = because or act_and_reason(change.reason)[1]
    if done == "set aside":
        because = row["void_reason"]
    if done == "brought back":
        because = change.reason
    return Line(
        kind=kind,
        key=int(change.key),
        title=kind.title(row, names),
        done=done,
        parts=tuple(_differences(change, kind, names)) if done == "changed" else (),
        values=told_values(kind, row, names) if done == "entered" else (),
        because=because,
        amends=amends,
    )


def _done(change: Change) -> str:
    if change.old is None:
        return "entered"
    if change.new is None:
        return "removed"
    before, after = change.old.get("voided_at"), change.new.get("voided_at")
    if not before and after:
        return "set aside"
    return "brought back" if before and not after else "changed"


def told_values(kind: Kind, row: Mapping[str, Any], names: Names) -> tuple[tuple[str, str], ...]:
    """Return each field that has a value or a reason for its absence, in words.

    What it hangs on is left out: the title says it, or the page is about it. An unlikely
    value stands with the reason that was given why it is right.
    """
    above = kind.parents[0] if kind.parents else "patient"
    unusual = row.get("unusual") or {}
    return tuple(
        (told.label, told.said(row, names) + _confirmed(unusual.get(told.name, "")))
        for told in kind.fields_for(row)
        if told.is_told(row) and told.name != above
    )


def _confirmed(why: str) -> str:
    return f" (confirmed as right: “{why}”)" if why else ""


def _differences(change: Change, kind: Kind, names: Names) -> Iterable[str]:
    """Yield each changed field; a change of nothing that is told is said so."""
    old, new = change.old or {}, change.new or {}
    found = False
    for told in kind.fields_for(new):
        before, after = told.said(old, names), told.said(new, names)
        if before != after:
            found = True
            yield f"{told.label} {_changed(before, after)}"
        if why := _unusual(told, old, new):
            found = True
            yield why
    if not found:
        yield "saved again without a change"


def _changed(before: str, after: str) -> str:
    return f"entered as {after}" if before == NOT_RECORDED else f"changed from {before} to {after}"


def _unusual(told: FieldWords, old: Mapping[str, Any], new: Mapping[str, Any]) -> str:
    """Return the reason that was given why an unlikely value is right, when it is new."""
    before, after = ((row.get("unusual") or {}).get(told.name, "") for row in (old, new))
    return f"{told.label} confirmed as right: “{after}”" if after and after != before else ""


def _merged(lines: list[Line]) -> Iterable[Line]:
    """Put several changes of one record in one save together; a new record's later ones too."""
    by_record: dict[tuple[str, int, str], Line] = {}
    for line in lines:
        where = (line.kind.code, line.key, line.done)
        there = by_record.get(where)
        if there is None:
            by_record[where] = line
        elif line.parts:
            by_record[where] = Line(
                line.kind, line.key, line.title, line.done, (*there.parts, *line.parts),
                because=line.because, amends=line.amends or there.amends,
            )  # fmt: skip
    return by_record.values()
