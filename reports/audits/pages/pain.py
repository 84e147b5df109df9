"""Chapter: change of pain, and what the missing scores could hide."""

from reports.audits import charts
from reports.audits.document import Column, Line, Section, Table
from reports.audits.numbers.pain import PainChange
from reports.audits.pages.text import (
    TOO_FEW,
    change,
    drawn,
    in_full,
    left_out,
    limits,
    mean,
    of,
)
from reports.audits.results import Results
from reports.audits.spec import Clock, Spec
from reports.audits.values import FEWEST_FOR_MEAN
from reports.wording import INTERVAL, NONE, count, fixed, percent, percent_span, span

NO_CONTROL = (
    "This is change without a comparison group: treatment, natural healing and regression to the "
    "mean cannot be told apart."
)
_PERIODS = ("Quarter", "Twelve months", "Since start")


def section(spec: Spec, results: Results) -> Section:
    """Print the change at every contact with the missing beside it."""
    _, twelve, everything = results.three(lambda numbers: numbers.pain)
    return Section(
        id="pain",
        title=f"Change of {spec.pain_words}",
        sentences=(
            *(pain_sentence(spec, one) for one in results.quarter.pain),
            NO_CONTROL,
        ),
        tables=(_change_table(spec, results), _responder_table(spec, results)),
        figures=drawn(charts.pain(spec, twelve, everything)),
    )


def pain_sentence(spec: Spec, one: PainChange) -> str:
    """Say what the scores of one contact show, and how many they are of how many."""
    name = spec.pain_words.split(",")[0]
    if not one.due:
        return f"At {one.title}: no contact fell due in the quarter."
    base = f"{one.pairs} of {one.alive} due and alive have both scores"
    if one.change.mean is None or one.pairs < FEWEST_FOR_MEAN:
        return f"At {one.title}: {base}; {TOO_FEW}."
    way = "lower" if one.change.mean < 0 else "higher"
    low, high = sorted((abs(one.change.lower or 0), abs(one.change.upper or 0)))
    if (one.change.lower or 0) < 0 < (one.change.upper or 0):
        interval = f"{INTERVAL} {span(one.change.lower, one.change.upper, 1)}, no change shown"
    else:
        interval = f"{INTERVAL} {span(low, high, 1)}"
    return (
        f"At {one.title} the mean of {name} was {fixed(abs(one.change.mean), 1)} points {way} than "
        f"before ({interval}); {base}."
    )


def missing_words(one: PainChange) -> str:
    """Name what is missing at one contact, or say that nothing is."""
    parts = [
        (one.not_seen, "not seen in the window"),
        (one.no_score, "seen without a score"),
        (one.no_baseline, "without a score before"),
    ]
    return left_out(parts) or "none"


def _change_table(spec: Spec, results: Results) -> Table:
    lines: list[Line] = []
    for name, changes in zip(_PERIODS, results.three(lambda n: n.pain), strict=True):
        lines.append(Line((name,), "group"))
        lines += [_change_line(one) for one in changes]
    return Table(
        id="pain-change",
        title=f"Change of {spec.pain_words}, contact minus before",
        about=f"{Clock.DUE.words} Unit: procedures.",
        columns=(
            Column("Contact", figure=False),
            Column("due"),
            Column("died before"),
            Column("not seen in window"),
            Column("no score"),
            Column("no score before"),
            Column("both scores"),
            Column("mean before"),
            Column("mean at contact"),
            Column(f"mean change ({INTERVAL})"),
        ),
        lines=tuple(lines),
        notes=(
            "Due is the sum of the five columns after it. Below 0 is less pain. "
            + _reasons(results.since_start.pain),
        ),
    )


def _change_line(one: PainChange) -> Line:
    enough = one.pairs >= FEWEST_FOR_MEAN
    return Line(
        (
            one.title,
            *(str(n) for n in (one.due, one.dead, one.not_seen, one.no_score, one.no_baseline)),
            str(one.pairs),
            mean(one.before) if enough else NONE,
            mean(one.after) if enough else NONE,
            change(one.change),
        ),
        "part",
    )


def _reasons(changes: tuple[PainChange, ...]) -> str:
    found: dict[str, int] = {}
    for one in changes:
        for entry in one.no_score_reasons:
            found[entry.words] = found.get(entry.words, 0) + entry.n
    if not found:
        return "Since start, no contact was seen without a score."
    words = left_out([(n, text) for text, n in found.items()])
    return f"Reasons for no score, since start: {words}."


def _responder_table(spec: Spec, results: Results) -> Table:
    points = spec.protocol.entry("change.nrs_points").value
    share = spec.protocol.entry("change.percent_of_baseline").value
    lines: list[Line] = []
    for name, changes in zip(_PERIODS, results.three(lambda n: n.pain), strict=True):
        lines.append(Line((name,), "group"))
        lines += [_responder_line(one) for one in changes]
    nought = sum(one.baseline_nought for one in results.since_start.pain)
    return Table(
        id="responders",
        title="Falls that matter to a patient, and what the missing could hide",
        about=f"{Clock.DUE.words} Unit: procedures.",
        columns=(
            Column("Contact", figure=False),
            Column(f"lower by {points} points or more"),
            Column(INTERVAL),
            Column(f"lower by {share} % or more"),
            Column(INTERVAL),
            Column("missing, of due and alive"),
            Column("if all missing failed"),
            Column("if all missing succeeded"),
            Column("band of both"),
        ),
        lines=tuple(lines),
        notes=(
            f"The last three columns are about falls of {points} points, over all who were due and "
            "alive; the band runs from the lower 95 % limit of the worst case to the upper limit "
            "of the best. A share of a score of 0 before is not defined; left out since start: "
            f"{nought}.",
        ),
    )


def _responder_line(one: PainChange) -> Line:
    bounds, missing = one.bounds, one.alive - one.pairs
    tail = (NONE, NONE, NONE)
    if bounds is not None and one.alive >= FEWEST_FOR_MEAN:
        tail = (
            percent(bounds.worst, one.alive),
            percent(bounds.best, one.alive),
            percent_span(bounds.lower, bounds.upper, one.alive),
        )
    return Line(
        (
            one.title,
            of(one.by_points),
            limits(one.by_points),
            of(one.by_percent),
            limits(one.by_percent),
            f"{missing} of {one.alive}",
            *tail,
        ),
        "part",
    )


def responder_words(spec: Spec, one: PainChange) -> str:
    """Say how many fell by an important amount, and between which bounds the truth must lie."""
    points = spec.protocol.entry("change.nrs_points").value
    text = f"Lower by {points} points or more: {in_full(one.by_points)}"
    if one.bounds is None or one.alive < FEWEST_FOR_MEAN:
        return f"{text}."
    missing = count(one.alive - one.pairs, "score pair")
    return (
        f"{text}; with the {missing} missing, between {percent(one.bounds.worst, one.alive)} and "
        f"{percent(one.bounds.best, one.alive)} of all due and alive."
    )
