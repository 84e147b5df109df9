"""Chapter: cement outside the bone."""

from collections.abc import Callable, Sequence

from reports.audits import charts
from reports.audits.document import Column, Line, Section, Table
from reports.audits.numbers.leaks import Leaks
from reports.audits.pages.text import (
    drawn,
    grouped_lines,
    in_full,
    itemised,
    limits,
    merged,
    of,
    times,
)
from reports.audits.results import Results
from reports.audits.spec import Clock, Spec
from reports.audits.values import Share, Shared
from reports.wording import INTERVAL, NONE, count

Three = tuple[Leaks, Leaks, Leaks]
_NOTHING = ("0", NONE) * 3
IMAGING = (
    "CT finds far more leaks than film or fluoroscopy; shares by different imaging are not "
    "comparable with each other or with other hospitals."
)


def section(spec: Spec, results: Results) -> Section:
    """Print leaks per procedure and per level, by imaging, route and place."""
    three = results.three(lambda numbers: numbers.leaks)
    return Section(
        id="leaks",
        title="Cement outside the bone",
        sentences=(leak_sentence(three[0]), _consequences(three[0]), IMAGING),
        tables=(_table(three),),
        figures=drawn(charts.leaks(three[1], three[2])),
    )


def leak_sentence(one: Leaks) -> str:
    """Say how many procedures leaked of those looked at, and how many were not."""
    if not one.levels:
        return "No level was treated in the quarter."
    missing = (
        f" Not recorded whether anybody looked: {one.not_recorded} of {one.levels} levels."
        if one.not_recorded
        else ""
    )
    return (
        "Cement was seen outside the bone in "
        f"{in_full(one.per_procedure, 'procedures looked at')} and at "
        f"{in_full(one.per_level, 'levels')}.{missing}"
    )


def _consequences(one: Leaks) -> str:
    if not one.leaks:
        return "No leak was recorded in the quarter."
    parts = itemised([(entry.words, entry.n) for entry in one.consequences])
    return f"Consequences of the {count(one.leaks, 'leak')} of the quarter: {parts}."


def _table(three: Three) -> Table:
    lines = [
        _line("Procedures with a leak, of those looked at", three, lambda o: o.per_procedure, ""),
        _plain("procedures not recorded", three, lambda o: o.procedures_unclear),
        _line("Levels with a leak, of those looked at", three, lambda o: o.per_level, ""),
        _plain("levels not recorded", three, lambda o: o.not_recorded),
        *_group("Levels with a leak, by the imaging used", three, lambda o: o.by_imaging),
        *_group("By route, of all levels looked at", three, lambda o: o.by_route),
        *_group("By place, of all levels looked at", three, lambda o: o.by_place),
        *grouped_lines(
            "Consequences, number of leaks",
            [
                _plain(words, three, lambda o, c=code: times(o.consequences, c))  # type: ignore[misc]
                for code, words in merged(*(one.consequences for one in three))
            ],
            _NOTHING,
        ),
    ]
    return Table(
        id="leaks",
        title="Leaks",
        about=f"{Clock.DONE.words} Unit: procedures, levels or leaks, as each line says.",
        columns=(
            Column("", figure=False),
            Column("Quarter"),
            Column(INTERVAL),
            Column("Twelve months"),
            Column(INTERVAL),
            Column("Since start"),
            Column(INTERVAL),
        ),
        lines=tuple(lines),
        notes=(
            "A level may leak by several routes and to several places. Intervals of levels allow "
            "for several levels in one procedure.",
        ),
    )


def _line(name: str, three: Three, share: Callable[[Leaks], Share], kind: str = "part") -> Line:
    cells = [cell for one in three for cell in (of(share(one)), limits(share(one)))]
    return Line((name, *cells), kind)


def _plain(name: str, three: Three, number: Callable[[Leaks], int]) -> Line:
    return Line((name, *(cell for one in three for cell in (str(number(one)), NONE))), "part")


def _group(name: str, three: Three, entries: Callable[[Leaks], Sequence[Shared]]) -> list[Line]:
    """Kinds that occurred in any of the three periods."""
    known = {e.code: e.words for one in three[::-1] for e in entries(one) if e.share.events}
    rows = [
        _line(words, three, lambda o, c=code: _share(entries(o), c))  # type: ignore[misc]
        for code, words in known.items()
    ]
    return grouped_lines(name, rows, _NOTHING)


def _share(entries: Sequence[Shared], code: str) -> Share:
    found = [entry.share for entry in entries if entry.code == code]
    return found[0] if found else Share(0, 0, None, None)
