"""A study and the page of one level: findings, heights, neighbours, the drawing."""

from decimal import Decimal

import pytest
from django.urls import reverse

from register.history import acting
from register.models import Fracture, Measurement, Reading, Study
from tests.clock import stop_clock
from tests.factories import TODAY, make_fracture, make_patient, make_referral
from tests.web.people import People, make_people


@pytest.fixture
def people(db, monkeypatch) -> People:
    stop_clock(monkeypatch, TODAY)
    with acting("test"):
        return make_people()


@pytest.fixture
def client(people):
    return people.client("consultant")


@pytest.fixture
def fracture(people) -> Fracture:
    with acting("test"):
        return make_fracture(
            make_referral(make_patient(people.site, family_name="Ashbeck", given_name="Maud"))
        )


@pytest.fixture
def study(fracture) -> Study:
    with acting("test"):
        return Study.objects.create(
            patient=fracture.patient, modality="mri", performed_on=TODAY, posture="supine"
        )


@pytest.fixture
def address(study):
    return reverse("reading-new", args=[study.pk, "L1"])


@pytest.fixture
def typed(people, fracture):
    """A filled page of L1 with both neighbours."""

    def filled(**changes: str) -> dict[str, str]:
        return {
            "observer": str(people.users["consultant"].pk),
            "read_on_day": "7",
            "read_on_month": "Mar",
            "read_on_year": "2027",
            "fracture": str(fracture.pk),
            "end_plates": "superior",
            "oedema": "band",
            "here-method": "workstation",
            "here-posture": "supine",
            "here-calibration": "calibrated",
            "here-anterior_height_mm": "16.4",
            "here-middle_height_mm": "15.5",
            "here-posterior_height_mm": "26.2",
            "here-depth_mm": "34.0",
            "t12-anterior_height_mm": "22.0",
            "t12-posterior_height_mm": "24.0",
            "l2-anterior_height_mm": "24.0",
            "l2-posterior_height_mm": "26.0",
        } | {name.replace("__", "-"): value for name, value in changes.items()}

    return filled


def stored(reading: Reading, typed) -> dict[str, str]:
    """The page of a stored reading as it is given out."""
    data = typed(version=str(reading.version))
    rows = {"here": reading.level, "t12": "T12", "l2": "L2"}
    for prefix, level in rows.items():
        found = Measurement.objects.get(reading__level=level)
        data |= {f"{prefix}-id": str(found.pk), f"{prefix}-version": str(found.version)}
    return data


# --- the study ------------------------------------------------------------------------------


def test_a_study_is_saved_and_shows_its_spine(client, fracture):
    patient = fracture.patient
    answer = client.post(
        reverse("study-new", args=[patient.pk]),
        {
            "modality": "mri",
            "performed_on_day": "1",
            "performed_on_month": "3",
            "performed_on_year": "2027",
            "counted_from": "absent:not_known",
            "rib_bearing_bodies_absent": "not_done",
        },
    )
    study = Study.objects.get()
    assert answer.url == reverse("study-edit", args=[study.pk])
    assert study.absent == {"counted_from": "not_known", "rib_bearing_bodies": "not_done"}
    text = client.get(answer.url).content.decode()
    assert reverse("reading-new", args=[study.pk, "L1"]) in text
    assert "L1, fracture, not read here" in text


def test_a_study_changed_by_two_people_shows_both_values(client, study):
    address = reverse("study-edit", args=[study.pk])
    data = {
        "modality": "mri",
        "performed_on_day": "7",
        "performed_on_month": "3",
        "performed_on_year": "2027",
    }
    assert client.post(address, data | {"version": "1", "sequences": "T1"}).status_code == 302
    answer = client.post(address, data | {"version": "1", "sequences": "STIR"})
    assert answer.status_code == 422
    assert "<td>T1</td><td>STIR</td>" in answer.content.decode()


# --- one level ------------------------------------------------------------------------------


def test_a_level_is_saved_with_heights_and_both_neighbours(
    client, people, address, typed, fracture
):
    answer = client.post(address, typed())
    reading = Reading.objects.get(level="L1")
    assert answer.url == reverse("reading-edit", args=[reading.pk])
    assert (reading.fracture, reading.oedema, reading.cleft) == (fracture, "band", None)
    assert reading.observer == people.users["consultant"]
    measured = {m.reading.level: m for m in Measurement.objects.select_related("reading")}
    assert set(measured) == {"T12", "L1", "L2"}
    assert measured["L1"].middle_height_mm == Decimal("15.5")
    assert (measured["T12"].anterior_height_mm, measured["T12"].middle_height_mm) == (
        Decimal("22.0"),
        None,
    )
    assert measured["T12"].method == "workstation"
    assert Reading.objects.get(level="T12").end_plates == ""


