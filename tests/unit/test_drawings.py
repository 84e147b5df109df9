"""The drawings as text: names, states told by shape, links, and that nothing inline slips in."""

import re
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from xml.etree import ElementTree

import pytest

from register.domain.clock import window
from register.domain.drawing import svg
from register.domain.drawing.clock import ClockFace, clock
from register.domain.drawing.closeup import Closeup, closeup
from register.domain.drawing.course import Course, CoursePoint, course
from register.domain.drawing.marks import SHAPES, mark
from register.domain.drawing.strip import Strip, StripLevel, strip
from register.domain.drawing.vertebra import GLYPH_HEIGHT, GLYPH_WIDTH, Body, glyph
from register.domain.levels import TREATABLE_CODES
from register.domain.outline import Heights

SVG = "{http://www.w3.org/2000/svg}"
CSS = Path(__file__).parents[2] / "register/static/register/css"
TODAY = date(2027, 3, 7)
L1 = Body("L1", Heights(Decimal("16.4"), Decimal("15.5"), Decimal("26.2"), 34), "superior")


def tree(drawing):
    return ElementTree.fromstring(drawing)


def shown_text(drawing):
    return [text.text for text in tree(drawing).iter(f"{SVG}text")]


def pens(drawing):
    """The pens used, in order."""
    classes = (element.get("class", "") for element in tree(drawing).iter())
    return [name.removeprefix("d-") for name in classes if name.startswith("d-")]


def face(days_ago, precision="day", window_days=42):
    onset = None if days_ago is None else TODAY - timedelta(days=days_ago)
    return ClockFace(window(onset, precision, TODAY, window_days=window_days), window_days)


# --- svg ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "text"), [(1.0, "1"), (-0.001, "0"), (2.346, "2.35"), (10.0, "10"), (-1.5, "-1.5")]
)
def test_coordinates_are_short_and_never_minus_zero(value, text):
    assert svg.number(value) == text


def test_text_from_people_cannot_become_markup():
    drawn = svg.drawing(
        svg.text(0, 0, "<script>&"), width=1, height=1, title='a "b" <c>', kind="test"
    )
    assert shown_text(drawn) == ["<script>&"]
    assert tree(drawn).find(f"{SVG}title").text == 'a "b" <c>'


def test_every_pen_is_known_to_the_style_sheet_of_the_screen():
    known = set(re.findall(r"\.d-([a-z-]+)", (CSS / "drawings.css").read_text()))
    assert set(svg.PENS) - known == set()


def test_paper_and_screen_have_one_palette():
    screen = dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6})", (CSS / "base.css").read_text()))
    paper = {
        "ink": svg.INK, "muted": svg.MUTED, "hair": svg.HAIR, "sheet": svg.SHEET,
        "action": svg.ACTION, "attention": svg.ATTENTION, "tint": svg.TINT,
    }  # fmt: skip
    assert {name: screen[name] for name in paper} == paper


# --- vertebra -------------------------------------------------------------------


def test_a_glyph_says_level_state_and_every_length():
    drawn = tree(glyph(Body("L1", L1.heights, "superior", "fracture")))
    assert drawn.get("role") == "img"
    assert drawn.find(f"{SVG}title").text == "L1, fracture"
    assert drawn.find(f"{SVG}desc").text == (
        "Anterior height 16.4 mm, middle height 15.5 mm, posterior height 26.2 mm, depth 34 mm. "
        "Anterior on the left."
    )


def test_a_vertebra_nobody_measured_is_a_tick_and_no_shape():
    drawn = glyph(Body("T8"))
    assert pens(drawn) == ["tick"]
    assert "Heights not measured." in drawn


@pytest.mark.parametrize(
    ("state", "telling"),
    [("fracture", "body-hot"), ("treated", "cement"), ("old", "quiet"), ("", "edge")],
)
def test_each_state_has_a_shape_of_its_own(state, telling):
    states = {"fracture", "treated", "old", ""} - {state}
    drawn = {one: set(pens(glyph(Body("L1", L1.heights, "", one)))) for one in {state, *states}}
    assert telling in drawn[state]
    assert all(drawn[state] != drawn[other] for other in states)


def test_an_unknown_state_is_refused():
    with pytest.raises(ValueError, match="not a state"):
        Body("L1", state="broken")


def test_a_body_too_large_for_its_cell_is_drawn_smaller_and_says_so():
    drawn = glyph(Body("L4", Heights(55, 55, 55, 58)))
    commands = " ".join(path.get("d") for path in tree(drawn).iter(f"{SVG}path"))
    assert max(float(n) for n in re.findall(r"-?[\d.]+", commands)) <= max(
        GLYPH_WIDTH, GLYPH_HEIGHT
    )
    assert "Drawn smaller" in drawn
    assert "Drawn smaller" not in glyph(L1)


