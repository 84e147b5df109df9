"""Repeat readings in words: one table of every figure, and one measure drawn and told."""

import math
from typing import Final

from register.domain.repeats import Kind
from register.tables import Column as HeadOf
from register.tables import Table as PairTable
from reports.audits.document import Column, Line, Table
from reports.audits.pages.text import itemised
from reports.figures.description import (
    Axis,
    Figure,
    Point,
    Reference,
    Series,
    Shape,
    even_ticks,
)
from reports.repeat_readings import FEWEST_PAIRS, PREFERRED_PAIRS, Compared, RepeatReadings
from reports.stats.agreement import Agreement
from reports.wording import INTERVAL, NONE, count, fixed, listed, signed, span

_HEADS: Final = (
    "pairs",
    "mean difference",
    "lower limit of agreement",
    "upper limit of agreement",
    "SD within one body",
    "repeatability",
    "correlation, form (A,1)",
)
_STEPS: Final = (1, 2, 5, 10, 20, 50)
_MOST_TICKS: Final = 9
METHOD: Final = (
    "Each dot is a pair; across: the mean of both readings; upwards: the second minus the first."
)
RULE: Final = (
    "Of several readings of one level on one study the first two in time that may be compared "
    "are a pair: same posture, and for lengths the same calibration, both recorded; for local and "
    "segmental angles the same end plates. Everybody and every two observers count once for each "
    "level of a study."
)
NOTES: Final = (
    f"Each figure with its {INTERVAL}. Difference: second minus first reading. Limits of "
    "agreement: mean difference ± 1.96 standard deviations; the paper of 1986 (Bland and Altman, "
    "Lancet 1986;i:307) used 2. Repeatability: 1.96·√2 = 2.77 times the standard deviation within "
    "one body; two readings of one body differ by less in 95 of 100 pairs.",
    "Correlation: intraclass, absolute agreement of single readings (Shrout and Fleiss, Psychol "
    "Bull 1979;86:420, form 2,1). It is high where bodies differ much, however bad the reading: "
    "a secondary figure.",
    f"Nothing is computed below {FEWEST_PAIRS} pairs; {PREFERRED_PAIRS} or more are preferred. "
    "Pairs of one patient are taken as independent, so that the intervals are a little too narrow "
    "where many come from few.",
)


def overview(page: RepeatReadings) -> Table:
    """Return the table of all measures, by who read again."""
    lines: list[Line] = []
    for kind in Kind:
        of_kind = [one for one in page.all if one.kind is kind]
        lines.append(Line((f"{kind.words[:1].upper()}{kind.words[1:]}",), "group"))
        lines += [_line(one) for one in of_kind]
    which = "blinded pairs only" if page.blinded_only else "all pairs, blinded or not"
    return Table(
        id="agreement",
        title="How well two readings agree",
        about=f"Unit: pairs of readings of one level on one study; {which}.",
        columns=(Column("", figure=False), *(Column(head) for head in _HEADS)),
        lines=tuple(lines),
        notes=NOTES,
    )


def _line(one: Compared) -> Line:
    name = f"{one.measure.name},\u00a0{one.measure.unit}"
    if one.found is None:
        pairs = f"{one.n} of {FEWEST_PAIRS} needed" if one.n else "none"
        return Line((name, pairs, *(NONE for _ in _HEADS[1:])), "part")
    agreement, within, icc = one.found.agreement, one.found.repeatability, one.found.icc
    factor = within.coefficient / within.within_sd if within.within_sd else 0.0
    ends = (within.within_sd_lower, within.within_sd_upper)
    return Line(
        (
            name,
            _pairs(one),
            _with(signed(agreement.bias, 1), agreement.bias_interval),
            _with(fixed(agreement.lower, 1), agreement.lower_interval),
            _with(fixed(agreement.upper, 1), agreement.upper_interval),
            f"{fixed(within.within_sd, 2)} ({span(*ends, 2)})",
            _with(
                fixed(within.coefficient, 1),
                None if None in ends else (ends[0] * factor, ends[1] * factor),  # type: ignore[operator]
            ),
            f"{fixed(icc.icc, 2)} ({span(icc.lower, icc.upper, 2)})",
        ),
        "part",
    )


def _pairs(one: Compared) -> str:
    return f"{one.n} of {count(one.pairs.patients, 'patient')}, {one.pairs.blinded} blinded"


def _with(figure: str, interval: tuple[float, float] | None) -> str:
    return f"{figure} ({span(*interval, 1)})" if interval else figure


# --- one measure --------------------------------------------------------------


def told(one: Compared) -> tuple[str, ...]:
    """Return the sentences about the measure that is drawn."""
    sentences = [_how_many(one)]
    if one.found is not None:
        sentences += [_growth(one), *_ratio(one)]
    if one.pairs.left_out:
        parts = itemised(one.pairs.left_out)
        sentences.append(f"Read twice and left out: {parts}.")
    return tuple(sentences)


