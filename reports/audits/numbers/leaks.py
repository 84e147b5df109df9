"""Cement outside the bone, per level and per procedure, by route and by imaging. Clock: done."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from register.domain.vocabulary import (
    LEAK_CONSEQUENCE,
    LEAK_PLACE,
    LEAK_ROUTE,
    LEAK_SEEN_ON,
    Words,
)
from reports.audits.rows import LeakRow, LevelRow, Rows
from reports.audits.spec import Period
from reports.audits.values import Counted, Share, Shared, clustered_share, counted, grouped, share


@dataclass(frozen=True, slots=True)
class Leaks:
    """Leaks of a period.

    `looked_at` levels are those on which a leak was looked for; the others are
    `not_recorded`, never "no leak". Shares of levels have intervals that allow
    for several levels of one procedure. A procedure counts as looked at when
    one of its levels leaked or all of them were looked at.
    """

    levels: int
    looked_at: int
    not_recorded: int
    per_level: Share
    per_procedure: Share
    procedures_unclear: int
    by_imaging: tuple[Shared, ...]
    by_route: tuple[Shared, ...]
    by_place: tuple[Shared, ...]
    consequences: tuple[Counted, ...]
    leaks: int


@dataclass(frozen=True, slots=True)
class _Level:
    """One treated level with what was seen on it; `imaging` "" when that is not recorded."""

    procedure: str
    checked: bool
    imaging: str
    leaks: tuple[LeakRow, ...]

    def leaked(self, wanted: Callable[[LeakRow], bool] = lambda _: True) -> bool:
        return any(wanted(leak) for leak in self.leaks)


def leaks(rows: Rows, period: Period) -> Leaks:
    """Count the leaks of the procedures of a period."""
    keys = {row.key for row in rows.procedures if period.holds(row.performed_on)}
    seen = grouped(rows.leaks, lambda leak: leak.level)
    levels = [_level(row, seen[row.key]) for row in rows.levels if row.procedure in keys]
    looked = [level for level in levels if level.checked]
    found = [leak for level in levels for leak in level.leaks]
    clear = [own for own in grouped(levels, _owner).values() if _is_clear(own)]
    return Leaks(
        levels=len(levels),
        looked_at=len(looked),
        not_recorded=len(levels) - len(looked),
        per_level=_of_levels(looked, _Level.leaked),
        per_procedure=share(sum(any(o.leaked() for o in own) for own in clear), len(clear)),
        procedures_unclear=len(keys) - len(clear),
        by_imaging=_by_imaging(looked),
        by_route=_by(looked, LEAK_ROUTE, lambda leak: leak.route),
        by_place=_by(looked, LEAK_PLACE, lambda leak: leak.place),
        consequences=counted((leak.consequence for leak in found), LEAK_CONSEQUENCE),
        leaks=len(found),
    )


def _owner(level: _Level) -> str:
    return level.procedure


def _level(row: LevelRow, found: Iterable[LeakRow]) -> _Level:
    """A recorded leak proves that somebody looked, whatever the check box says."""
    own = tuple(found)
    if not own and row.leak_check == "leak":
        own = (LeakRow(f"{row.key}+", row.key, "", "", row.leak_checked_on, ""),)
    imaging = row.leak_checked_on or (own[0].seen_on if own else "")
    return _Level(row.procedure, bool(own) or row.leak_check == "no_leak", imaging, own)


def _is_clear(own: list[_Level]) -> bool:
    return any(level.leaked() for level in own) or all(level.checked for level in own)


def _by_imaging(looked: list[_Level]) -> tuple[Shared, ...]:
    groups = (*LEAK_SEEN_ON, ("", "not recorded"))
    found = ((code, words, [o for o in looked if o.imaging == code]) for code, words in groups)
    return tuple(
        Shared(code, words, _of_levels(own, _Level.leaked)) for code, words, own in found if own
    )


def _by(
    looked: list[_Level], vocabulary: Words, part: Callable[[LeakRow], str]
) -> tuple[Shared, ...]:
    """Levels with at least one leak of each kind; a kind that is not recorded when there is any."""
    groups = (*vocabulary, ("", "not recorded"))
    found = []
    for code, words in groups:

        def hit(level: _Level, code: str = code) -> bool:
            return level.leaked(lambda leak: part(leak) == code)

        if code or any(hit(level) for level in looked):
            found.append(Shared(code, words, _of_levels(looked, hit)))
    return tuple(found)


def _of_levels(levels: list[_Level], hit: Callable[[_Level], bool]) -> Share:
    clusters = grouped(levels, _owner).values()
    return clustered_share((sum(hit(one) for one in own), len(own)) for own in clusters)
