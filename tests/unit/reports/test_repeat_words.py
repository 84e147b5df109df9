"""Repeat readings in words, tables and a figure: silence when few, every interval, both drawers."""

import random
from datetime import date, timedelta
from decimal import Decimal

import pytest

from register.domain.comparing import Circumstances
from register.domain.own_error import bounds_from, own_error
from register.domain.protocol import SourceKind, shipped
from register.domain.repeats import ANGLES, HEIGHTS, MEASURES, Kind, Measured
from reports.figures import paper, screen
from reports.repeat_readings import FEWEST_PAIRS, RepeatReadings, compare
from reports.repeat_words import figure, overview, pairs_table, told
from reports.wording import NO_BREAK, THIN

DAY = date(2027, 3, 7)
VALUES = shipped(DAY)
FRONT, ANGLE = HEIGHTS[0], ANGLES[0]
HEIGHT_ERROR = "measures.height_error_mm"


def read_twice(pairs, *, sd=0.9, growing=False, blinded=True, observers=(1, 1), seed=5):
    """Bodies of 8 to 30 mm read twice, each by the observers given, with an error of sd mm."""
    chance, rows = random.Random(seed), []
    for study in range(pairs):
        body = chance.uniform(8, 30)
        error = sd * body / 20 if growing else sd
        for again, observer in enumerate(observers):
            value = Decimal(f"{body + chance.gauss(0, error):.1f}")
            rows.append(
                Measured(
                    key=len(rows) + 1,
                    patient=study // 2,
                    study=study,
                    level="L1",
                    observer=observer,
                    measured_on=DAY + timedelta(again),
                    circumstances=Circumstances("standing", "calibrated"),
                    values={FRONT.field: value, ANGLE.field: value},
                    marking=2 * study + again if blinded else None,
                    repeats=2 * study if blinded and again else None,
                )
            )
    return rows


def plain(words):
    return words.replace(NO_BREAK, " ").replace(THIN, " ").replace("−", "-")


def test_every_figure_stands_with_its_interval():
    one = compare(read_twice(60), FRONT, Kind.SAME)
    page = RepeatReadings((one,), one, (), False)
    line = overview(page).groups[0].lines[0]
    cells = [plain(cell.text) for cell in line.cells]
    assert line.head == "Anterior height,\u00a0mm"
    assert cells[0] == "60 of 30 patients, 60 blinded"
    assert all("(" in cell and " to " in cell for cell in cells[1:])
    within = one.found.repeatability
    assert cells[5].startswith(f"{within.coefficient:.1f} (")
    factor = within.coefficient / within.within_sd
    assert cells[5].endswith(f"to {within.within_sd_upper * factor:.1f})")


@pytest.mark.parametrize(("pairs", "says"), [(0, "none"), (4, "4 of 10 needed")])
def test_few_pairs_are_counted_and_nothing_is_computed(pairs, says):
    one = compare(read_twice(pairs), FRONT, Kind.SAME)
    cells = [
        cell.text
        for cell in overview(RepeatReadings((one,), one, (), False)).groups[0].lines[0].cells
    ]
    assert cells == [says, *["–"] * 6]
    assert f"{FEWEST_PAIRS - pairs} more are needed" in plain(told(one)[0])
    assert figure(one).lines == ()


def test_between_the_fewest_and_fifty_the_limits_are_called_vague():
    assert "50 or more are preferred" in told(compare(read_twice(20), FRONT, Kind.SAME))[0]
    assert "preferred" not in told(compare(read_twice(50), FRONT, Kind.SAME))[0]


def test_a_growing_spread_is_said_and_given_as_ratios():
    said = plain(" ".join(told(compare(read_twice(80, growing=True, sd=1.6), FRONT, Kind.SAME))))
    assert "The difference grows with the size" in said
    assert "As ratios, second to first: mean 0.98 (0.96 to 1.00), limits of agreement 0.79" in said
    level = plain(" ".join(told(compare(read_twice(80), FRONT, Kind.SAME))))
    assert "is not seen to grow" in level
    assert "As ratios" not in level


def test_both_drawers_show_every_pair_and_the_three_lines():
    one = compare(read_twice(25), FRONT, Kind.SAME)
    drawn = figure(one)
    assert [line.label.rsplit(" ", 2)[0] for line in drawn.lines] == [
        "upper limit",
        "mean",
        "lower limit",
    ]
    data = screen.plotly(drawn)
    assert sum(len(trace["x"]) for trace in data["data"]) == 25
    assert [shape["y0"] for shape in data["layout"]["shapes"]] == [
        line.value for line in drawn.lines
    ]
    svg = paper.svg(drawn)
    assert all(line.label in svg for line in drawn.lines)
    assert svg == paper.svg(drawn)


def test_the_axes_hold_every_pair_and_every_line():
    drawn = figure(compare(read_twice(40, sd=4), FRONT, Kind.SAME))
    for series in drawn.series:
        for point in series.points:
            assert drawn.places.low <= point.at <= drawn.places.high
            assert drawn.values.low <= point.value <= drawn.values.high
    assert all(drawn.values.low <= line.value <= drawn.values.high for line in drawn.lines)


def test_blinded_pairs_are_marked_in_figure_and_table():
    one = compare(read_twice(12, blinded=False), FRONT, Kind.SAME)
    assert [len(series.points) for series in figure(one).series] == [0, 12]
    assert {row[-1].words for row in pairs_table(one).rows} == {"no"}
    assert pairs_table(one).rows[0][0].words == "1, L1"


# --- the bound that follows ---------------------------------------------------------


def test_the_own_figure_replaces_the_published_one_from_enough_blinded_pairs_on():
    assert bounds_from(read_twice(49), VALUES, until=DAY) == ()
    assert bounds_from(read_twice(80, blinded=False), VALUES, until=DAY) == ()
    height, angle = bounds_from(read_twice(50), VALUES, until=DAY)
    assert (height.id, angle.id) == (HEIGHT_ERROR, "measures.angle_error_deg")
    assert height.source.kind is SourceKind.MEASURED_HERE
    assert "50 blinded pairs, anterior height, same observer, 95 % interval" in height.source.words
    assert "confirm locally" not in height.source.words


def test_the_own_figure_is_rounded_up_and_the_largest_counts():
    close, far = read_twice(60, sd=0.5), read_twice(60, sd=1.5, observers=(1, 2), seed=8)
    apart = [*close, *(_moved(row) for row in far)]
    own = own_error(apart, HEIGHTS, needed=50)
    assert own.kind is Kind.TWO
    assert 0 <= float(own.bound) - own.found.coefficient < 0.1
    assert (
        VALUES.with_entries(bounds_from(apart, VALUES, until=DAY)).number(HEIGHT_ERROR) == own.bound
    )


def test_readings_that_agree_to_the_last_digit_everywhere_replace_nothing():
    assert own_error(read_twice(60, sd=0), MEASURES, needed=50) is None


def _moved(row):
    """The same pair in a study of its own."""
    away = 10_000
    return Measured(
        key=row.key + away,
        patient=row.patient,
        study=row.study + away,
        level=row.level,
        observer=row.observer,
        measured_on=row.measured_on,
        circumstances=row.circumstances,
        values=row.values,
        marking=row.marking + away,
        repeats=None if row.repeats is None else row.repeats + away,
    )
