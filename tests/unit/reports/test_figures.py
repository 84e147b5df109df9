"""One description, two drawers and a table: the same numbers, gaps kept, the same bytes."""

import json
import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reports.figures import paper, screen
from reports.figures.description import (
    Axis,
    Figure,
    Point,
    Reference,
    Series,
    Shape,
    Tick,
    as_table,
    even_ticks,
)
from reports.figures.palette import ACTION, ATTENTION, HAIR, INK, MUTED
from reports.wording import INTERVAL

ROOT = Path(__file__).resolve().parents[3]
DAYS = (0, 21, 91, 365)
NAMES = ("before", "2 to 4 weeks", "3 months", "12 months")
SVG = "{http://www.w3.org/2000/svg}"


def figure(series, *, lying=False, low=0, high=10):
    return Figure(
        id="pain",
        title="Pain on movement",
        places=Axis(
            "time from the procedure",
            -20,
            400,
            tuple(Tick(d, n) for d, n in zip(DAYS, NAMES, strict=True)),
        ),
        values=Axis("points, 0 to 10", low, high, even_ticks(low, high, 2), digits=1),
        series=tuple(series),
        method="Mean with 95 % t interval.",
        reference=Reference(4, "4 points"),
        lying=lying,
        spread=6,
    )


def series(name, values, shape=Shape.LINE):
    points = [
        Point(
            at=day,
            place=place,
            value=value,
            lower=None if value is None else max(0.0, value - 0.8),
            upper=None if value is None else min(10.0, value + 0.7),
            n=None if value is None else 12,
        )
        for day, place, value in zip(DAYS, NAMES, values, strict=True)
    ]
    return Series(name, shape, tuple(points))


TWO = (series("Here", (8.2, 3.4, None, 2.6)), series("Everywhere", (7.9, None, 3.3, 3.1)))


def path_numbers(text):
    return [tuple(map(float, pair)) for pair in re.findall(r"[ML] (-?[\d.]+) (-?[\d.]+)", text)]


class Drawn:
    """The values of an SVG, read back from its geometry through the plot area and the axes."""

    def __init__(self, described):
        self.described = described
        self.root = ElementTree.fromstring(paper.svg(described))
        corners = path_numbers(self.path("plot-area"))
        self.xs, self.ys = zip(*corners, strict=True)

    def group(self, gid):
        return next(g for g in self.root.iter(f"{SVG}g") if g.get("id") == gid)

    def path(self, gid):
        return self.group(gid).find(f"{SVG}path").get("d")

    def value(self, pair):
        """Undo the transformation of one point: its number on the axis of values."""
        axis = self.described.values
        if self.described.lying:
            share = (pair[0] - min(self.xs)) / (max(self.xs) - min(self.xs))
        else:
            share = (max(self.ys) - pair[1]) / (max(self.ys) - min(self.ys))
        return axis.low + share * (axis.high - axis.low)

    def series(self, index):
        markers = self.group(f"series-{index}").iter(f"{SVG}use")
        return [self.value((float(m.get("x")), float(m.get("y")))) for m in markers]

    def interval(self, index, place):
        return sorted(
            self.value(pair) for pair in path_numbers(self.path(f"interval-{index}-{place}"))
        )


@pytest.mark.parametrize("lying", [False, True])
def test_paper_and_screen_show_the_same_numbers(lying):
    described = figure(TWO, lying=lying)
    drawn, shown = Drawn(described), screen.plotly(described)["data"]
    for index, trace in enumerate(shown):
        values = trace["x" if lying else "y"]
        limits = trace["error_x" if lying else "error_y"]
        known = [place for place, value in enumerate(values) if value is not None]
        assert drawn.series(index) == pytest.approx([values[p] for p in known], abs=1e-4)
        for place in known:
            low = values[place] - limits["arrayminus"][place]
            high = values[place] + limits["array"][place]
            assert drawn.interval(index, place) == pytest.approx([low, high], abs=1e-4)


def test_bars_of_paper_and_screen_have_the_same_lengths():
    described = figure([series("Done", (4, 0, 7, 2), Shape.BARS)])
    drawn = Drawn(described)
    (trace,) = screen.plotly(described)["data"]
    heights = []
    for place in range(4):
        corners = path_numbers(drawn.path(f"bar-0-{place}"))
        heights.append(max(drawn.value(pair) for pair in corners))
    assert heights == pytest.approx(trace["y"], abs=1e-4)


