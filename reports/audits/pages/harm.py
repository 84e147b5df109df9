"""Chapter: complications, and what their absence can and cannot rule out."""

from collections.abc import Callable

from reports.audits.document import Column, Line, Section, Table
from reports.audits.numbers.harm import Harm
from reports.audits.pages.text import (
    grouped_lines,
    in_full,
    itemised,
    limits,
    merged,
    of,
    sentence_case,
    times,
)
from reports.audits.results import Results
from reports.audits.spec import Clock, Spec
from reports.audits.values import Share
from reports.wording import INTERVAL, NONE, count, listed, percent

Three = tuple[Harm, Harm, Harm]
_NOTHING = ("0", NONE) * 3


def section(spec: Spec, results: Results) -> Section:
    """Print complications per procedure with intervals, and the limit where there were none."""
    three = results.three(lambda numbers: numbers.harm)
    return Section(
        id="complications",
        title="Complications",
        sentences=(harm_sentence(three[0]), none_sentence("the quarter", three[0])),
        tables=(_table(three),),
    )


def harm_sentence(one: Harm) -> str:
    """Say how many procedures had a complication of those that were asked about."""
    if not one.procedures:
        return "No procedure of the quarter is recorded."
    missing = (
        f" Not recorded whether anybody asked: {count(one.not_recorded, 'procedure')}."
        if one.not_recorded
        else ""
    )
    kinds = itemised([(entry.words, entry.share.events) for entry in one.seen_kinds])
    named = f" {sentence_case(kinds)}." if kinds else ""
    share = in_full(one.any, "procedures asked about")
    return f"A complication is recorded for {share}.{named}{missing}"


def none_sentence(period: str, one: Harm) -> str:
    """Say which complications did not occur, and how high their true rate could still be."""
    if one.none_limit is None:
        return f"Nobody was asked about complications in {period}."
    absent = listed(list(one.absent_kinds))
    if not absent:
        return f"Every kind of complication on the list was seen in {period}."
    return (
        f"Not seen in {period}, in {count(one.asked, 'procedure')}: {absent}. "
        f"Nought of {one.asked} still allows a true rate of up to "
        f"{percent(one.none_limit, one.asked)} for each (one-sided 95 % limit)."
    )


def _table(three: Three) -> Table:
    lines = [
        _shares("Any complication", three, lambda one: one.any, ""),
        *grouped_lines(
            "By kind",
            [
                _shares(words, three, lambda one, c=code: _kind(one, c))  # type: ignore[misc]
                for code, words in _kinds(three)
            ],
            _NOTHING,
        ),
        Line(("Not asked about or not recorded", *_plain(three, lambda o: o.not_recorded))),
        Line(("Upper limit of a kind that did not occur", *_none_limits(three))),
        *grouped_lines(
            "By grade, number of complications",
            [
                Line(
                    (words, *_plain(three, lambda o, c=code: times(o.by_grade, c))),  # type: ignore[misc]
                    "part",
                )
                for code, words in merged(*(one.by_grade for one in three))
            ],
            _NOTHING,
        ),
    ]
    return Table(
        id="complications",
        title="Complications as recorded up to the data cut-off",
        about=f"{Clock.DONE.words} Unit: procedures that were asked about.",
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
            "A procedure counts once for each kind. Grades I to V after Clavien and Dindo; "
            "IIIa and above needed an intervention.",
        ),
    )


def _kinds(three: Three) -> list[tuple[str, str]]:
    """Kinds that occurred in any of the three periods."""
    return list({e.code: e.words for one in three[::-1] for e in one.seen_kinds}.items())


def _kind(one: Harm, code: str) -> Share:
    return next(entry.share for entry in one.by_kind if entry.code == code)


def _shares(name: str, three: Three, share: Callable[[Harm], Share], kind: str = "part") -> Line:
    cells = [cell for one in three for cell in (of(share(one)), limits(share(one)))]
    return Line((name, *cells), kind)


def _plain(three: Three, number: Callable[[Harm], int]) -> list[str]:
    return [cell for one in three for cell in (str(number(one)), NONE)]


def _none_limits(three: Three) -> list[str]:
    cells = []
    for one in three:
        cells += [NONE if one.none_limit is None else percent(one.none_limit, one.asked), NONE]
    return cells
