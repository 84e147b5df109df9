"""What holds for every outline, whatever was measured."""

from dataclasses import replace
from math import dist, isclose

from hypothesis import given
from hypothesis import strategies as st

from register.domain.outline import Heights, outline

lengths = st.floats(min_value=1, max_value=60, allow_nan=False)
maybe = st.none() | lengths
end_plates = st.sampled_from(["superior", "inferior", "both", "none", ""])
complete = st.builds(Heights, lengths, lengths, lengths, lengths)
some = st.builds(Heights, maybe, maybe, maybe, maybe)


def area(drawn):
    """The area of the six-point polygon, by the shoelace formula."""
    upper, lower = drawn.ring
    ring = [*upper.points, *lower.points]
    pairs = zip(ring, ring[1:] + ring[:1], strict=True)
    return abs(sum(a.x * b.y - b.x * a.y for a, b in pairs)) / 2


def close(one, other):
    """Whether two lists of points agree."""
    pairs = zip(one, other, strict=True)
    return all(dist(point, other_point) < 1e-9 for point, other_point in pairs)


@given(complete, end_plates)
def test_every_measured_height_is_drawn_at_its_length(heights, gave_way):
    front, middle, back = (heights.anterior_mm, heights.middle_mm, heights.posterior_mm)
    marks = outline(heights, gave_way=gave_way).marks
    drawn = [dist(marks[i], marks[i + 1]) for i in (0, 2, 4)]
    assert all(isclose(a, b) for a, b in zip(drawn, (front, middle, back), strict=True))


@given(some.filter(lambda h: h.any_height), end_plates)
def test_front_and_back_swapped_is_the_mirror_image(heights, gave_way):
    swapped = replace(heights, anterior_mm=heights.posterior_mm, posterior_mm=heights.anterior_mm)
    one = sorted(outline(heights, gave_way=gave_way).marks)
    other = sorted((-x, y) for x, y in outline(swapped, gave_way=gave_way).marks)
    assert close(one, other)


@given(some.filter(lambda h: h.any_height))
def test_upper_and_lower_end_plate_are_mirror_images(heights):
    one = sorted(outline(heights, gave_way="superior").marks)
    other = sorted((x, -y) for x, y in outline(heights, gave_way="inferior").marks)
    assert close(one, other)


@given(complete, end_plates, st.floats(min_value=0.1, max_value=0.99))
def test_losing_anterior_height_makes_the_body_smaller(heights, gave_way, share):
    lower = replace(heights, anterior_mm=heights.anterior_mm * share)
    assert area(outline(lower, gave_way=gave_way)) < area(outline(heights, gave_way=gave_way))


@given(complete, end_plates)
def test_the_end_plates_never_touch(heights, gave_way):
    upper, lower = outline(heights, gave_way=gave_way).edges[:2]
    if not upper.curved:
        return
    for step in range(1, 20):
        t = step / 20
        assert _on_curve(upper, t) < _on_curve(lower, t)


@given(some.filter(lambda h: h.any_height), end_plates, st.floats(min_value=-80, max_value=80))
def test_turning_changes_no_length(heights, gave_way, tilt):
    level = outline(heights, gave_way=gave_way)
    turned = outline(heights, gave_way=gave_way, tilt_deg=tilt)
    for one, other in zip(level.edges, turned.edges, strict=True):
        straight = dist(one.points[0], one.points[-1])
        assert isclose(straight, dist(other.points[0], other.points[-1]), abs_tol=1e-9)
        assert (one.measured, one.curved) == (other.measured, other.curved)


@given(some, end_plates)
def test_what_was_not_measured_is_never_a_solid_line(heights, gave_way):
    drawn = outline(heights, gave_way=gave_way)
    if drawn is None:
        return
    places = {point.x for point in drawn.marks}
    for edge in drawn.edges:
        ends = {edge.points[0].x, edge.points[-1].x}
        if edge.measured and len(ends) == 2:
            assert heights.depth_mm is not None
            assert heights.middle_mm is not None
            assert ends <= places


def _on_curve(edge, t):
    """The height of a quadratic curve that passes through the middle point at t = 0.5."""
    start, through, end = (point.y for point in edge.points)
    control = 2 * through - (start + end) / 2
    return (1 - t) ** 2 * start + 2 * t * (1 - t) * control + t**2 * end
