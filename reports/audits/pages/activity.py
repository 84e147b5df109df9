"""Chapter: activity and case mix."""

from collections.abc import Callable, Sequence

from register.domain.days import day_words
from reports.audits import charts
from reports.audits.document import Line, Section, Table
from reports.audits.numbers.activity import Activity
from reports.audits.numbers.log import Logged
from reports.audits.pages.text import (
    drawn,
    in_full,
    left_out,
    limits,
    merged,
    middle,
    middle_limits,
    of,
    part,
    period_columns,
    times,
)
from reports.audits.results import Results
from reports.audits.spec import Clock, Spec
from reports.audits.values import Counted, Share
from reports.wording import INTERVAL, count

Three = tuple[Activity, Activity, Activity]


def section(spec: Spec, results: Results) -> Section:
    """Say what was done, to whom and how soon."""
    three = results.three(lambda numbers: numbers.activity)
    return Section(
        id="activity",
        title="Activity and case mix",
        sentences=_sentences(spec, three[0]),
        tables=(_procedures(spec, three), _patients(spec, three)),
        figures=drawn(charts.by_month(results.by_month)),
    )


def _sentences(spec: Spec, quarter: Activity) -> tuple[str, ...]:
    if not quarter.procedures:
        return ("No procedure of the quarter is recorded.", _log(quarter.log))
    window = spec.protocol.days("clock.window_days")
    sentences = [
        f"{count(quarter.procedures, 'procedure')} in the quarter, on "
        f"{count(quarter.patients, 'patient')} and {count(quarter.levels, 'level')}."
    ]
    if quarter.levels:
        sentences.append(
            f"Treated by day {window} after the fracture: "
            f"{in_full(quarter.in_window, 'levels with an onset known to the week')}. "
            f"{_without_onset(quarter)}"
        )
    if quarter.unsigned:
        sentences.append(
            f"{count(quarter.unsigned, 'procedure record')} of the quarter "
            f"{'is' if quarter.unsigned == 1 else 'are'} not signed yet."
        )
    if quarter.earlier:
        sentences.append(
            f"{count(quarter.earlier, 'procedure')} of the quarter "
            f"{'comes' if quarter.earlier == 1 else 'come'} from a list of earlier procedures. "
            "What such a list does not tell counts as not recorded. A patient without a date of "
            "death counts as alive, a contact whose scores were not sent in as not seen."
        )
    return (*sentences, _log(quarter.log))


def _log(log: Logged) -> str:
    """Say which days the theatre log covers and how much of it is in the register."""
    if not log.lines:
        return "No line of a theatre log is recorded for this quarter."
    days = f"{day_words(log.first_on)} to {day_words(log.last_on)}"
    others = f", {log.not_ours} of them not of this register" if log.not_ours else ""
    words = f"Theatre log of {days}: {count(log.lines, 'line')}{others}"
    if not log.in_register.total:
        return f"{words}."
    return f"{words}; found in the register: {in_full(log.in_register, 'lines')}."


def _without_onset(one: Activity) -> str:
    parts = left_out(
        [(one.onset_missing, "not recorded"), (one.onset_vague, "known to the month or year only")]
    )
    return f"Onsets left out: {parts}." if parts else "No onset is missing."


def _procedures(spec: Spec, three: Three) -> Table:
    lines = [
        _counts("Procedures", three, lambda one: str(one.procedures)),
        _counts("Patients", three, lambda one: str(one.patients)),
        _counts("Levels", three, lambda one: str(one.levels)),
        *_group("Technique", three, lambda one: one.by_technique, lambda one: one.procedures),
        *_group(
            "Levels in one procedure",
            three,
            lambda one: one.levels_each,
            lambda one: one.procedures,
        ),
        *_group("Region, per level", three, lambda one: one.by_region, lambda one: one.levels),
        *_group("Cause, per level", three, lambda one: one.by_cause, lambda one: one.levels),
    ]
    return Table(
        id="procedures",
        title="Procedures and levels",
        about=f"{Clock.DONE.words} Unit: procedures, or levels where it says so.",
        columns=period_columns(spec),
        lines=tuple(lines),
    )


def _patients(spec: Spec, three: Three) -> Table:
    window = spec.protocol.days("clock.window_days")
    lines = [
        *_group("Sex", three, lambda one: one.by_sex, lambda one: one.procedures),
        Line(("Age",), "group"),
        _counts("median (lowest to highest)", three, lambda one: middle(one.age, "years"), "part"),
        _counts("not recorded", three, lambda one: str(one.age_missing), "part"),
        Line(("Age of the fracture at the procedure, per level",), "group"),
        _counts(
            "median (lowest to highest)",
            three,
            lambda one: middle(one.fracture_age, "days"),
            "part",
        ),
        _counts(
            f"{INTERVAL} of the median",
            three,
            lambda one: middle_limits(one.fracture_age),
            "part",
        ),
        *_share_lines(f"treated by day {window}", three, lambda one: one.in_window),
        _counts("onset known to month or year only", three, lambda o: str(o.onset_vague), "part"),
        _counts("onset not recorded", three, lambda one: str(one.onset_missing), "part"),
    ]
    return Table(
        id="patients",
        title="Patients and the age of the fracture",
        about=f"{Clock.DONE.words} Unit: procedures, or levels where it says so.",
        columns=period_columns(spec),
        lines=tuple(lines),
    )


def _counts(name: str, three: Three, cell: Callable[[Activity], str], kind: str = "") -> Line:
    return Line((name, *(cell(one) for one in three)), kind)


def _share_lines(name: str, three: Three, share: Callable[[Activity], Share]) -> list[Line]:
    return [
        _counts(name, three, lambda one: of(share(one)), "part"),
        _counts(INTERVAL, three, lambda one: limits(share(one)), "part"),
    ]


def _group(
    name: str,
    three: Three,
    counts: Callable[[Activity], Sequence[Counted]],
    total: Callable[[Activity], int],
) -> list[Line]:
    entries = merged(*(counts(one) for one in three))
    rows = [
        Line((words, *(part(times(counts(one), code), total(one)) for one in three)), "part")
        for code, words in entries
    ]
    return [Line((name,), "group"), *rows] if rows else []