def test_the_drawing_is_made_of_what_was_saved(client, address, typed):
    blank = client.get(address).content.decode()
    assert "Height lost: needs the heights of L1 and of T12 or L2" in blank
    client.post(address, typed())
    text = client.get(
        reverse("reading-edit", args=[Reading.objects.get(level="L1").pk])
    ).content.decode()
    # 1 − 16.4 / ((22.0 + 24.0) / 2) = 28.7 %
    assert "Height lost at the front: 29 % (wedge), compared with T12 and L2." in text
    assert "Anterior height 16.4 mm, middle height 15.5 mm" in text


def test_the_drawing_follows_the_boxes_and_saves_nothing(client, study, typed):
    address = reverse("reading-drawing", args=[study.pk, "L1"])
    text = client.post(address, typed(**{"here__anterior_height_mm": "11.5"})).content.decode()
    assert "Height lost at the front: 50 % (wedge), compared with T12 and L2." in text
    assert "<h1>" not in text
    half = client.post(address, {"here-anterior_height_mm": "1x", "here-posterior_height_mm": "2"})
    assert half.status_code == 200
    assert Reading.objects.count() == 0
    assert client.get(address).status_code == 405


def test_a_fractured_neighbour_gives_no_reference(client, study, typed, people, fracture):
    with acting("test"):
        make_fracture(fracture.referral, level="T12")
    text = client.post(reverse("reading-drawing", args=[study.pk, "L1"]), typed()).content.decode()
    assert "compared with L2." in text


def test_an_unlikely_height_is_asked_about_once_and_its_reason_is_kept(client, address, typed):
    answer = client.post(address, typed(here__anterior_height_mm="3.0"))
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "L1 anterior height: 3.0 mm is unusual; most lie between 5 and 40 mm (" in text
    assert Reading.objects.count() == 0
    why = {"here__anterior_height_mm": "3.0", "here__anterior_height_mm_unlikely": "vertebra plana"}
    assert client.post(address, typed(**why)).status_code == 302
    reading = Reading.objects.get(level="L1")
    measured = reading.measurements.get()
    assert measured.unusual == {"anterior_height_mm": "vertebra plana"}
    assert reading.note == ""
    page = client.get(reverse("reading-edit", args=[reading.pk])).content.decode()
    assert 'value="vertebra plana"' in page
    again = stored(reading, typed) | {
        "here-anterior_height_mm": "3.0",
        "here-anterior_height_mm_unlikely": "vertebra plana",
    }
    assert client.post(reverse("reading-edit", args=[reading.pk]), again).status_code == 302
    measured.refresh_from_db()
    assert measured.unusual == {"anterior_height_mm": "vertebra plana"}
    reading.refresh_from_db()
    usual = stored(reading, typed) | {"here-anterior_height_mm": "12.0"}
    assert client.post(reverse("reading-edit", args=[reading.pk]), usual).status_code == 302
    measured.refresh_from_db()
    assert measured.unusual == {}, "a reason stays only while its value is unusual"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"here__anterior_height_mm": "0.4"}, "L1 anterior height must be from 1 to 60 mm"),
        ({"t12__depth_mm": "7,5"}, "point instead of the comma"),
        ({"here__anterior_height_mm_absent": "not_done"}, "not both"),
        ({"retropulsion_mm": "-1"}, "must be from 0 to 30 mm"),
        ({"canal_percent": "33.3"}, "whole number"),
        ({"read_on_year": "2028"}, "on or before 07 Mar 2027"),
        ({"fracture": "987654"}, "Select a valid choice"),
    ],
)
def test_what_cannot_be_is_refused_and_keeps_what_was_typed(client, address, typed, changes, words):
    answer = client.post(address, typed(quantitative_note="b 500", **changes))
    text = answer.content.decode()
    assert answer.status_code == 422
    assert words in text
    assert 'value="b 500"' in text
    assert "<title>Error: L1" in text
    assert Reading.objects.count() == Measurement.objects.count() == 0


def test_findings_alone_make_no_measurement(client, address, typed):
    data = {name: value for name, value in typed().items() if "_mm" not in name}
    assert client.post(address, data).status_code == 302
    assert (Reading.objects.count(), Measurement.objects.count()) == (1, 0)


