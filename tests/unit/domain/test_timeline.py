"""The figure of a course: to scale, with gaps, the same words as the picture."""

import re

import pytest

from register.domain.drawing.timeline import Band, Dot, Panel, Timeline, timeline


def drawn(*dots, bands=(), today=None):
    panel = Panel("Pain now", "of 10", 0, 10, tuple(dots))
    return timeline(Timeline("Course", (panel,), tuple(bands), "procedure", today))


def joins(text: str) -> int:
    return text.count('class="d-edge"')


def test_neighbouring_values_are_joined():
    assert joins(drawn(Dot(0, 8, "before"), Dot(21, 4, "early"), Dot(91, 3, "later"))) == 2


def test_a_missing_value_breaks_the_line_and_is_crossed():
    text = drawn(Dot(0, 8, "before"), Dot(21, None, "early"), Dot(91, 3, "later"))
    assert joins(text) == 0
    assert "8 before, not given early, 3 later" in text


def test_only_one_posture_is_joined():
    lying, standing = Dot(0, 20, "a", line="supine"), Dot(30, 18, "b", line="standing")
    assert joins(drawn(lying, standing)) == 0
    assert joins(drawn(lying, Dot(60, 19, "c", line="supine"), standing)) == 1


def circles(text: str) -> list[float]:
    return [float(x) for x in re.findall(r'<circle[^>]* cx="([0-9.]+)"', text)]


def test_time_is_to_scale():
    one, two, three = circles(drawn(Dot(0, 5, "a"), Dot(100, 5, "b"), Dot(300, 5, "c")))
    assert (three - two) / (two - one) == pytest.approx(2, abs=0.01)


def test_a_window_is_as_wide_as_its_days():
    text = drawn(Dot(0, 5, "a"), Dot(100, 5, "b"), bands=[Band(100, 200)])
    width = float(re.search(r'<rect[^>]* width="([0-9.]+)"', text)[1])
    first, second = circles(text)
    assert width == pytest.approx(second - first, abs=0.02)


def test_the_axis_holds_a_year_at_least_and_everything_drawn():
    panel = Panel("Pain now", "of 10", 0, 10, (Dot(-60, 5, "a"), Dot(800, 5, "b")))
    assert Timeline("x", (panel,), (), "procedure").days == (-60, 800)
    assert Timeline("x", (), (), "procedure").days == (-30, 365)


def test_no_style_attribute_is_written():
    assert "style=" not in drawn(Dot(0, 5, "a"), today=20)
