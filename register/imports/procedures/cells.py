"""Cells that say something of each level, and cells that list complications.

    Cement mL       T12 4.5; L1 3
    Leaks           T12 epidural (basivertebral vein); L1 none
    Complications   infection (15 Mar 2026, II)

Without a level a value counts for all levels of the row, as far as it can.
"""

import re
from datetime import date
from typing import Any, Final

from register.domain import vocabulary as v
from register.domain.levels import TREATABLE_CODES
from register.imports.cells import (
    CellRefused,
    Reader,
    Reading,
    a_date,
    one_of,
    parts,
    plain,
    reason_in,
)
from register.imports.dates import in_figures

# What a per-level cell is read as: (level, value or Absent), the level '' where none is named.
Told = tuple[tuple[str, Any], ...]
# A leak as a file gives it: place and route, each '' when not told.
Leak = tuple[str, str]
NONE_SEEN: Final = "none seen"  # looked for, nothing found

_LEVEL: Final = re.compile(r"([TL][0-9]{1,2})\s*[ :=]\s*(.+)", re.IGNORECASE)
_WITH_MORE: Final = re.compile(r"([^()]+?)\s*(?:\(([^()]*)\))?")
_NOTHING_SEEN: Final = ("none", "no", "none seen", "looked for, none seen")
_SEEN: Final = ("leak", "leak seen", "yes")
_place, _route = one_of(v.LEAK_PLACE), one_of(v.LEAK_ROUTE)
_kind, _grade = one_of(v.COMPLICATION), one_of(v.COMPLICATION_GRADE)


def by_level(read: Reader, *, several: bool = False) -> Reader:
    """One value for the row, or one for each level; `several` lets a level stand there again."""

    def read_levels(name: str, text: str, how: Reading) -> Told:
        found = tuple(_of_level(name, part, read, how) for part in parts(text))
        named = [level for level, _ in found]
        if "" in named and not (several or len(found) == 1):
            raise CellRefused(f"{name}: write each level with its own value, as in T12 …; L1 ….")
        if not several and len(set(named)) < len(named):
            raise CellRefused(f"{name}: a level stands there twice in “{text}”. Remove one.")
        return found

    return read_levels


def leak(name: str, text: str, how: Reading) -> str | Leak:
    """NONE_SEEN, or where cement went and by which route: epidural (basivertebral vein)."""
    if plain(text) in _NOTHING_SEEN:
        return NONE_SEEN
    if plain(text) in _SEEN:
        return "", ""
    place, route = _with_more(name, text, "a place (route)")
    return _place(name, place, how), _route(name, route, how) if route else ""


def complications(name: str, text: str, how: Reading) -> tuple[tuple[str, date, str], ...]:
    """Return (kind, day, grade or '') of each complication; () for "none"."""
    if plain(text) in ("none", "no"):
        return ()
    return tuple(_complication(name, part, how) for part in parts(text))


def _complication(name: str, text: str, how: Reading) -> tuple[str, date, str]:
    kind, more = _with_more(name, text, "a complication (day)")
    day, _, grade = more.partition(",")
    code = _kind(name, kind, how)
    if not day.strip() or in_figures(day.strip()):
        raise CellRefused(
            f"{name}: write the day of “{kind}” in brackets, the month as a word: "
            f"{kind} (15 Mar 2026)."
        )
    on = a_date(name, day.strip(), how)
    return code, on, _grade(name, grade.strip(), how) if grade.strip() else ""


def _of_level(name: str, text: str, read: Reader, how: Reading) -> tuple[str, Any]:
    found = _LEVEL.fullmatch(text)
    level = found[1].upper() if found else ""
    if found and level not in TREATABLE_CODES:
        raise CellRefused(f"{name}: “{level}” is not a level from T1 to L5.")
    value = found[2].strip() if found else text
    reason = reason_in(value)
    where = f"{name} of {level}" if level else name
    return level, read(where, value, how) if reason is None else reason


def _with_more(name: str, text: str, form: str) -> tuple[str, str]:
    found = _WITH_MORE.fullmatch(text)
    if found is None:
        raise CellRefused(f"{name}: write “{text}” as {form}.")
    return found[1].strip(), (found[2] or "").strip()