def test_a_reason_for_no_height_is_a_measurement(client, address, typed):
    data = {name: value for name, value in typed().items() if "_mm" not in name}
    client.post(
        address, data | {"here-anterior_height_mm_absent": "not_done", "cleft": "absent:not_known"}
    )
    assert Measurement.objects.get().absent == {"anterior_height_mm": "not_done"}
    assert Reading.objects.get().absent == {"cleft": "not_known"}


def test_a_change_keeps_the_same_rows(client, address, typed):
    client.post(address, typed())
    reading = Reading.objects.get(level="L1")
    edit = reverse("reading-edit", args=[reading.pk])
    assert (
        client.post(
            edit, stored(reading, typed) | {"t12-anterior_height_mm": "22.5", "cleft": "yes"}
        ).status_code
        == 302
    )
    assert (Reading.objects.count(), Measurement.objects.count()) == (3, 3)
    assert Measurement.objects.get(reading__level="T12").anterior_height_mm == Decimal("22.5")
    reading.refresh_from_db()
    assert (reading.cleft, reading.version) == (True, 2)


def test_heights_changed_by_two_people_show_both_values(client, address, typed):
    client.post(address, typed())
    reading = Reading.objects.get(level="L1")
    edit = reverse("reading-edit", args=[reading.pk])
    mine = stored(reading, typed) | {"here-anterior_height_mm": "15.0"}
    client.post(edit, stored(reading, typed) | {"here-anterior_height_mm": "17.0"})
    reading.refresh_from_db()
    answer = client.post(edit, mine | {"version": str(reading.version)})
    assert answer.status_code == 422
    assert "<td>17\u00a0mm</td><td>15\u00a0mm</td>" in answer.content.decode()
    assert Measurement.objects.get(reading=reading).anterior_height_mm == Decimal("17.0")


def test_the_same_page_sent_twice_makes_one_reading(client, address, typed):
    token = client.get(address).context["form"]["token"].value()
    for _ in range(2):
        assert client.post(address, typed(token=token)).status_code == 302
    assert Reading.objects.filter(level="L1").count() == 1


def test_a_second_reading_of_the_day_by_the_same_person_is_told(client, address, typed):
    client.post(address, typed())
    answer = client.post(address, typed())
    assert answer.status_code == 422
    assert "You already read this level of this study on that day." in answer.content.decode()


def test_a_fracture_of_another_level_or_patient_cannot_be_linked(client, address, typed, people):
    with acting("test"):
        other = make_fracture(make_referral(make_patient(people.site)))
    assert client.post(address, typed(fracture=str(other.pk))).status_code == 422


def test_a_measurement_of_another_study_cannot_be_written(client, address, typed, people, fracture):
    with acting("test"):
        theirs = Study.objects.create(patient=fracture.patient, modality="ct", performed_on=TODAY)
        reading = Reading.objects.create(
            study=theirs, level="T12", observer=people.users["nurse"], read_on=TODAY
        )
        row = Measurement.objects.create(
            reading=reading, observer=reading.observer, measured_on=TODAY, depth_mm=30
        )
    client.post(address, typed(**{"t12__id": str(row.pk), "t12__version": "1"}))
    row.refresh_from_db()
    assert (row.depth_mm, row.anterior_height_mm, row.version) == (Decimal("30.0"), None, 1)


@pytest.mark.parametrize("level", ["X9", "L6", "T13"])
def test_a_level_that_does_not_exist_is_not_there(client, study, level):
    assert client.get(reverse("reading-new", args=[study.pk, level])).status_code == 404


def test_pages_of_another_site_are_not_there(study, address, client, typed):
    client.post(address, typed())
    reading = Reading.objects.get(level="L1")
    with acting("test"):
        other = make_people().client("consultant")
    for page in (
        address,
        reverse("study-edit", args=[study.pk]),
        reverse("reading-edit", args=[reading.pk]),
        reverse("reading-drawing", args=[study.pk, "L1"]),
    ):
        assert other.post(page, typed()).status_code == 404


@pytest.mark.parametrize("role", ["lead", "administrator"])
def test_others_read_no_images(people, study, address, fracture, role):
    client = people.client(role)
    for page in (
        address,
        reverse("study-edit", args=[study.pk]),
        reverse("study-new", args=[fracture.patient_id]),
    ):
        assert client.get(page).status_code == client.post(page).status_code == 403
