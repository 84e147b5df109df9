"""The first page: what a reader must know when he reads nothing else. Numbers only, no praise."""

from collections.abc import Callable

from reports.audits.document import Column, Line, Sentence, Table
from reports.audits.numbers.pain import PainChange
from reports.audits.pages import contacts, harm, leaks, pain
from reports.audits.pages.text import change, difference, in_full, of, sentence_case
from reports.audits.results import Numbers, Results
from reports.audits.spec import Clock, Spec
from reports.audits.values import FEWEST_FOR_MEAN, Share
from reports.wording import MINUS, NONE, count


def headline(spec: Spec, results: Results) -> tuple[Sentence, ...]:
    """Return the sentences of the first page."""
    quarter = results.quarter
    return (
        Sentence("Activity", _activity(results)),
        Sentence("In time", _in_time(spec, quarter)),
        Sentence("Follow-up", contacts.seen_sentence(quarter.all_contacts)),
        *(Sentence(f"Pain, {one.title}", _pain(spec, one)) for one in quarter.pain),
        Sentence("Leaks", leaks.leak_sentence(quarter.leaks)),
        Sentence("Harm", harm.harm_sentence(quarter.harm)),
        Sentence("Height", _height(spec, results)),
        Sentence("With care", f"{pain.NO_CONTROL} {leaks.IMAGING}"),
    )


def key_table(spec: Spec, results: Results) -> Table:
    """Return the figures of the first page: the quarter beside the twelve months."""
    rows = [
        _count("Procedures", Clock.DONE, results, lambda n: str(n.activity.procedures)),
        _count("Levels treated", Clock.DONE, results, lambda n: str(n.activity.levels)),
        _share(
            f"Levels treated by day {spec.protocol.days('clock.window_days')} after the fracture",
            Clock.DONE,
            results,
            lambda n: n.activity.in_window,
        ),
        _count(
            "Contacts seen in their window, of those due and alive",
            Clock.DUE,
            results,
            lambda n: of(n.all_contacts.seen),
        ),
        *(line for place in range(len(spec.contacts)) for line in _pain_rows(spec, results, place)),
        _share("Procedures with a leak", Clock.DONE, results, lambda n: n.leaks.per_procedure),
        _share("Procedures with a complication", Clock.DONE, results, lambda n: n.harm.any),
    ]
    return Table(
        id="key-figures",
        title="Key figures",
        about="Each with its own denominator; changes are means with their interval.",
        columns=(
            Column("", figure=False),
            Column("clock", figure=False),
            Column("Quarter"),
            Column("Twelve months"),
            Column("Difference: quarter minus rest of the twelve months, percentage points (95 %)"),
        ),
        lines=tuple(rows),
        notes=_caution(rows),
    )


def _caution(lines: list[Line]) -> tuple[str, ...]:
    looked_at = sum(line.cells[-1][0] in f"+{MINUS}0123456789" for line in lines)
    if not looked_at:
        return ()
    return (
        "An interval that holds 0 shows no difference; it does not show that there is none. "
        f"{count(looked_at, 'difference')} looked at here: with 95 % intervals, about one in "
        "twenty stands out by chance alone.",
    )


def _activity(results: Results) -> str:
    quarter, twelve = results.quarter.activity, results.twelve_months.activity
    if not quarter.procedures:
        return (
            "No procedure of the quarter is recorded; "
            f"{count(twelve.procedures, 'procedure')} in the twelve months."
        )
    patients = count(quarter.patients, "patient")
    return (
        f"{count(quarter.procedures, 'procedure')} on {patients}, "
        f"{count(quarter.levels, 'level')}, in the quarter; "
        f"{count(twelve.procedures, 'procedure')} and {count(twelve.levels, 'level')} in the "
        "twelve months."
    )


def _in_time(spec: Spec, quarter: Numbers) -> str:
    activity = quarter.activity
    if not activity.levels:
        return "No level was treated in the quarter."
    left_out = activity.onset_missing + activity.onset_vague
    unknown = f" No usable onset: {count(left_out, 'level')}." if left_out else ""
    return (
        f"{in_full(activity.in_window, 'levels with a usable onset')} were treated by day "
        f"{spec.protocol.days('clock.window_days')} after the fracture.{unknown}"
    )


def _pain(spec: Spec, one: PainChange) -> str:
    text = pain.pain_sentence(spec, one).removeprefix(f"At {one.title}: ")
    text = text.removeprefix(f"At {one.title} ")
    if one.pairs >= FEWEST_FOR_MEAN:
        text = f"{text} {pain.responder_words(spec, one)}"
    return sentence_case(text)


def _height(spec: Spec, results: Results) -> str:
    twelve = results.twelve_months.heights
    if not twelve.levels:
        return "No level was treated in the twelve months."
    enough = [one for one in twelve.compared if one.pairs >= FEWEST_FOR_MEAN]
    if not enough:
        return (
            f"Of {count(twelve.levels, 'level')} treated in the twelve months, fewer than "
            f"{FEWEST_FOR_MEAN} have comparable images before and after: too few to tell."
        )
    one = max(enough, key=lambda at: (at.pairs, -at.target_days))
    error = spec.values.entry("measures.height_error_mm").words
    within = f"{one.within} of {one.pairs} changed by less than the measurement error, {error}."
    return (
        f"{sentence_case(one.posture_words)}, {one.title}: the anterior height changed by "
        f"{change(one.change)} mm in {count(one.pairs, 'level')} of the twelve months; {within}"
    )


def _pain_rows(spec: Spec, results: Results, place: int) -> list[Line]:
    title = spec.contacts[place].title
    points = spec.protocol.entry("change.nrs_points").value
    return [
        _count(
            f"{sentence_case(spec.pain_words.split(',')[0])}, change at {title}",
            Clock.DUE,
            results,
            lambda n: change(n.pain[place].change),
        ),
        _share(
            f"Lower by {points} points or more at {title}",
            Clock.DUE,
            results,
            lambda n: n.pain[place].by_points,
        ),
    ]


def _count(name: str, clock: Clock, results: Results, cell: Callable[[Numbers], str]) -> Line:
    cells = (cell(results.quarter), cell(results.twelve_months))
    return Line((name, clock.value, *cells, NONE))


def _share(name: str, clock: Clock, results: Results, share: Callable[[Numbers], Share]) -> Line:
    quarter, twelve, before = (
        share(numbers)
        for numbers in (results.quarter, results.twelve_months, results.before_quarter)
    )
    return Line((name, clock.value, of(quarter), of(twelve), difference(quarter, before)))