def test_a_missing_value_is_a_gap_in_both_and_a_dash_in_the_table():
    described = figure([TWO[0]])
    drawn, trace = Drawn(described), screen.plotly(described)["data"][0]
    assert trace["y"][2] is None
    assert trace["connectgaps"] is False
    # Two moves: the line is lifted at the gap, and the last point stands alone.
    assert drawn.path("series-0").count("M") == 2
    assert as_table(described).rows[2] == ("3 months", "–", "–")


def test_the_table_holds_every_number_with_its_interval_and_its_cases():
    table = as_table(figure(TWO))
    assert table.header == ("", f"Here ({INTERVAL})", "n", f"Everywhere ({INTERVAL})", "n")
    assert table.rows[0] == ("before", "8.2 (7.4 to 8.9)", "12", "7.9 (7.1 to 8.6)", "12")
    assert [row[0] for row in table.rows] == list(NAMES)


def test_the_json_refuses_what_is_not_a_number():
    assert json.loads(screen.plotly_json(figure(TWO)))["data"][0]["y"] == [8.2, 3.4, None, 2.6]
    with pytest.raises(ValueError, match="use None for a gap"):
        Point(at=0, place="before", value=float("nan"))


@settings(max_examples=25, deadline=None)
@given(st.lists(st.none() | st.floats(0, 10, width=16), min_size=4, max_size=4))
def test_any_pattern_of_gaps_is_drawn(values):
    described = figure([series("Here", tuple(values))])
    known = [value for value in values if value is not None]
    assert json.loads(screen.plotly_json(described))["data"][0]["y"] == values
    if known:
        assert Drawn(described).series(0) == pytest.approx(known, abs=1e-3)
    assert described.is_empty is (not known)


def test_labels_are_text_and_nothing_else():
    label = "<b>Here</b> & $x$"
    described = figure([series(label, (1, 2, 3, 4)), series("Other", (1, 2, 3, 4))])
    root = ElementTree.fromstring(paper.svg(described))
    assert label in [text.text for text in root.iter(f"{SVG}text")]
    assert screen.plotly(described)["data"][0]["name"] == "&lt;b&gt;Here&lt;/b&gt; &amp; $x$"


def test_axes_are_fixed_and_name_their_units():
    layout = screen.plotly(figure(TWO))["layout"]
    assert layout["yaxis"]["range"] == [0, 10]
    assert layout["yaxis"]["title"]["text"] == "points, 0 to 10"
    words = [t.text for t in ElementTree.fromstring(paper.svg(figure(TWO))).iter(f"{SVG}text")]
    assert "points, 0 to 10" in words
    assert "time from the procedure" in words
    assert words.count("2.6") == 1  # the latest value of the line, printed beside it


def test_an_axis_without_range_is_refused():
    with pytest.raises(ValueError, match="needs a range"):
        Axis("x", 1, 1, (Tick(1, "1"),))


def test_series_differ_in_marker_and_dash_so_that_grey_is_enough():
    traces = screen.plotly(figure(TWO))["data"]
    assert traces[0]["marker"]["symbol"] != traces[1]["marker"]["symbol"]
    assert traces[0]["line"]["dash"] != traces[1]["line"]["dash"]
    assert "stroke-dasharray" in ElementTree.tostring(
        Drawn(figure(TWO)).group("series-1"), encoding="unicode"
    )


def test_another_process_draws_the_same_bytes():
    code = (
        "from tests.unit.reports.test_figures import *;import hashlib;"
        "print(hashlib.sha256(paper.svg(figure(TWO)).encode()).hexdigest())"
    )
    runs = [
        subprocess.run(
            [sys.executable, "-c", code],
            cwd=ROOT,
            env={"PYTHONHASHSEED": seed, "PATH": ""},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    ]
    assert runs[0] == runs[1]


def test_the_inks_are_those_of_the_screen():
    sheet = (ROOT / "register/static/register/css/base.css").read_text()
    for name, ink in {
        "ink": INK,
        "muted": MUTED,
        "hair": HAIR,
        "action": ACTION,
        "attention": ATTENTION,
    }.items():
        assert f"--{name}: {ink};" in sheet


def test_a_dashed_line_is_explained_in_words_under_the_title():
    assert figure([series("all", (7, 6, 5, 4))]).explained == (
        "Mean with 95 % t interval. Dashed line: 4 points."
    )