def _how_many(one: Compared) -> str:
    name = f"{one.measure.name}, {one.kind.words}"
    if one.found is None:
        missing = FEWEST_PAIRS - one.n
        return (
            f"{name}: {count(one.n, 'pair')}. Nothing is computed below {FEWEST_PAIRS}; "
            f"{missing} more {'is' if missing == 1 else 'are'} needed."
        )
    text = f"{name}: {_pairs(one)}."
    if one.n < PREFERRED_PAIRS:
        text += f" {PREFERRED_PAIRS} or more are preferred: the limits are still vague."
    return text


def _growth(one: Compared) -> str:
    growth = one.found.growth if one.found else None
    if growth is None:
        return "Whether larger bodies are read less well cannot be seen: all differ alike."
    tau = f"rank correlation {fixed(growth.tau, 2)}, one-sided p {fixed(growth.p, 3)}"
    if growth.grows:
        return (
            f"The difference grows with the size ({tau}): the figures above are too wide for "
            "small and too narrow for large values."
        )
    return f"The difference is not seen to grow with the size ({tau})."


def _ratio(one: Compared) -> list[str]:
    ratio = one.found.ratio if one.found else None
    grows = one.found and one.found.growth and one.found.growth.grows
    if ratio is None:
        return ["Ratios are not defined: a value is not above 0."] if grows else []
    parts = [
        f"{name} {fixed(value, 2)} ({span(*interval, 2)})"
        for name, value, interval in (
            ("mean", ratio.ratio, ratio.ratio_interval),
            ("limits of agreement", ratio.lower, ratio.lower_interval),
            ("and", ratio.upper, ratio.upper_interval),
        )
    ]
    return [f"As ratios, second to first: {parts[0]}, {parts[1]} {parts[2]}."]


def figure(one: Compared) -> Figure:
    """Return the differences against their means, with mean difference and limits."""
    first, second = one.pairs.first, one.pairs.second
    means = [(a + b) / 2 for a, b in zip(first, second, strict=True)]
    gaps = [b - a for a, b in zip(first, second, strict=True)]
    hidden = [pair.is_blinded for pair in one.pairs.pairs]
    unit = one.measure.unit
    lines = _lines(one.found.agreement, unit) if one.found else ()
    reach = max([1.0, *(abs(gap) for gap in gaps), *(abs(line.value) for line in lines)])
    return Figure(
        id="difference-against-mean",
        title=f"{one.measure.name}, {one.kind.words}: difference against mean",
        places=_axis(
            f"mean of both readings, {unit}", min(means, default=0), max(means, default=1)
        ),
        values=_axis(f"second minus first, {unit}", -reach, reach),
        series=tuple(
            Series(
                name,
                Shape.POINTS,
                tuple(
                    Point(mean, f"mean {fixed(mean, 1)} {unit}", gap)
                    for mean, gap, is_hidden in zip(means, gaps, hidden, strict=True)
                    if is_hidden is wanted
                ),
            )
            for name, wanted in (("blinded", True), ("first reading not hidden", False))
        ),
        method=METHOD,
        lines=lines,
    )


def _lines(found: Agreement, unit: str) -> tuple[Reference, ...]:
    named = (
        (found.upper, "upper limit"),
        (found.bias, "mean"),
        (found.lower, "lower limit"),
    )
    return tuple(
        Reference(value, f"{name} {fixed(value, 1)} {unit}")
        for value, name in named
        if value is not None
    )


def _axis(title: str, low: float, high: float) -> Axis:
    """Return an axis in whole numbers that holds both ends, with a handful of ticks."""
    span_of = max(high - low, 1.0)
    step = next((step for step in _STEPS if span_of / step <= _MOST_TICKS - 2), _STEPS[-1])
    bottom, top = math.floor(low / step) * step, math.ceil(high / step) * step
    top = max(top, bottom + step)
    return Axis(title, bottom, top, even_ticks(bottom, top, step), digits=1)


def pairs_table(one: Compared) -> PairTable:
    """Return the numbers of the figure: a row for each pair, without whose it is."""
    rows = [
        (
            f"{place}, {pair.first.level}",
            fixed(first, 1),
            fixed(second, 1),
            fixed((first + second) / 2, 2),
            signed(second - first, 1),
            "yes" if pair.is_blinded else "no",
        )
        for place, (pair, first, second) in enumerate(
            zip(one.pairs.pairs, one.pairs.first, one.pairs.second, strict=True), start=1
        )
    ]
    unit = one.measure.unit
    return PairTable.of(
        "The same numbers",
        [
            HeadOf("Pair, level"),
            HeadOf("First", unit, figures=True),
            HeadOf("Second", unit, figures=True),
            HeadOf("Mean", unit, figures=True),
            HeadOf("Second minus first", unit, figures=True),
            HeadOf("Blinded"),
        ],
        rows,
        note=f"{METHOD} {_line_words(one)}".strip(),
        empty_words="No pair may be compared.",
    )


def _line_words(one: Compared) -> str:
    if one.found is None:
        return ""
    return (
        f"Dashed: {listed([line.label for line in _lines(one.found.agreement, one.measure.unit)])}."
    )
