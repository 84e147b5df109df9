"""Chapter: vertebral height over time."""

from reports.audits import charts
from reports.audits.document import Column, Line, Section, Table
from reports.audits.numbers.heights import HeightAt, Heights
from reports.audits.pages.text import (
    TOO_FEW,
    change,
    drawn,
    itemised,
    left_out,
    mean,
    mean_limits,
    sentence_case,
)
from reports.audits.results import Results
from reports.audits.spec import BEFORE, Clock, Spec
from reports.audits.values import FEWEST_FOR_MEAN
from reports.wording import INTERVAL, NONE, count, fixed, signed, span


def section(spec: Spec, results: Results) -> Section:
    """Print the anterior height by posture; never subtracted across postures or scales."""
    everything = results.since_start.heights
    return Section(
        id="heights",
        title="Vertebral height over time",
        sentences=(
            *_sentences(spec, everything),
            *_not_comparable(everything),
            _left_out(everything),
        ),
        tables=(_table(spec, results),),
        figures=drawn(charts.heights(everything)),
    )


def _sentences(spec: Spec, everything: Heights) -> tuple[str, ...]:
    if not everything.levels:
        return ("No level has been treated.",)
    error = spec.values.entry("measures.height_error_mm")
    sentences = [
        f"Since start, {everything.measured} of {count(everything.levels, 'treated level')} have a "
        "usable anterior height on at least one image."
    ]
    sentences += [
        height_sentence(one) for one in everything.compared if one.pairs >= FEWEST_FOR_MEAN
    ]
    if len(sentences) == 1:
        sentences.append(
            "Fewer than "
            f"{FEWEST_FOR_MEAN} levels have comparable images before and after: {TOO_FEW}."
        )
    sentences.append(
        f"In one level, a change below {error.words} is within measurement error; a mean of many "
        f"levels can be smaller and still be real. Source of the bound: {error.source.words}."
    )
    return tuple(sentences)


def height_sentence(one: HeightAt) -> str:
    """Say how the height changed at one timepoint in one posture."""
    assert one.change.mean is not None
    shown = (one.change.lower or 0) > 0 or (one.change.upper or 0) < 0
    interval = span(one.change.lower, one.change.upper, 1)
    return (
        f"{sentence_case(one.posture_words)}, {one.title}: mean change "
        f"{signed(one.change.mean, 1)} mm ({INTERVAL} {interval}"
        f"{'' if shown else ', no change shown'}) in {count(one.pairs, 'level')}."
    )


def _not_comparable(one: Heights) -> tuple[str, ...]:
    """Say how often a height after has none before that may be subtracted from it."""
    parts = itemised(one.not_comparable)
    if not parts:
        return ()
    return (
        "Levels measured at a time after the procedure that are not comparable with before, "
        f"since start, counted at each time: {parts}. They are in no change.",
    )


def _left_out(one: Heights) -> str:
    parts = left_out(
        [
            (one.no_height, "without an anterior height"),
            (one.no_posture, "without a posture"),
            (one.uncalibrated, "without calibration, which give ratios only"),
            (one.same_day, "taken on the day of the procedure, before or after it is not recorded"),
            (one.between_windows, "between the windows"),
        ]
    )
    text = (
        f"Measurements left out, since start: {parts}." if parts else "No measurement is left out."
    )
    if one.scales:
        scales = ", ".join(f"{words} {count}" for words, count in one.scales)
        text += f" Where the millimetres of those used come from: {scales}."
    if one.calibration_unknown:
        text += f" Of those used, {one.calibration_unknown} do not say how they were calibrated."
    return text


def _table(spec: Spec, results: Results) -> Table:
    error = spec.values.entry("measures.height_error_mm").words
    lines: list[Line] = []
    for name, heights in zip(
        (
            "Levels treated in the quarter",
            "Levels treated in the twelve months",
            "All treated levels",
        ),
        results.three(lambda numbers: numbers.heights),
        strict=True,
    ):
        lines.append(Line((name,), "group"))
        lines += [_line(one) for one in heights.at] or [
            Line(("no usable height", "0", *(NONE for _ in range(7))), "part")
        ]
    return Table(
        id="heights",
        title="Anterior height, mm",
        about=f"{Clock.DONE.words} Unit: levels. Change: image minus image before, in the same "
        "posture and with the same calibration.",
        columns=(
            Column("Posture and time", figure=False),
            Column("levels measured"),
            Column("mean height"),
            Column(INTERVAL),
            Column("levels with both"),
            Column(f"mean change ({INTERVAL})"),
            Column(f"higher by {error} or more"),
            Column("within the error"),
            Column(f"lower by {error} or more"),
        ),
        lines=tuple(lines),
    )


def _line(one: HeightAt) -> Line:
    first = one.timepoint == BEFORE
    enough = one.height.n >= FEWEST_FOR_MEAN
    counts = [one.higher, one.within, one.lower]
    return Line(
        (
            f"{one.posture_words}, {one.title}",
            fixed(one.height.n),
            mean(one.height) if enough else NONE,
            mean_limits(one.height),
            NONE if first else str(one.pairs),
            NONE if first else change(one.change),
            *(NONE if first else str(n) for n in counts),
        ),
        "part",
    )
