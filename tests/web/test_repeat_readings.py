"""The page of repeat readings: who may, what it says when empty, and that it names nobody."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from register.history import acting
from register.models import ImageFile, ImageFrame, ImageSeries, Marking, Study
from register.selectors.measurement_error import with_own_error
from register.selectors.protocols import values_in_force
from register.selectors.repeat_readings import measured_again
from tests.factories import (
    make_fracture,
    make_measurement,
    make_patient,
    make_reading,
    make_referral,
    make_user,
)
from tests.web.people import People, make_people

PAGE = reverse("repeat-readings")
DAY = date(2027, 3, 1)
TODAY = date(2027, 3, 31)


@pytest.fixture
def people(db, monkeypatch) -> People:
    monkeypatch.setattr("reports.views.repeat_readings.localdate", lambda: TODAY)
    with acting("test"):
        return make_people()


@pytest.fixture
def fracture(people):
    with acting("test"):
        patient = make_patient(people.site, family_name="Zoëbeck", given_name="Ottilie")
        return make_fracture(make_referral(patient))


def marked(reading, frame=None, repeats=None):
    """A marking of a reading, on a frame of its study."""
    if frame is None:
        study = reading.study
        file = ImageFile.objects.create(
            study=study, sha256=f"{study.pk:064x}", size_bytes=1, kind="dicom"
        )
        series = ImageSeries.objects.create(study=study, plane="lateral")
        frame = ImageFrame.objects.create(series=series, file=file, rows=9, columns=9)
    return Marking.objects.create(
        reading=reading, frame=frame, observer=reading.observer, marked_on=reading.read_on,
        view="lateral", repeats=repeats,
    )  # fmt: skip


def read_again(fracture, first_by, second_by, pairs=1, *, blinded=False, **second):
    """Studies of one level that were read twice, a week apart."""
    for place in range(pairs):
        study = Study.objects.create(
            patient=fracture.patient, modality="film", posture="standing", performed_on=DAY
        )
        one, two = (
            make_reading(fracture, by, study=study, read_on=DAY + timedelta(days))
            for by, days in ((first_by, 0), (second_by, 7))
        )
        mark = marked(one) if blinded else None
        again = marked(two, mark.frame, mark) if mark else None
        height = Decimal(15 + place % 10)
        make_measurement(one, posture="standing", anterior_height_mm=height, marking=mark)
        make_measurement(
            two,
            **{"posture": "standing", "anterior_height_mm": height + Decimal(place % 5) / 2}
            | {"marking": again}
            | second,
        )


def words(answer):
    text = answer.content.decode().replace("\xa0", " ").replace("\u202f", " ")
    return " ".join(text.split())


def test_nobody_read_twice_and_the_page_says_how_to_get_there(people):
    answer = people.client("lead").get(PAGE)
    assert answer.status_code == 200
    assert "No level was measured twice on the same images." in words(answer)
    assert "5 mm" in words(answer)
    assert "from 50 blinded pairs of one measure on; the most there are is 0" in words(answer)


@pytest.mark.parametrize(("role", "status"), [("consultant", 200), ("nurse", 403)])
def test_the_rights_are_those_of_the_audit(people, role, status):
    assert people.client(role).get(PAGE).status_code == status


def test_pairs_are_compared_drawn_and_listed_without_a_name(people, fracture):
    with acting("test"):
        read_again(fracture, people.users["consultant"], people.users["lead"], 12)
    answer = people.client("lead").get(PAGE, {"measure": "anterior_height_mm", "kind": "two"})
    text = words(answer)
    assert "12 of 1 patient, 0 blinded" in text
    assert "Anterior height, two observers: difference against mean" in text
    assert "+0.9 (" in text
    assert answer.context["numbers"].rows[1][4].words == "+0.5"
    for name in ("Zoëbeck", "Ottilie", fracture.patient.nhs_number, str(people.users["lead"])):
        if name and name != str(answer.wsgi_request.user):
            assert name not in text


def test_blinded_pairs_can_be_looked_at_alone(people, fracture):
    consultant, lead = people.users["consultant"], people.users["lead"]
    with acting("test"):
        read_again(fracture, consultant, lead, 3)
        read_again(fracture, consultant, lead, 2, blinded=True)
    all_of_them, blinded = (
        people.client("lead").get(PAGE, query).context["page"]
        for query in ({}, {"pairs": "blinded"})
    )
    assert (all_of_them.chosen.n, blinded.chosen.n) == (5, 2)
    assert all_of_them.chosen.pairs.blinded == 2
    assert [bound.blinded for bound in blinded.bounds] == [2, 0]


def test_other_postures_are_counted_and_a_made_up_choice_is_not_followed(people, fracture):
    user = people.users["consultant"]
    with acting("test"):
        read_again(fracture, user, user, 1)
        read_again(fracture, user, user, 1, posture="supine")
    answer = people.client("lead").get(PAGE, {"measure": "<b>", "kind": "x"})
    assert answer.context["page"].chosen.n == 1
    assert "Read twice and left out: different postures: 1." in words(answer)


def test_other_sites_voided_rows_and_days_to_come_are_not_there(people, fracture):
    user = people.users["consultant"]
    with acting("test"):
        stranger = make_people()
        read_again(fracture, user, user, 1)
        later = make_reading(fracture, user, study=Study.objects.get(), read_on=TODAY)
        make_measurement(later, measured_on=TODAY + timedelta(1))
    assert len(measured_again(people.site, until=TODAY)) == 2
    assert measured_again(stranger.site, until=TODAY) == []
    with acting("test"):
        Study.objects.update(voided_at="2027-03-30T09:00Z", void_reason="wrong patient")
    assert measured_again(people.site, until=TODAY) == []


def test_the_number_of_queries_does_not_grow(people, fracture):
    consultant, client = people.users["consultant"], people.client("lead")
    with acting("test"):
        other = make_user(people.site, "consultant")
        read_again(fracture, consultant, other, 3, blinded=True)
    client.get(PAGE)

    def asked():
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert client.get(PAGE).status_code == 200
        return len(queries)

    few = asked()
    with acting("test"):
        read_again(fracture, consultant, other, 30)
    assert asked() == few


def test_enough_blinded_pairs_change_the_bound_everywhere(people, fracture):
    with acting("test"):
        read_again(fracture, people.users["consultant"], people.users["lead"], 50, blinded=True)
    agreed = values_in_force(site=people.site, on=TODAY)
    own = with_own_error(agreed, site=people.site, until=TODAY).entry("measures.height_error_mm")
    # 50 differences, ten each of 0, 0.5, 1, 1.5 and 2 mm: 1.96 · sqrt(75 / 50) = 2.40.
    assert (own.words, own.valid_from) == ("2.5 mm", TODAY)
    text = words(people.client("lead").get(PAGE))
    assert "Repeatability of this department up to 31 Mar 2027: 50 blinded pairs" in text
