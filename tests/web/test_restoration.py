"""Height before and after a treatment, on the record and in the course: compared, or refused."""

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.timezone import localdate

from register.domain.days import day_words
from register.history import acting
from register.models import ImageFile, ImageFrame, ImageSeries, Marking, Study
from tests.factories import (
    make_measurement,
    make_procedure,
    make_reading,
    make_review,
    make_technique,
)
from tests.web.record import DAY, a_fracture, get, record, text

pytestmark = pytest.mark.django_db


@pytest.fixture
def done_on():
    return localdate() - 40 * DAY


@pytest.fixture
def fracture(people, done_on):
    made = a_fracture(people, onset_on=done_on - 20 * DAY, referred_on=done_on - 15 * DAY)
    with acting("test"):
        user = people.users["consultant"]
        procedure = make_procedure(
            made, make_technique(people.site), user, performed_on=done_on, state="open"
        )
        make_review(procedure)
        made.state = "treated"
        made.save()
    return made


def image(people, fracture, days, mm, *, level="L1", posture="standing", **fields):
    """A film so many days after the treatment, with its three heights; returns the measurement."""
    user, taken_on = people.users["consultant"], _day_of(fracture, days)
    with acting("test"):
        study, _ = Study.objects.get_or_create(
            patient=fracture.patient, modality="film", performed_on=taken_on
        )
        reading = make_reading(fracture, user, study=study, level=level, read_on=taken_on)
        if level != fracture.level:
            reading.fracture, reading.end_plates = None, "none"
            reading.save()
        names = ("anterior_height_mm", "middle_height_mm", "posterior_height_mm")
        heights = dict(zip(names, [Decimal(one) for one in mm], strict=False))
        given = {name: None for name in names} | heights
        return make_measurement(reading, **{"posture": posture} | given | fields)


def _day_of(fracture, days):
    procedure = fracture.treatments.get().procedure
    return procedure.performed_on + days * DAY


def before_and_reference(people, fracture, **fields):
    image(people, fracture, -5, ["15.0", "16.0", "24.0"], **fields)
    image(people, fracture, -5, ["25.0", "24.0", "24.0"], level="T12", **fields)


def test_the_four_ways_stand_side_by_side_with_millimetres(people, fracture):
    before_and_reference(people, fracture)
    image(people, fracture, 10, ["20.5", "18.0", "25.0"])
    words = text(get(people, record(fracture)))
    # 15 to 20.5 of 25: 5.5 mm, 36.7 % of before, 55 % of what was lost, 22 % of the reference.
    assert "Anterior 15.0 20.5 25.0 +5.5 +36.7 +55.0 +22.0 higher" in words
    assert "Middle 16.0 18.0 24.0 +2.0 +12.5 +25.0 +8.3 within measurement error" in words
    # Nothing was lost at the back: a share of it is not defined.
    assert "Posterior 24.0 25.0 24.0 +1.0 +4.2 not defined +4.2 within measurement error" in words
    assert "Reference: T12 on the images before." in words
    assert "A change below 5 mm is within measurement error. Source: Bound chosen" in words


def test_without_a_neighbour_there_is_no_reference_and_nothing_is_made_up(people, fracture):
    image(people, fracture, -5, ["15.0"])
    image(people, fracture, 10, ["9.0"])
    words = text(get(people, record(fracture)))
    assert "Anterior 15.0 9.0 not defined −6.0 −40.0 not defined not defined lower" in words
    assert "No intact neighbour was measured on the images before: no reference." in words


@pytest.mark.parametrize(
    ("after", "why"),
    [
        ({"posture": "supine"}, "different postures"),
        ({"posture": ""}, "posture not recorded"),
        ({"calibration": "magnification"}, "calibrated in different ways"),
        ({"calibration": ""}, "calibration not recorded"),
    ],
)
def test_another_posture_or_scale_is_refused_and_both_are_shown(people, fracture, after, why):
    before_and_reference(people, fracture)
    image(people, fracture, 10, ["20.5", "18.0", "25.0"], **after)
    words = text(get(people, record(fracture)))
    assert f"Not comparable: {why}. Not called restoration." in words
    assert "+5.5" not in words
    assert (
        f"Before: {day_words(_day_of(fracture, -5))}, standing, calibrated pixel spacing." in words
    )
    course = text(get(people, reverse("course", args=[fracture.patient_id])))
    assert f"not comparable: {why}" in course


