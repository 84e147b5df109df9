"""Numbers as the audit words them: counts always beside percentages, and silence when too few."""

from collections.abc import Sequence

from reports.audits.document import Column, Line
from reports.audits.spec import Spec
from reports.audits.values import FEWEST_FOR_MEAN, Average, Counted, Middle, Share
from reports.figures.description import Figure
from reports.stats.proportions import newcombe_difference
from reports.wording import INTERVAL, NONE, fixed, listed, percent, percent_span, signed, span

TOO_FEW = "too few to tell"


def drawn(*figures: Figure) -> tuple[Figure, ...]:
    """Return the figures that have something to show; an empty one is never drawn."""
    return tuple(figure for figure in figures if not figure.is_empty)


def grouped_lines(name: str, lines: Sequence[Line], nothing: Sequence[str]) -> list[Line]:
    """Return lines under a heading; a group without any says "none" and is not left empty."""
    return [Line((name,), "group"), *(lines or [Line(("none", *nothing), "part")])]


def period_columns(spec: Spec, first: str = "") -> tuple[Column, ...]:
    """The three periods as column heads, after a column of names."""
    return (
        Column(first, figure=False),
        Column("Quarter"),
        Column("Twelve months"),
        Column("Since start"),
    )


def part(n: int, total: int) -> str:
    """Return "14 (64 %)"; a bare count where there is nothing to divide by."""
    return f"{n} ({percent(n / total, total)})" if total else str(n)


def of(share: Share) -> str:
    """Return "18 of 24 (75 %)" for a cell."""
    if share.total < FEWEST_FOR_MEAN:
        return f"{share.events} of {share.total}"
    return f"{share.events} of {share.total} ({percent(share.fraction, share.total)})"


def limits(share: Share) -> str:
    """Return the interval of a share for a cell of its own."""
    if share.total < FEWEST_FOR_MEAN:
        return TOO_FEW if share.total else NONE
    return percent_span(share.lower, share.upper, share.total)


def in_full(share: Share, noun: str = "") -> str:
    """Return a share for a sentence: "18 of 24 levels (75 %, 95 % interval 55 to 88 %)"."""
    counts = f"{share.events} of {share.total} {noun}".strip()
    if share.total < FEWEST_FOR_MEAN:
        return f"{counts} ({TOO_FEW})"
    text = percent(share.fraction, share.total)
    return f"{counts} ({text}, {INTERVAL} {limits(share)})"


def mean(average: Average, digits: int = 1) -> str:
    """Return the mean of a cell; a dash for nobody."""
    return fixed(average.mean, digits)


def mean_limits(average: Average, digits: int = 1) -> str:
    """Return the interval of a mean; "too few to tell" below the fewest."""
    if average.lower is None or average.upper is None:
        return TOO_FEW if average.n else NONE
    return span(average.lower, average.upper, digits)


def change(average: Average, digits: int = 1) -> str:
    """Return a mean change with its interval for one cell."""
    if not average.n:
        return NONE
    if average.lower is None or average.upper is None:
        return f"{TOO_FEW} (n = {average.n})"
    return f"{signed(average.mean, digits)} ({span(average.lower, average.upper, digits)})"


def middle(value: Middle, unit: str) -> str:
    """Return "79 years (61 to 92)": median, lowest and highest."""
    if not value.n:
        return NONE
    return f"{fixed(value.median)} {unit} ({fixed(value.lowest)} to {fixed(value.highest)})"


def middle_limits(value: Middle) -> str:
    """Return the interval of a median."""
    if value.lower is None:
        return TOO_FEW if value.n else NONE
    return span(value.lower, value.upper)


def difference(one: Share, other: Share) -> str:
    """Return the difference of two independent shares in percentage points, with its interval."""
    if min(one.total, other.total) < FEWEST_FOR_MEAN:
        return TOO_FEW if one.total and other.total else NONE
    assert one.fraction is not None
    assert other.fraction is not None
    found = newcombe_difference(
        events_1=one.events, total_1=one.total, events_2=other.events, total_2=other.total
    )
    gap = signed((one.fraction - other.fraction) * 100)
    return f"{gap} ({span(found.lower * 100, found.upper * 100)})"


def merged(*parts: Sequence[Counted]) -> list[tuple[str, str]]:
    """Return the entries that occur in any of several counts, each once, in their order.

    "Not recorded" stays last.
    """
    found: dict[str, str] = {}
    for counts in parts[::-1]:  # the longest period first: it holds all the others
        for entry in counts:
            found.setdefault(entry.code, entry.words)
    return sorted(found.items(), key=lambda entry: entry[0] == "")


def times(counts: Sequence[Counted], code: str) -> int:
    """Return how often an entry occurs, 0 when it does not."""
    return next((entry.n for entry in counts if entry.code == code), 0)


def itemised(counts: Sequence[tuple[str, int]]) -> str:
    """Return "none: 11; symptoms, settled: 1", leaving out what is nought."""
    return "; ".join(f"{words}: {n}" for words, n in counts if n)


def sentence_case(words: str) -> str:
    """Return words with a capital first letter, the rest as it is."""
    return words[:1].upper() + words[1:]


def left_out(parts: Sequence[tuple[int, str]]) -> str:
    """Return "3 not recorded and 1 known to the month only", leaving out what is nought."""
    return listed([f"{n} {words}" for n, words in parts if n])
