"""Reading marks: what is stored comes back, and what cannot be a mark is refused in words."""

import json

import pytest

from register.domain.measuring.points import VIEWS, Point, as_json, marks_of, middle_proposal
from tests.phantoms import AxialSlice, FrontalBody, LateralBody, axial, frontal, lateral

KNOWN = {"start": [10, 20], "end": [110, 20], "mm": "25.4"}


def test_marks_come_back_as_they_were_stored():
    stored = {"L1": {"upper_anterior": [1.25, -0.5], "lower_middle": [3, 4]}, "known": KNOWN}
    marks = marks_of(json.loads(json.dumps(stored)), "lateral")
    assert marks.at("L1")["upper_anterior"] == Point(1.25, -0.5)
    assert marks.known.mm == 25.4
    assert as_json(marks) == stored | {"known": KNOWN | {"mm": "25.4"}}


def test_levels_come_head_to_tail_and_an_empty_one_is_not_there():
    place = {"upper_anterior": [1, 2]}
    marks = marks_of({"L2": place, "T12": place, "L1": {}}, "lateral")
    assert list(marks.levels) == ["T12", "L2"]
    assert marks.at("L1") == {}


@pytest.mark.parametrize(
    ("view", "phantom"),
    [
        ("lateral", lateral(LateralBody("L1"))),
        ("frontal", frontal(FrontalBody("L1"))),
        ("axial", axial(AxialSlice("L1"))),
    ],
)
def test_each_view_takes_all_its_marks_and_no_other(view, phantom):
    stored = phantom.marks()
    needles = {name for name in VIEWS[view] if name.startswith(("entry_", "target_"))}
    assert set(marks_of(stored, view).at("L1")) == set(VIEWS[view]) - needles
    assert bool(needles) == (view == "axial")
    stored["L1"]["elsewhere"] = [1, 2]
    with pytest.raises(ValueError, match=f"'elsewhere' is not a mark of the {view} view"):
        marks_of(stored, view)


@pytest.mark.parametrize(
    ("stored", "words"),
    [
        ([], "The marks could not be read"),
        ({"L6": {}}, "'L6' is not a spinal level"),
        ({"L1": [1, 2]}, "The marks of L1 could not be read"),
        ({"L1": {"upper_anterior": [1]}}, "L1, upper end plate, front corner: a place is two"),
        ({"L1": {"upper_anterior": [1, "2"]}}, "'2' is not a number"),
        ({"L1": {"upper_anterior": [1, True]}}, "True is not a number"),
        ({"L1": {"upper_anterior": [1, float("nan")]}}, "nan is not a number"),
        ({"L1": {"upper_anterior": [float("inf"), 1]}}, "inf is not a number"),
        ({"L1": {"upper_anterior": [100, 5]}}, "lies outside the picture"),
        ({"L1": {"upper_anterior": [5, -0.6]}}, "lies outside the picture"),
        ({"known": {"start": [1, 2], "mm": 3}}, "needs its two ends"),
        ({"known": KNOWN | {"end": [10, 20]}}, "two ends that lie apart"),
        ({"known": KNOWN | {"end": [1, 500]}}, "The known length: the point lies outside"),
        ({"known": KNOWN | {"end": [50, 20], "mm": "an inch"}}, "must be a number of mm"),
        ({"known": KNOWN | {"end": [50, 20], "mm": 0}}, "above 0 and at most 1000 mm, not 0"),
        ({"known": KNOWN | {"end": [50, 20], "mm": "inf"}}, "above 0 and at most 1000 mm"),
    ],
)
def test_what_cannot_be_a_mark_is_refused(stored, words):
    with pytest.raises(ValueError, match=words):
        marks_of(stored, "lateral", rows=100, columns=100)


def test_the_edge_of_the_outer_pixels_is_still_in_the_picture():
    stored = {"L1": {"upper_anterior": [-0.5, 49.5]}}
    assert marks_of(stored, "lateral", rows=50, columns=60).at("L1")
    with pytest.raises(ValueError, match="outside"):
        marks_of(stored, "lateral", rows=49, columns=60)


def test_a_view_that_does_not_exist_is_refused():
    with pytest.raises(ValueError, match="'oblique' is not a view"):
        marks_of({}, "oblique")


def test_the_proposal_lies_halfway_between_the_corners_of_its_end_plate():
    body = marks_of(lateral(LateralBody("L1", middle_mm=12)).marks(), "lateral").at("L1")
    ends = body["upper_anterior"], body["upper_posterior"]
    proposed = middle_proposal(body)["upper_middle"]
    assert proposed == ((ends[0].x + ends[1].x) / 2, (ends[0].y + ends[1].y) / 2)
    one_corner = {name: body[name] for name in ("upper_anterior", "lower_anterior")}
    assert middle_proposal(one_corner) == {}
