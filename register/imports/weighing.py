"""What a file may do to a recorded row, value by value. One rule for every kind of file.

Given is what the file says of a field, recorded what the register holds.

| given | recorded | what happens |
|---|---|---|
| blank | anything | nothing: a blank cell never overwrites |
| a reason for no value | a value | nothing, told in a note: a reason never overwrites a value |
| the same | the same | nothing |
| a value or reason | nothing | filled |
| another value or reason | put there by an earlier file | changed |
| anything different | put there, or taken out, by a person | conflict: a person decides |

Names, birth, sex and the numbers of a person are not weighed at all: no file changes them.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from register.domain.vocabulary import ABSENT, words_for

BLANK: Final[tuple[Any, ...]] = (None, "", [])
Said = Callable[[str, Any], str]  # field, value -> as pages print it


@dataclass(frozen=True, slots=True)
class Recorded:
    """One row of the register as a file meets it.

    `by_hand` are the fields whose present content, be it a blank, was put there by a
    person after, or without, a file.
    """

    model: str
    pk: int
    version: int
    values: Mapping[str, Any]
    by_hand: frozenset[str] = frozenset()

    def reason_for(self, name: str) -> str:
        """The recorded reason why a field is empty; '' without one."""
        return str(self.values.get("absent", {}).get(name, ""))


@dataclass(slots=True)
class Weighed:
    """What a file does to one row: new values, told changes, what is kept, what contradicts."""

    values: dict[str, Any] = field(default_factory=dict)
    changes: list[str] = field(default_factory=list)
    kept: list[str] = field(default_factory=list)
    conflicts: list[str] = field(default_factory=list)


def weigh(
    row: Recorded, given: Mapping[str, Any], *, names: Mapping[str, str], said: Said
) -> Weighed:
    """Weigh what a file gives against a recorded row.

    `given` maps fields to values, and "absent" to {field: reason}. `names` are the words
    for the fields, `said` the words for a value.
    """
    found = Weighed()
    absent = dict(row.values.get("absent", {}))
    for name, value in given.items():
        if name != "absent" and not _same(value, row.values[name]):
            _weigh_value(row, name, value, names[name], said, found)
    for name, reason in given.get("absent", {}).items():
        _weigh_reason(row, name, reason, names[name], said, found)
    if dropped := [name for name in found.values if name in absent]:
        found.values["absent"] = _without(found.values.get("absent", absent), dropped)
    return found


def _weigh_value(
    row: Recorded, name: str, value: Any, words: str, said: Said, found: Weighed
) -> None:
    before, now = _shown(row, name, said), said(name, value)
    if name in row.by_hand:
        found.conflicts.append(f"{words}: the file says {now}, {_by_hand(row, name, before)}.")
        return
    found.values[name] = value
    found.changes.append(f"{words}: {before} → {now}")


def _weigh_reason(
    row: Recorded, name: str, reason: str, words: str, said: Said, found: Weighed
) -> None:
    recorded, before = row.reason_for(name), _shown(row, name, said)
    if recorded == reason:
        return
    now = words_for(ABSENT, reason)
    if row.values[name] not in BLANK:
        found.kept.append(f"{words}: the file says “{now}”; {before} is kept.")
    elif name in row.by_hand:
        found.conflicts.append(f"{words}: the file says “{now}”, {_by_hand(row, name, before)}.")
    else:
        reasons = found.values.get("absent", row.values.get("absent", {}))
        found.values["absent"] = {**reasons, name: reason}
        found.changes.append(f"{words}: {before} → {now}")


def _by_hand(row: Recorded, name: str, before: str) -> str:
    if row.values[name] in BLANK and not row.reason_for(name):
        return "and a person took out what was recorded"
    return f"a person recorded {before}"


def _shown(row: Recorded, name: str, said: Said) -> str:
    """Return what is recorded, or the reason why nothing is, in words."""
    reason = row.reason_for(name)
    if row.values[name] in BLANK and reason:
        return words_for(ABSENT, reason)
    return said(name, row.values[name])


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, list) and isinstance(other, list):
        return set(one) == set(other)
    return bool(one == other)


def _without(reasons: Mapping[str, str], names: list[str]) -> dict[str, str]:
    return {name: reason for name, reason in reasons.items() if name not in names}
