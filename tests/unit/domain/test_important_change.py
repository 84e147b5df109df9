"""Important change: both bounds, from below, at, and above."""

from datetime import date
from decimal import Decimal as D

import pytest

from register.domain.important_change import (
    Bounds,
    important_change,
    important_change_by,
    odi_percent,
)
from register.domain.protocol import Source, SourceKind, shipped

DAY = date(2026, 11, 25)


@pytest.mark.parametrize(
    ("measure", "baseline", "follow_up", "by_points", "by_percent"),
    [
        ("nrs", 8, 5, True, True),
        ("nrs", 8, 6, True, False),  # 25 % of the baseline
        ("nrs", 8, 7, False, False),
        ("nrs", 3, 2, False, True),
        ("nrs", 10, 7, True, True),  # exactly 30 %
        ("nrs", 4, 7, False, False),
        ("vas", 50, 35, True, True),
        ("vas", 50, 36, False, False),
        ("rmdq", 15, 10, True, True),
        ("rmdq", 15, 11, False, False),
        ("odi", 40, 30, True, False),
        ("odi", 40, 31, False, False),
    ],
)
def test_a_bound_that_is_reached_counts(measure, baseline, follow_up, by_points, by_percent):
    found = important_change(measure, baseline, follow_up)
    assert (found.by_points, found.by_percent) == (by_points, by_percent)
    assert found.change == follow_up - baseline


def test_a_share_of_no_pain_is_not_defined():
    assert important_change("nrs", 0, 0).by_percent is None


def test_tenths_do_not_drift():
    assert important_change("nrs", 0.3, 0.21).by_percent is True  # exactly 30 % of 0.3


@pytest.mark.parametrize(
    ("measure", "baseline", "says"),
    [
        ("nrs", 11, "The baseline of nrs lies from 0 to 10"),
        ("rmdq", -1, "The baseline of rmdq lies from 0 to 24"),
        ("mood", 3, "'mood' has no published bound"),
        ("nrs", None, "The baseline must be a number"),
    ],
)
def test_an_impossible_score_is_refused(measure, baseline, says):
    with pytest.raises(ValueError, match=says):
        important_change(measure, baseline, 2)


def test_a_department_may_set_its_own_bound():
    own = Source("ours", "Local protocol", SourceKind.COMMON_PRACTICE, DAY)
    values = shipped(DAY).with_value("change.nrs_points", D("1.5"), source=own, since=DAY)
    assert important_change_by(Bounds.of(values), "nrs", 8, D("6.5")).by_points
    assert not important_change("nrs", 8, D("6.5")).by_points


def test_a_section_that_was_not_answered_lowers_the_denominator():
    assert odi_percent(16, 10) == 32
    assert round(odi_percent(16, 9), 2) == D("35.56")


@pytest.mark.parametrize(
    ("total", "sections", "says"),
    [
        (0, 0, "from 1 to 10"),
        (10, 11, "from 1 to 10"),
        (46, 9, "a sum from 0 to 45"),
        (-1, 9, "a sum from 0 to 45"),
        (2.5, 9, "a sum from 0 to 45"),
    ],
)
def test_an_impossible_questionnaire_is_refused(total, sections, says):
    with pytest.raises(ValueError, match=says):
        odi_percent(total, sections)
