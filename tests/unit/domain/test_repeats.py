"""Which readings are compared: same posture and scale, the first two in time, and why not."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from register.domain.comparing import (
    WHY_NOT,
    Circumstances,
    nearest_comparable,
    stated_posture,
    why_not_comparable,
)
from register.domain.repeats import ANGLES, HEIGHTS, Kind, Measured, pairs_of

FRONT, LOCAL = HEIGHTS[0], ANGLES[1]
STANDING = Circumstances("standing", "calibrated")
SUPINE = Circumstances("supine", "calibrated")
DAY = date(2027, 3, 7)


def measured(key, observer=1, day=0, mm="20.0", **fields):
    given = {
        "patient": 1,
        "study": 1,
        "level": "L1",
        "circumstances": STANDING,
        "values": {FRONT.field: Decimal(mm)},
    }
    return Measured(key=key, observer=observer, measured_on=DAY + timedelta(day), **given | fields)


def keys(found):
    return [(pair.first.key, pair.second.key) for pair in found.pairs]


@pytest.mark.parametrize(
    ("one", "other", "why"),
    [
        (STANDING, STANDING, ""),
        (STANDING, SUPINE, "posture"),
        (STANDING, Circumstances("", "calibrated"), "posture_missing"),
        (Circumstances("", ""), Circumstances("", ""), "posture_missing"),
        (STANDING, Circumstances("standing", "magnification"), "calibration"),
        (STANDING, Circumstances("standing", "none"), "uncalibrated"),
        (STANDING, Circumstances("standing", ""), "calibration_missing"),
        (Circumstances("supine", ""), Circumstances("supine", ""), "calibration_missing"),
    ],
)
def test_only_one_posture_and_one_scale_both_recorded_may_be_subtracted(one, other, why):
    assert why_not_comparable(one, other) == why_not_comparable(other, one) == why
    assert why == "" or why in dict(WHY_NOT)


def test_an_angle_needs_a_posture_and_no_scale():
    assert why_not_comparable(STANDING, Circumstances("standing", "none"), in_mm=False) == ""
    assert why_not_comparable(STANDING, SUPINE, in_mm=False) == "posture"


def test_a_ct_has_one_posture_and_a_film_may_have_two():
    told = {"answered": False, "of_study": "supine"}
    assert stated_posture("", modality="ct", **told) == "supine"
    assert stated_posture("", modality="film", **told) == ""
    assert stated_posture("", modality="ct", answered=True, of_study="supine") == ""


def test_the_nearest_before_is_the_first_that_may_be_subtracted():
    before = [("lying", SUPINE), ("old", STANDING), ("older", STANDING)]
    assert nearest_comparable(STANDING, before) == ("old", "")
    assert nearest_comparable(STANDING, []) == (None, "")


def test_without_any_the_reason_is_that_of_the_one_that_came_nearest():
    before = [("lying", SUPINE), ("other scale", Circumstances("standing", "magnification"))]
    assert nearest_comparable(STANDING, before) == ("other scale", "calibration")


def test_the_first_two_readings_in_time_are_a_pair_and_a_third_is_not_counted():
    rows = [measured(3, day=9), measured(1, day=0), measured(2, day=4)]
    assert keys(pairs_of(rows, FRONT, Kind.SAME)) == [(1, 2)]
    assert pairs_of(rows, FRONT, Kind.TWO).pairs == ()


def test_two_observers_are_paired_by_their_first_readings():
    rows = [measured(1), measured(2, day=1), measured(3, observer=2, day=2)]
    assert keys(pairs_of(rows, FRONT, Kind.TWO)) == [(1, 3)]
    assert keys(pairs_of(rows, FRONT, Kind.SAME)) == [(1, 2)]


def test_other_levels_studies_and_missing_values_make_no_pair():
    rows = [
        measured(1),
        measured(2, level="L2"),
        measured(3, study=2),
        measured(4, values={}),
    ]
    found = pairs_of(rows, FRONT, Kind.SAME)
    assert (found.pairs, found.left_out) == ((), ())


def test_readings_in_two_postures_are_left_out_and_counted():
    rows = [measured(1), measured(2, circumstances=SUPINE)]
    found = pairs_of(rows, FRONT, Kind.SAME)
    assert (found.pairs, found.left_out) == ((), (("different postures", 1),))


def test_a_reading_in_another_posture_does_not_hide_a_pair():
    rows = [measured(1, circumstances=SUPINE), measured(2, day=1), measured(3, day=2)]
    found = pairs_of(rows, FRONT, Kind.SAME)
    assert (keys(found), found.left_out) == ([(2, 3)], ())


@pytest.mark.parametrize(
    ("one", "other", "pairs"),
    [
        ("upper T12 to lower L1", "Upper T12 to lower L1", 1),
        ("upper T12 to lower L1", "upper T12 to lower L2", 0),
        ("", "", 0),
        ("local: upper T12 to lower L1", "local: upper T12 to lower L1; segmental: none", 1),
        ("local: upper T12 to lower L1", "vertebral: upper L1 to lower L1", 0),
    ],
)
def test_a_local_angle_is_compared_between_the_same_end_plates_only(one, other, pairs):
    angle = {"values": {LOCAL.field: Decimal("12.0")}}
    rows = [measured(1, end_plates=one, **angle), measured(2, end_plates=other, **angle)]
    found = pairs_of(rows, LOCAL, Kind.SAME)
    assert len(found.pairs) == pairs
    assert found.left_out == (() if pairs else (("end plates not named alike", 1),))


def test_blinded_is_who_marked_again_what_was_hidden():
    rows = [
        measured(1, marking=7),
        measured(2, observer=2, marking=8, repeats=7),
        measured(3, observer=3, marking=9),
    ]
    (pair,) = pairs_of(rows, FRONT, Kind.TWO, blinded_only=True).pairs
    assert (pair.first.key, pair.second.key, pair.is_blinded) == (1, 2, True)
    seen = pairs_of([rows[0], rows[2]], FRONT, Kind.TWO, blinded_only=True)
    assert seen.left_out == (("the first reading was not hidden", 1),)
    assert pairs_of([rows[0], rows[2]], FRONT, Kind.TWO).blinded == 0


@given(st.permutations([1, 2, 3, 4, 5, 6]))
def test_the_order_of_the_rows_changes_nothing(order):
    rows = [
        measured(key, observer=key % 2, day=key % 3, study=1 + key // 4, patient=key // 4)
        for key in order
    ]
    for kind in Kind:
        found = pairs_of(rows, FRONT, kind)
        assert found == pairs_of(sorted(rows, key=lambda one: one.key), FRONT, kind)
        assert found.patients <= len(found.pairs)


def test_each_pair_gives_its_values_in_time():
    rows = [measured(1, mm="20.4"), measured(2, day=1, mm="21.0"), measured(3, study=2, mm="8.0")]
    rows.append(replace(rows[2], key=4, values={FRONT.field: Decimal("7.0")}))
    found = pairs_of(rows, FRONT, Kind.SAME)
    assert (found.first, found.second, found.patients) == ([20.4, 8.0], [21.0, 7.0], 1)
