"""Heights in the audit: never subtracted across postures or scales, and the bound that was used."""

import json
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from register.domain.protocol import Source, SourceKind
from reports.audits.numbers.heights import heights
from reports.audits.quarter import build
from reports.audits.rows import HeightRow, Rows
from reports.audits.spec import Spec
from tests.unit.reports.invented import SPEC
from tests.unit.reports.test_audit_numbers import DAY, level, procedure


def height(key, days, mm, posture="standing", level_key="L1", calibration="calibrated"):
    return HeightRow(
        key=key,
        level=level_key,
        taken_on=DAY + timedelta(days=days),
        modality="film",
        posture=posture,
        calibration=calibration,
        anterior_mm=None if mm is None else Decimal(mm),
        middle_mm=None,
        posterior_mm=None,
    )


def height_rows(*images):
    return Rows(procedures=(procedure(),), levels=(level("L1"),), heights=images)


def test_a_height_is_never_subtracted_from_one_in_another_posture():
    found = heights(
        SPEC,
        height_rows(height("a", -3, "18.0", "supine"), height("b", 2, "21.0", "standing")),
        SPEC.since_start,
    )
    assert found.compared == ()
    assert {(one.timepoint, one.posture) for one in found.at} == {
        ("before", "supine"),
        ("day_1", "standing"),
    }


@pytest.mark.parametrize(
    ("after", "counts"),
    [("22.9", (0, 1, 0)), ("23.0", (1, 0, 0)), ("13.0", (0, 0, 1)), ("13.1", (0, 1, 0))],
)
def test_a_change_below_the_error_is_not_called_one_and_the_bound_is_a_change(after, counts):
    rows = height_rows(height("a", -3, "18.0"), height("b", 2, after))
    (one,) = heights(SPEC, rows, SPEC.since_start).compared
    assert (one.higher, one.within, one.lower) == counts
    assert one.change.mean == pytest.approx(float(Decimal(after) - 18))


def test_images_that_cannot_be_used_are_counted_by_reason():
    found = heights(
        SPEC,
        height_rows(
            height("a", -3, "18.0"),
            height("b", 0, "20.0"),
            height("c", 2, "20.0", posture=""),
            height("d", 2, "20.0", calibration="none"),
            height("e", 2, None),
            height("f", 10, "20.0"),
            height("g", 3, "20.0", calibration=""),
        ),
        SPEC.since_start,
    )
    assert (found.same_day, found.no_posture, found.uncalibrated) == (1, 1, 1)
    assert (found.no_height, found.between_windows, found.calibration_unknown) == (1, 1, 1)
    assert found.scales == (("calibrated pixel spacing", 1),)
    assert found.compared == ()  # how "g" was calibrated is not recorded
    assert found.not_comparable == (("calibration not recorded", 1),)


def test_what_is_not_comparable_is_counted_by_what_stands_in_the_way():
    before, after = ("before", -3, "18.0"), ("after", 2, "21.0")
    for images, reason in (
        ([height(*after)], "no usable height before"),
        ([height(*before, "supine"), height(*after)], "different postures"),
        (
            [height(*before, calibration="magnification"), height(*after)],
            "calibrated in different ways",
        ),
        (
            [height("x", -9, "18.0", "supine"), height(*before, calibration=""), height(*after)],
            "calibration not recorded",
        ),
    ):
        found = heights(SPEC, height_rows(*images), SPEC.since_start)
        assert (found.compared, found.not_comparable) == ((), ((reason, 1),))
    both = height_rows(height(*before), height(*after), height("lying", 3, "24.0", "supine"))
    assert heights(SPEC, both, SPEC.since_start).not_comparable == ()


def test_the_bound_that_the_department_measured_is_used_and_frozen_with_its_source():
    own = SPEC.protocol.with_value(
        "measures.height_error_mm",
        "2.4",
        source=Source("own", "62 blinded pairs", SourceKind.MEASURED_HERE, SPEC.cut_off),
        since=SPEC.cut_off,
    )
    spec = replace(SPEC, measured=(own.entry("measures.height_error_mm"),))
    rows = height_rows(height("a", -3, "18.0"), height("b", 2, "20.5"))
    assert heights(SPEC, rows, SPEC.since_start).compared[0].within == 1
    (one,) = heights(spec, rows, SPEC.since_start).compared
    assert (one.higher, one.within) == (1, 0)
    assert Spec.from_json(json.loads(json.dumps(spec.as_json()))) == spec
    assert Spec.from_json({k: v for k, v in SPEC.as_json().items() if k != "measured"}) == SPEC
    words = str(build(spec, rows).document.sections)
    assert "a change below 2.4 mm is within measurement error" in words
    assert "62 blinded pairs (measured in this department)" in words
    assert "62 blinded pairs" not in str(build(SPEC, rows).document.sections)


def test_of_two_images_in_one_window_the_one_nearest_to_its_day_counts():
    rows = height_rows(height("a", -30, "15.0"), height("b", -2, "18.0"), height("c", 2, "20.0"))
    (one,) = heights(SPEC, rows, SPEC.since_start).compared
    assert one.change.mean == pytest.approx(2.0)