def test_the_closeup_prints_each_height_with_its_error():
    drawn = closeup(Closeup(L1, error_mm=Decimal("1.6")))
    assert {"16.4 ±1.6 mm", "15.5 ±1.6", "26.2 ±1.6 mm", "34 mm deep"} <= set(shown_text(drawn))


def test_a_height_with_an_error_of_its_own_is_printed_with_that():
    heights = Heights(16.4, 15.5, 26.2, 34, plus_minus={"anterior": "2.8", "middle": "2.9"})
    drawn = closeup(Closeup(Body("L1", heights), error_mm=Decimal("1.6")))
    assert {"16.4 ±2.8 mm", "15.5 ±2.9", "26.2 ±1.6 mm"} <= set(shown_text(drawn))


def test_the_closeup_draws_to_scale():
    """26.2 mm and 16.4 mm stand to each other as their dimension lines do."""
    lines = [
        line
        for line in tree(closeup(Closeup(L1))).iter(f"{SVG}line")
        if line.get("class") == "d-measure" and line.get("x1") == line.get("x2")
    ]
    tall = sorted({round(float(x.get("y2")) - float(x.get("y1")), 1) for x in lines})[-3:]
    assert tall[2] / tall[1] == pytest.approx(26.2 / 16.4, abs=0.02)
    assert tall[1] / tall[0] == pytest.approx(16.4 / 15.5, abs=0.02)


def test_the_closeup_says_what_was_not_measured():
    drawn = Closeup(Body("L1", Heights(anterior_mm=16)), above=Body("T12"))
    assert {"not measured", "depth not measured", "T12, not measured"} <= set(
        shown_text(closeup(drawn))
    )
    assert "Dashed: not measured." in drawn.caption
    assert "drawn as 32 mm" in drawn.caption


def test_expected_heights_have_a_pen_of_their_own_and_their_origin_in_words():
    shown = Closeup(L1, expected=Heights(25.1, None, 26.4), expected_from="T12 and L2")
    assert "expected" in pens(closeup(shown))
    assert "Dash and dot: height expected from T12 and L2." in shown.caption
    assert "expected" not in pens(closeup(Closeup(L1)))


def test_neighbours_are_turned_only_where_both_tilts_are_known():
    level = closeup(Closeup(L1, above=Body("T12", L1.heights)))
    one_known = closeup(Closeup(L1, above=Body("T12", L1.heights, tilt_deg=9)))
    both = closeup(
        Closeup(
            Body("L1", L1.heights, "superior", tilt_deg=2),
            above=Body("T12", L1.heights, tilt_deg=9),
        )
    )
    main_known = closeup(
        Closeup(Body("L1", L1.heights, "superior", tilt_deg=2), above=Body("T12", L1.heights))
    )
    assert one_known == main_known == level
    assert both != level


# --- strip ----------------------------------------------------------------------


def test_the_strip_shows_every_level_and_links_the_known_ones():
    known = StripLevel(
        Body("L1", L1.heights, state="fracture"), "fracture, day 26", "/fractures/4/", current=True
    )
    drawn = tree(strip(Strip.of([known])))
    links = list(drawn.iter(f"{SVG}a"))
    assert drawn.get("role") == "group"
    assert [link.get("aria-label") for link in links] == ["L1, fracture, day 26"]
    assert links[0].get("href") == "/fractures/4/"
    assert links[0].get("aria-current") == "true"
    texts = [text.text for text in drawn.iter(f"{SVG}text")]
    assert [text for text in texts if text in TREATABLE_CODES] == list(TREATABLE_CODES)
    assert pens(strip(Strip.of([known]))).count("tick") == len(TREATABLE_CODES) - 1


def test_links_of_the_strip_are_tall_enough_for_a_finger():
    drawn = tree(strip(Strip.of([StripLevel(L1, "", "/x/")])))
    target = next(rect for rect in drawn.iter(f"{SVG}rect"))
    assert float(target.get("height")) >= 24


def test_a_fracture_nobody_measured_is_marked_on_its_tick():
    used = pens(strip(Strip.of([StripLevel(Body("L4", state="fracture"), "fracture")])))
    assert used.count("knob-hot") == 1


@pytest.mark.parametrize(
    ("levels", "message"), [(["L1", "L1"], "stands twice"), (["C5"], "C5 is outside")]
)
def test_the_strip_refuses_what_it_cannot_show(levels, message):
    with pytest.raises(ValueError, match=message):
        Strip.of([StripLevel(Body(level)) for level in levels])


