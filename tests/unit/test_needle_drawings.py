"""Drawings of planned needles and of published widths: to scale, with the caution inside."""

from decimal import Decimal
from math import dist
from xml.etree import ElementTree

import pytest

from register.domain.approach.route import Place, Route
from register.domain.approach.widths import widths_at
from register.domain.drawing.approach import CAUTION, Scene, axial_view, lateral_view
from register.domain.drawing.widths import width_strip
from register.domain.outline import Heights

SVG = "{http://www.w3.org/2000/svg}"
LEFT = Route("left", 20.0, -5.0, 52.0, Place(20, 25, 5), Place(11, 5), 7.5, 4.0, 32.0)
RIGHT = Route("right", 18.0, -4.0, 50.0, Place(-20, 24, 4), Place(-11, 5), 7.5, 4.0, 32.0)
HEIGHTS = Heights(Decimal("16.4"), Decimal("15.5"), Decimal("26.2"), Decimal("32.0"))
SCENE = Scene("L1", (LEFT, RIGHT), HEIGHTS, Decimal("44.0"))
VIEWS = (axial_view, lateral_view)


def shapes(drawing, pen):
    found = ElementTree.fromstring(drawing).iter()
    return [shape for shape in found if shape.get("class") == f"d-{pen}"]


def ends(line):
    x1, y1, x2, y2 = (float(line.get(name)) for name in ("x1", "y1", "x2", "y2"))
    return (x1, y1), (x2, y2)


@pytest.mark.parametrize("view", VIEWS)
def test_the_caution_stands_in_the_drawing_itself(view):
    text = "".join(ElementTree.fromstring(view(SCENE)).itertext())
    assert " ".join(CAUTION) in text
    assert " ".join(CAUTION) == (
        "Planning aid, not guidance; position is confirmed on the image intensifier"
    )
    assert " ".join(CAUTION) in "".join(ElementTree.fromstring(view(Scene("L1", ()))).itertext())


def test_both_views_are_to_scale_and_in_one_scale():
    for view, span in (
        (axial_view, lambda a, b: dist((a.x_mm, a.y_mm), (b.x_mm, b.y_mm))),
        (lateral_view, lambda a, b: dist((a.y_mm, a.z_mm), (b.y_mm, b.z_mm))),
    ):
        for route, line in zip(SCENE.routes, shapes(view(SCENE), "run"), strict=True):
            drawn = dist(*ends(line)) / SCENE.scale
            assert drawn == pytest.approx(span(route.entry, route.target), abs=0.02)
        ruler = max(dist(*ends(line)) for line in shapes(view(SCENE), "measure"))
        assert ruler == pytest.approx(10 * SCENE.scale, abs=0.02)


def test_the_device_is_as_thick_as_it_is():
    corners = shapes(axial_view(SCENE), "quiet")[0].get("points").split()
    first, last = (tuple(map(float, corners[n].split(","))) for n in (0, 3))
    assert dist(first, last) == pytest.approx(4 * SCENE.scale, abs=0.02)


def test_the_left_of_the_patient_lies_on_the_right_and_the_front_on_the_left():
    left, right = (ends(line) for line in shapes(axial_view(SCENE), "run"))
    assert left[0][0] > right[0][0]
    assert left[0][1] > left[1][1], "the front is on top"
    side = ends(shapes(lateral_view(SCENE), "run")[0])
    assert side[0][0] > side[1][0], "the front is on the left"
    assert side[0][1] < side[1][1], "a tip nearer to the feet lies lower"


@pytest.mark.parametrize(("device", "hot"), [(3.0, 0), (4.0, 1)])
def test_a_wall_that_the_device_would_touch_is_marked(device, hot):
    route = Route("left", 20.0, 0.0, 52.0, Place(20, 25, 5), Place(11, 5), 7.5, device, 32.0)
    assert len(shapes(axial_view(Scene("L1", (route,), HEIGHTS)), "hot")) == hot


def test_what_was_not_measured_is_dashed_and_what_is_not_known_is_not_drawn():
    bare = Scene("L1", (Route("left", 20.0),))
    assert shapes(axial_view(bare), "run") == shapes(lateral_view(bare), "run") == []
    assert shapes(axial_view(bare), "edge-guess")
    assert "Dashed: not measured." in bare.caption
    assert "drawn once its entry" in bare.caption
    assert "Dashed" not in SCENE.caption
    assert not shapes(axial_view(Scene("L1", (), HEIGHTS, Decimal(44))), "edge-guess")


def test_only_series_with_a_band_have_a_bar_and_each_is_named():
    series = widths_at("L1")
    drawn = width_strip("L1", series, {"left": Decimal("7.2")})
    assert len(shapes(drawn, "band")) == sum(w.band_mm is not None for w in series) == 5
    assert len(shapes(drawn, "ring")) == len(series) - 5
    named = {text.text for text in ElementTree.fromstring(drawn).iter(f"{SVG}text")}
    assert {w.name for w in series} | {"left 7.2 mm"} <= named


@pytest.mark.parametrize("drawn", [view(SCENE) for view in VIEWS])
def test_nothing_is_inline_and_everything_is_inside_the_sheet(drawn):
    assert "style=" not in drawn
    root = ElementTree.fromstring(drawn)
    wide, tall = (float(root.get(name)) for name in ("width", "height"))
    for line in shapes(drawn, "run"):
        for x, y in ends(line):
            assert 0 <= x <= wide
            assert 0 <= y <= tall