def test_an_image_of_the_day_itself_is_neither_before_nor_after(people, fracture):
    before_and_reference(people, fracture)
    image(people, fracture, 0, ["20.5", "18.0", "25.0"])
    assert "No height was measured on images after the treatment." in text(
        get(people, record(fracture))
    )
    course = text(get(people, reverse("course", args=[fracture.patient_id])))
    assert "not compared: taken on the day of the procedure" in course
    image(people, fracture, 10, ["21.0"])
    words = text(get(people, record(fracture)))
    assert "Anterior 15.0 21.0 25.0 +6.0" in words
    assert "+6.0 mm" in text(get(people, reverse("course", args=[fracture.patient_id])))


def test_without_an_image_before_there_is_nothing_to_compare(people, fracture):
    image(people, fracture, 10, ["20.5"])
    assert "No height was measured on images before the treatment" in text(
        get(people, record(fracture))
    )
    course = text(get(people, reverse("course", args=[fracture.patient_id])))
    assert "not compared: no height before" in course


def test_the_course_says_each_change_and_what_is_within_the_error(people, fracture):
    before_and_reference(people, fracture)
    image(people, fracture, 10, ["20.5"])
    image(people, fracture, 30, ["19.5"])
    course = text(get(people, reverse("course", args=[fracture.patient_id])))
    assert "+5.5 mm" in course
    assert "+4.5 mm, within measurement error" in course
    assert "A change of a height below 5 mm is within measurement error." in course


def test_an_angle_is_compared_in_one_posture_with_its_own_bound(people, fracture):
    angle = {"vertebral_angle_deg": Decimal("18.5")}
    image(people, fracture, -5, ["15.0"], calibration="none", **angle)
    image(people, fracture, 10, ["20.5"], vertebral_angle_deg=Decimal("11.0"))
    words = text(get(people, record(fracture)))
    assert "Vertebral angle, after minus before: −7.5°, within measurement error." in words
    assert "Not comparable: not calibrated, ratios only." in words


def test_a_blinded_repeat_changes_no_number_of_the_patient(people, fracture):
    before_and_reference(people, fracture)
    kept = image(people, fracture, 10, ["20.5", "18.0", "25.0"])
    study = kept.reading.study
    with acting("test"):
        file = ImageFile.objects.create(study=study, sha256="0" * 64, size_bytes=1, kind="dicom")
        series = ImageSeries.objects.create(study=study, plane="lateral")
        frame = ImageFrame.objects.create(series=series, file=file, rows=9, columns=9)
        again = make_reading(fracture, people.users["nurse"], study=study, read_on=localdate())
        first, second = (
            Marking(reading=one, frame=frame, observer=one.observer, marked_on=one.read_on,
                    view="lateral")
            for one in (kept.reading, again)
        )  # fmt: skip
        first.save()
        second.repeats = first
        second.save()
        kept.marking = first
        kept.save()
        make_measurement(
            again, posture="standing", anterior_height_mm=Decimal("29.9"), marking=second
        )
    words = text(get(people, record(fracture)))
    assert "Anterior 15.0 20.5 25.0" in words
    assert "29.9" not in words
    assert "29.9" not in text(get(people, reverse("course", args=[fracture.patient_id])))


def test_a_fracture_never_treated_has_no_such_part(people):
    assert "Height before and after treatment" not in text(get(people, record(a_fracture(people))))


def test_the_queries_do_not_grow_with_the_images(people, fracture):
    before_and_reference(people, fracture)
    pages = [record(fracture), reverse("course", args=[fracture.patient_id])]
    image(people, fracture, 10, ["20.5"])

    def asked():
        counts = []
        for page in pages:
            with CaptureQueriesContext(connection) as queries:
                get(people, page)
            counts.append(len(queries))
        return counts

    asked()
    few = asked()
    for days in range(11, 25):
        image(people, fracture, days, ["20.5"])
    assert asked() == few