def test_strip_levels_stand_head_to_tail_in_the_list():
    given = [StripLevel(Body(code)) for code in ("L5", "T2", "L1")]
    assert [level.level for level in Strip.of(given).levels] == ["T2", "L1", "L5"]


# --- clock ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("days_ago", "state", "words"),
    [
        (0, "inside", "day 0, 42 days left"),
        (26, "inside", "day 26, 16 days left"),
        (34, "inside", "day 34, 8 days left"),
        (35, "soon", "day 35, 7 days left"),
        (41, "soon", "day 41, 1 day left"),
        (42, "last_day", "day 42, closes today"),
        (43, "closed", "day 43, closed 1 day ago"),
        (58, "closed", "day 58, closed 16 days ago"),
        (None, "no_onset", "no clock, onset not recorded"),
    ],
)
def test_the_clock_tells_age_and_what_is_left(days_ago, state, words):
    shown = face(days_ago)
    assert (shown.state, shown.title) == (state, words)
    assert tree(clock(shown)).find(f"{SVG}title").text == f"{words}. Window of 42 days."


@pytest.mark.parametrize(
    ("days_ago", "words"),
    [
        (10, "day 3 to 17, at least 25 days left"),
        (35, "day 28 to 42, may close today"),
        (40, "day 33 to 47, may have closed"),
        (60, "day 53 to 67, closed at least 11 days ago"),
    ],
)
def test_an_uncertain_onset_is_a_band_and_never_a_point(days_ago, words):
    shown = face(days_ago, "week")
    assert shown.title == words
    box = list(tree(clock(shown)).iter(f"{SVG}rect"))
    assert len(box) == 1
    assert float(box[0].get("width")) > 20


def test_each_clock_state_has_a_shape_of_its_own():
    def ends(days_ago):
        drawn = tree(clock(face(days_ago)))
        return {tag for tag in ("circle", "polygon", "rect") if list(drawn.iter(SVG + tag))}

    assert ends(20) == {"circle"}
    assert ends(40) == {"polygon"}
    assert ends(50) == {"rect"}
    assert ends(None) == set()


def test_all_clocks_have_one_length_and_the_window_in_the_middle():
    def lines(drawn):
        return tree(drawn).iter(f"{SVG}line")

    def base_line(drawn):
        line = next(one for one in lines(drawn) if one.get("y1") == one.get("y2") == "15")
        return float(line.get("x1")), float(line.get("x2"))

    def window_line(drawn):
        return next(float(one.get("x1")) for one in lines(drawn) if one.get("y1") == "2")

    drawn = [clock(face(days)) for days in (0, 26, 58, 400, None)]
    assert len({base_line(one) for one in drawn}) == 1
    left, right = base_line(drawn[0])
    assert {window_line(one) for one in drawn} == {(left + right) / 2}


def test_an_age_beyond_the_ruler_ends_in_an_arrow_inside_the_drawing():
    drawn = tree(clock(face(400)))
    (arrow,) = drawn.iter(f"{SVG}polygon")
    xs = [float(pair.split(",")[0]) for pair in arrow.get("points").split()]
    assert max(xs) <= float(drawn.get("width"))


# --- course and marks ----------------------------------------------------------


def pain(*values):
    days = (0, 42, 180, 365)
    pairs = zip(days, values, strict=False)
    return Course("Pain", tuple(CoursePoint(day, value, f"day {day}") for day, value in pairs))


def test_a_missing_value_leaves_a_gap_and_is_named():
    whole, gap = course(pain(8, 4, 3, 2)), course(pain(8, None, 3, 2))
    assert pens(whole).count("edge") == 3
    assert pens(gap).count("edge") == 1
    assert "8 day 0, not recorded day 42, 3 day 180" in gap


def test_first_and_latest_value_are_printed():
    assert shown_text(course(pain(8, None, 3))) == ["3", "8"]
    assert shown_text(course(pain(None, 5))) == ["5"]
    assert "nothing recorded" in course(Course("Pain", ()))


def test_zero_is_a_value_and_not_a_gap():
    assert "not recorded" not in course(pain(8, 0))
    assert pens(course(pain(8, 0))).count("dot") == 2


def test_every_mark_differs_from_every_other_in_shape():
    assert len({mark(shape) for shape in SHAPES}) == len(SHAPES)
    with pytest.raises(ValueError, match="not a mark"):
        mark("star")


@pytest.mark.parametrize(
    "drawn",
    [
        glyph(L1), closeup(Closeup(L1)), strip(Strip.of([StripLevel(L1)])), clock(face(3)),
        course(pain(1, 2)), mark("half"),
    ],
)  # fmt: skip
def test_no_drawing_holds_inline_style_or_script(drawn):
    tree(drawn)  # well formed
    assert not re.search(r"style=|<style|<script| on\w+=", drawn)
