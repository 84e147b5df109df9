"""Slices lie in one order whatever order they come in; planes are told by directions."""

from math import cos, radians, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from register.images.series import Slice, normal, order_of, plane_of

AXIAL = (1.0, 0, 0, 0, 1.0, 0)
SAGITTAL = (0, 1.0, 0, 0, 0, -1.0)
CORONAL = (1.0, 0, 0, 0, 0, -1.0)


def tilted(degrees):
    """An axial slice tilted about the left-right axis, as along a kyphotic segment."""
    return (1.0, 0, 0, 0, cos(radians(degrees)), sin(radians(degrees)))


@pytest.mark.parametrize(
    ("orientation", "plane"),
    [
        (AXIAL, "axial"),
        (SAGITTAL, "sagittal"),
        (CORONAL, "coronal"),
        (tuple(-one for one in AXIAL[:3]) + AXIAL[3:], "axial"),
        (tilted(30), "axial"),
        (tilted(34.9), "axial"),
        (tilted(45), "other"),
        (tilted(60), "coronal"),
        ((1, 0, 0, 1, 0, 0), "other"),
        ((), "other"),
    ],
)
def test_the_plane_of_a_slice(orientation, plane):
    assert plane_of(orientation) == plane


@pytest.mark.parametrize(
    ("view", "patient", "plane"),
    [
        ("LL", (), "lateral"),
        ("RL", ("A", "F"), "lateral"),
        ("", ("P", "FL"), "lateral"),
        ("AP", ("L", "F"), "frontal"),
        ("PA", (), "frontal"),
        ("", ("R", "H"), "frontal"),
        ("LL", ("L", "F"), "other"),
        ("", ("L", "P"), "other"),
        ("LLD", (), "other"),
        ("LLO", (), "other"),
        ("", ("X", "F"), "other"),
        ("", (), "other"),
    ],
)
def test_the_plane_of_a_film(view, patient, plane):
    assert plane_of((), view=view, patient=patient) == plane


@given(st.permutations(range(9)), st.sampled_from([AXIAL, tilted(20), SAGITTAL, CORONAL]))
def test_the_order_follows_the_position_and_not_the_number(shuffled, orientation):
    across = normal(orientation)
    slices = [
        Slice(tuple(7 + 3.0 * n * one for one in across), orientation, number=100 - i)
        for i, n in enumerate(shuffled)
    ]
    found = order_of(slices)
    places = [shuffled[i] for i in found.order]
    assert places in (list(range(9)), list(range(8, -1, -1)))
    assert (found.by, found.notes) == ("position", ())
    assert found.step_mm == pytest.approx(3.0)


def test_series_run_from_head_to_feet_and_from_right_to_left():
    axial = [Slice((0, 0, z), AXIAL) for z in (10, 30, 20)]
    assert order_of(axial).order == (1, 2, 0)
    sagittal = [Slice((x, 0, 0), SAGITTAL) for x in (10, -30, 20)]
    assert order_of(sagittal).order == (1, 0, 2)
    coronal = [Slice((0, y, 0), CORONAL) for y in (10, -30, 20)]
    assert order_of(coronal).order == (1, 0, 2)


def test_what_is_odd_is_told():
    stack = [Slice((0, 0, -z), AXIAL, n) for n, z in enumerate((0, 3, 6, 6, 12, 15))]
    found = order_of([*stack, Slice((), AXIAL, 0)])
    assert found.order == (0, 1, 2, 3, 4, 5, 6)
    assert found.notes == (
        "One picture lies at the same place as the one before it.",
        "Between pictures 4 and 5 there are 6.0 mm instead of 3.0 mm; one may be missing.",
        "One picture does not say where it lies; it stands at the end.",
    )


def test_without_positions_the_numbers_count():
    found = order_of([Slice(number=3), Slice(), Slice(number=1)])
    assert found.order == (2, 0, 1)
    assert (found.by, found.step_mm, found.notes) == ("number", None, ())


def test_pictures_of_several_directions_are_no_stack():
    found = order_of([Slice((0, 0, 9), AXIAL, 2), Slice((0, 0, 1), SAGITTAL, 1)])
    assert (found.by, found.order) == ("number", (1, 0))
    assert "different directions" in found.notes[0]


def test_nothing_has_an_order_too():
    assert order_of([]).order == ()
    assert order_of([Slice((0, 0, 0), AXIAL)]).step_mm is None
